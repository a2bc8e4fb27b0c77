#!/usr/bin/env bash
# plan-visit and next from the command line: CSV and JSON give the same, the aim is met, the exit status tells.
set -euo pipefail
program=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder"
fail() { echo "FAIL: $*"; exit 1; }
"$program" new s.gpkg >/dev/null
cat > plan.csv <<'END'
reading,from,to,easting (m),northing (m),elevation (m)
held,H1,,100,200,50
held,H2,,118,204,
held,H3,,100,225,
point,T1,,108,215,51
tape,H1,T1,,,
tape,H2,T1,,,
tape,H3,T1,,,
level,H1,T1,,,
END
cat > plan.json <<'END'
[{"reading":"held","from":"H1","easting_m":100,"northing_m":200,"elevation_m":50},
 {"reading":"held","from":"H2","easting_m":118,"northing_m":204},{"reading":"held","from":"H3","easting_m":100,"northing_m":225},
 {"reading":"point","from":"T1","easting_m":108,"northing_m":215,"elevation_m":51},
 {"reading":"tape","from":"H1","to":"T1"},{"reading":"tape","from":"H2","to":"T1"},{"reading":"tape","from":"H3","to":"T1"},
 {"reading":"level","from":"H1","to":"T1"}]
END
"$program" plan-visit s.gpkg plan.csv --json | grep -v '"page"' > a.json
"$program" plan-visit s.gpkg plan.json --json | grep -v '"page"' > b.json
cmp a.json b.json || fail "CSV and JSON differ"
grep -q '"within_95_m": 0.0' a.json || fail "no precision for T1"
"$program" plan-visit s.gpkg plan.csv --aim 20mm --json > c.json || fail "an aim of 20 mm is not met"
grep -q '"reached": true' c.json || fail "reached"
"$program" plan-visit s.gpkg plan.csv --aim 0.1mm >out.txt 2>err.txt && fail "a tenth of a millimetre is promised"
grep -q "no further reading brings every point within 0.1 mm" err.txt || fail "the refusal: $(cat err.txt)"
# Tapes bring no level: that is said, and a sketch without levels asks for none.
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,20,0,10\n' > two.csv
"$program" new t.gpkg >/dev/null
"$program" import t.gpkg two.csv --as control >/dev/null
printf 'reading,from,to,easting (m),northing (m),elevation (m)\npoint,P,,8,12,10\ntape,A,P,,,\ntape,B,P,,,\n' > level.csv
"$program" plan-visit t.gpkg level.csv --aim 50mm >/dev/null 2>err.txt && fail "a level out of tapes"
grep -q "brings a level to P" err.txt || fail "the missing level: $(cat err.txt)"
sed 's/8,12,10/8,12,/' level.csv > flat.csv
"$program" plan-visit t.gpkg flat.csv --aim 50mm >/dev/null || fail "the plan alone"
echo '{"a":1}' > bad.json
if "$program" plan-visit s.gpkg bad.json 2>err.txt; then fail "an object is taken for a plan"; fi
grep -q "array of rows" err.txt || fail "bad.json"
printf 'point,easting (m),northing (m)\nA,0,0\nB,20,0\nC,20,15\nK,-8,18\n' > control.csv
printf 'from,to,distance (m),sd (m)\nA,D,15,0.2\nC,D,20,0.2\nK,D,8.544,0.2\n' > tape.csv
printf 'feature,kind,point\nlot,area,A\nlot,area,B\nlot,area,C\nlot,area,D\n' > features.csv
for page in control tape features; do "$program" import s.gpkg $page.csv --as $page >/dev/null; done
"$program" next s.gpkg --for lot --json > next.json || fail next
grep -q '"figure": "area_within_95_m2"' next.json && grep -q '"to": "D"' next.json || fail "next does not go to D"
"$program" next s.gpkg --for nothing 2>err.txt && fail "a feature that is not there"
grep -q "no feature" err.txt || fail "no sentence"
echo ok
