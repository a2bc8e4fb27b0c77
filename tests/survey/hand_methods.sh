#!/usr/bin/env bash
# The hand methods from the command line: a traverse of angles, a level book by collimation, two pegs, two visits.
set -euo pipefail
program=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder"
fail() { echo "FAIL: $*"; exit 1; }
"$program" new s.gpkg >/dev/null
printf 'at,to,circle (deg),slope distance (m)\nA,C,10,40\nA,B,100.005,30\nB,A,0,30\nB,C,53.1301,50\nC,B,300,50\nC,A,336.8699,40\n' > angles.csv
printf 'point,backsight (m),intermediate (m),foresight (m)\nBM,1.5,,\nP,,1.2,\nTP,1.4,,0.9\nBM,,,2.0\n' > levels.csv
printf 'point,easting (m),northing (m),elevation (m)\nX,0,0,1\nY,30,0,2\nZ,0,40,3\n' > one.csv
printf 'point,easting (m),northing (m),elevation (m)\nX,100,200,11\nY,100,169.97,12\nZ,140.04,200,13\n' > two.csv
"$program" import s.gpkg angles.csv --as angles --visit 1 >/dev/null
"$program" import s.gpkg levels.csv --as levels --visit 1 >/dev/null
"$program" import s.gpkg one.csv --as points --visit 1 >/dev/null
"$program" import s.gpkg two.csv --as points --visit 2 >/dev/null
"$program" traverse s.gpkg > out.txt || fail "the traverse of angles"
grep -q 'angles miss by 18"' out.txt || fail "0.005 degrees are 18 seconds: $(cat out.txt)"
"$program" traverse s.gpkg --rule transit | grep -q 'transit rule' || fail "transit"
"$program" traverse s.gpkg --rule thumb 2>/dev/null && fail "a rule that is none"
"$program" levels s.gpkg --method collimation > out.txt || fail "levels: $(cat out.txt)"
grep -q 'height coll.' out.txt && grep -Eq 'BM +1.500 +101.500 +100.000' out.txt || fail "not ruled by collimation: $(cat out.txt)"
"$program" rounds s.gpkg | grep -q 'A *C' || fail "rounds"
"$program" two-peg s.gpkg --mid-a 1.283 --mid-b 0.860 --near-a 1.612 --near-b 1.219 --to-a 55 --to-b 5 >out.txt 2>err.txt && fail "18 mm in 30 m pass"
grep -q -- '-18.0 mm in 30 m' out.txt && grep -q 'down by 18.0 mm' err.txt || fail "two-peg: $(cat out.txt err.txt)"
"$program" two-peg s.gpkg --mid-a 1 2>/dev/null && fail "a test without its readings"
"$program" fit-visits s.gpkg --from 1 --to 2 --free-scale --json > fit.json || fail "fit-visits"
grep -q '"scale": 1.001' fit.json && grep -q 'ppm off 1' fit.json || fail "the long measure is not said: $(cat fit.json)"
"$program" fit-visits s.gpkg --from 1 --to 2 --in-space | grep -q 'scale 1.000000' || fail "in space"
"$program" fit-visits s.gpkg --from 1 --to 9 2>err.txt && fail "a visit that is not there"
grep -q "no coordinates of '9'" err.txt || fail "a visit without coordinates: $(cat err.txt)"
"$program" fit-visits s.gpkg --from 1 --to 2 | grep -q 'left free it would be 1.001' || fail "the scale is not shown"
printf 'stake,easting (m),northing (m)\nX,1000,500\nY,1030,500\nZ,1000,540\n' > stakes.csv
"$program" import s.gpkg stakes.csv --as stakes >/dev/null
"$program" fit-visits s.gpkg --from design --to site --json > fit.json || fail "the design on the site"
grep -q '"rms_m": 0.0' fit.json || fail "the design fits the first visit: $(cat fit.json)"

# The sheets as they are ruled: sums at the foot, the three-way check, and the same as CSV.
"$program" levels s.gpkg > out.txt
grep -Eq '^sums +2.900 +2.900' out.txt && grep -q 'BS - FS = 0.000; rises - falls = 0.000; last - first level = 0.000' out.txt ||
  fail "the book has no check: $(cat out.txt)"
"$program" levels s.gpkg --csv > out.csv
[ "$(head -n 1 out.csv | tr -d '\r')" = "point,backsight (m),intermediate (m),foresight (m),rise (m),fall (m),collimation (m),level (m),adjusted (m)" ] || fail "levels as CSV: $(cat out.csv)"
[ "$(sed -n 3p out.csv | tr -d '\r')" = "P,,1.2000,,0.3000,,,100.3000,100.3000" ] || fail "a line of the book: $(cat out.csv)"
"$program" traverse s.gpkg > out.txt
grep -Eq '^sum +180-00-18' out.txt && grep -Eq '^sum +120.000' out.txt || fail "the traverse has no sums: $(cat out.txt)"
grep -Eq 'relative precision 1:[0-9]+' out.txt || fail "relative precision"
"$program" traverse s.gpkg --csv | grep -q '^A,B,30.0000,' || fail "traverse as CSV"

# A traverse between two known lines, and what is wrong with it when the last angle is half a degree off.
"$program" new k.gpkg >/dev/null
printf 'point,easting (m),northing (m)\nZ,-50,0\nA,0,0\nC,40,30\nY,40,90\n' > control.csv
printf 'at,to,circle (dms),slope distance (m)\nA,Z,0-00-00,\nA,B,90-00-00,30\nB,A,10-00-00,30\nB,C,280-00-00,40\nC,B,0-00-00,40\nC,Y,90-00-30,\n' > link.csv
"$program" import k.gpkg control.csv --as control >/dev/null
"$program" import k.gpkg link.csv --as angles >/dev/null
"$program" traverse k.gpkg > out.txt || fail "a traverse between known lines: $(cat out.txt)"
grep -q 'angles miss by 30"' out.txt || fail "30 seconds: $(cat out.txt)"
sed -i 's/90-00-30/90-30-00/' link.csv
"$program" new w.gpkg >/dev/null
"$program" import w.gpkg control.csv --as control >/dev/null
"$program" import w.gpkg link.csv --as angles >/dev/null
"$program" traverse w.gpkg >/dev/null 2>err.txt && fail "half a degree passes"
grep -q 'angles miss by 1800"' err.txt || fail "half a degree: $(cat err.txt)"

# Gear of one's own, by the command line.
"$program" set-gear s.gpkg five-second --like total-station --angle-dms 0-00-05 --source "its own record" >/dev/null || fail "set-gear"
"$program" gear s.gpkg | grep -q 'five-second.*circle 5".*own record' || fail "gear: $("$program" gear s.gpkg)"
"$program" set-gear s.gpkg odd --like nothing 2>/dev/null && fail "like a gear that is not there"
"$program" set-gear s.gpkg odd --distance-m -1 2>/dev/null && fail "a negative sd"
echo ok
