#!/usr/bin/env bash
# Rows that would close the site are refused with their place and change nothing; what is assumed or too good is said.
set -euo pipefail
program=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder"
fail() { echo "FAIL: $*"; exit 1; }
refused() { # file, page, what the error says
  "$program" import s.gpkg "$1" --as "$2" >out.txt 2>err.txt && fail "$1 is taken"
  grep -q "$3" err.txt || fail "$1: $(cat err.txt)"
  "$program" adjust s.gpkg >/dev/null || fail "$1 spoilt the site"
}
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,100,0,10\n' > control.csv
"$program" new s.gpkg >/dev/null
"$program" import s.gpkg control.csv --as control >/dev/null

printf 'point,latitude (deg),longitude (deg),height (m)\nG1,10,-181,5\n' > west.csv
refused west.csv gnss '^merestone: west.csv:2:3: \|^west.csv:2:3: '
printf 'from,to,chainage (m),offset (m),point\nA,B,1,1,A\n' > offsets.csv
refused offsets.csv offsets 'offsets.csv:2:5: '
printf 'point,easting (m),northing (m),elevation (m)\nC,5,5,10\nA,0.5,0,10\n' > second.csv
refused second.csv control 'second.csv:3.*control.csv row 2'
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10.5\n' > third.csv
refused third.csv control 'third.csv:2.*level 0.500 m away, in control.csv row 2'
"$program" import s.gpkg control.csv --as nothing 2>err.txt && fail "a page that there is not"
grep -q 'conditions, plan' err.txt || fail "not all pages are named: $(cat err.txt)"

# A longitude as some receivers write it is a place like any other.
"$program" new g.gpkg >/dev/null
printf 'point,latitude (deg),longitude (deg),height (m)\nG1,10,200,5\nG2,10.0001,200,5\n' > east.csv
"$program" import g.gpkg east.csv --as gnss >/dev/null
"$program" adjust g.gpkg >/dev/null || fail "200 degrees east"
"$program" export g.gpkg --to gpx -o g.gpx >/dev/null || fail "200 degrees east as GPX"
grep -q 'lon="-160.0' g.gpx || fail "not -160: $(grep -m1 lon= g.gpx)"

# Readings that fit too well are no failure, and are said to.
printf 'from,to,distance (m)\nA,B,100.000\n' > tape.csv
"$program" import s.gpkg tape.csv --as tape >/dev/null
"$program" adjust s.gpkg --json > a.json || fail "a perfect tape exits $?"
grep -q '"fit": "The readings fit better' a.json && grep -q '"passed": false' a.json || fail "the fit is not told of"
"$program" adjust s.gpkg > a.txt
grep -q 'fit better than their gear' a.txt || fail "the text does not tell of the fit"
printf 'from,to,distance (m)\nA,B,101.000\n' > wrong.csv
"$program" import s.gpkg wrong.csv --as tape >/dev/null
"$program" adjust s.gpkg >/dev/null 2>&1 && fail "a metre too long passes"

# An import says which of its sights give no level.
"$program" new h.gpkg >/dev/null
"$program" import h.gpkg control.csv --as control >/dev/null
printf 'at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\nA,B,0,90,100,1.5,1.5\nA,P,315,90,50,1.5,\n' > angles.csv
"$program" import h.gpkg angles.csv --as angles --json > h.json
grep -q "target's height was not measured" h.json || fail "nothing is said at the import: $(cat h.json)"

# A traverse says what is allowed; a page that is not there is named.
"$program" new t.gpkg >/dev/null
printf 'from,to,bearing (deg),distance (m)\nA,B,90,30\nB,C,0,40\nC,A,216.8699,48\n' > loop.csv
"$program" import t.gpkg loop.csv --as bearings >/dev/null
"$program" traverse t.gpkg --json > t.json 2>err.txt && fail "1:59 passes"
grep -q '"allowable_ratio": 1000' t.json && grep -q '"allowable_m": 0.118' t.json || fail "no allowable: $(cat t.json)"
grep -q '1:1000, 0.118 m, is allowed' err.txt || fail "the limit is not stated: $(cat err.txt)"
{ "$program" traverse t.gpkg 2>/dev/null || true; } | grep -q 'Allowed 1:1000, 0.118 m' || fail "the sheet does not state the limit"
"$program" traverse t.gpkg --page nope 2>err.txt && fail "a page that there is not"
grep -q "page 'nope'" err.txt || fail "which page: $(cat err.txt)"

# A book from nothing known.
"$program" new l.gpkg >/dev/null
printf 'point,backsight (m),foresight (m)\nBM1,2,\nP,,1\n' > book.csv
"$program" import l.gpkg book.csv --as levels >/dev/null
"$program" levels l.gpkg | grep -q 'BM1 = 100.000 m is assumed' || fail "the level is not said to be assumed"
"$program" adjust l.gpkg | grep -q 'BM1 = 100.000 m, which is assumed' || fail "adjust does not say so"

# The sketch tells the side of two ties, and an aim finds what to add.
printf 'reading,from,to,easting (m),northing (m),elevation (m)\npoint,P,,50,40,\ntape,A,P,,,\ntape,B,P,,,\n' > plan.csv
"$program" new p.gpkg >/dev/null
"$program" import p.gpkg control.csv --as control >/dev/null
"$program" plan-visit p.gpkg plan.csv --json > p.json || fail "plan-visit"
grep -q '"undetermined": \[\]' p.json && grep -q '"by_sketch"' p.json || fail "the sketch is not heard: $(cat p.json)"
# A whole page in feet under a header in metres: a braced square of tapes, one more visit by coordinates, a level book. Said
# once for the page, not by its readings; one wrong reading alone is no other unit.
"$program" new u.gpkg >/dev/null
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,40,0,10.5\nC,40,30,11\n' > control.csv
printf 'from,to,distance (m)\nA,D,30.000\nB,D,50.000\nC,D,40.000\nA,E,25.000\nB,E,25.000\nD,E,25.000\n' > tape.csv
printf 'point,easting (m),northing (m),elevation (m)\nA,3280.840,6561.680,32.808\nB,3412.073,6561.680,34.449\nC,3412.073,6660.105,36.089\nF,3346.457,6594.488,33.0\n' > second.csv
"$program" import u.gpkg control.csv --as control >/dev/null
"$program" import u.gpkg tape.csv --as tape >/dev/null
"$program" adjust u.gpkg --json | grep -q '"unit_doubt": ""' || fail "a unit is doubted without reason"
"$program" import u.gpkg second.csv --as points | grep -q "All of page 'second.csv' fits if its lengths are feet" || fail "the feet are not seen"
"$program" adjust u.gpkg > out.txt 2>err.txt && fail "feet for metres fit"
grep -q "All of page 'second.csv'" out.txt && grep -q "write (ft) in the header" err.txt || fail "not said: $(cat err.txt)"
"$program" undo u.gpkg >/dev/null
sed 's/A,D,30.000/A,D,98.425/' tape.csv > third.csv
"$program" import u.gpkg third.csv --as tape >/dev/null
{ "$program" adjust u.gpkg --json 2>/dev/null || true; } | grep -q '"unit_doubt": ""' || fail "one wrong tape is taken for a page in feet"

# A value that is left out does not swallow the next option.
"$program" levels u.gpkg --method --json >out.txt 2>err.txt && fail "an option as a value"
grep -q -- '--method needs a value' err.txt || fail "the missing value: $(cat err.txt)"

# On an imperial site what is said of lengths is said in feet and inches.
"$program" new i.gpkg --units imperial >/dev/null
printf 'point,easting (ft),northing (ft)\nA,0,0\nB,100,0\nC,100,100\n' > feet.csv
printf 'from,to,distance (ft)\nA,P,50\nB,P,70.711\nC,P,71.711\nB,Q,50\nC,Q,70.711\nA,Q,111.803\nP,Q,70.711\nP,C,70.711\n' > tape.csv
"$program" import i.gpkg feet.csv --as control >/dev/null
"$program" import i.gpkg tape.csv --as tape >/dev/null || true
"$program" adjust i.gpkg --json > i.json 2>/dev/null || true
grep -q '[0-9] ft ' i.json || fail "nothing in feet: $(cat i.json)"
! grep -qE '[0-9] (m|mm)[ ,.;:]' i.json || fail "metres on an imperial site: $(grep -oE '.{40}[0-9] (m|mm)[ ,.;:].{20}' i.json | head -3)"
printf 'point,backsight (ft),foresight (ft)\nBM1,5,\nP,4,4.9\nBM1,,3.9\n' > book.csv
"$program" import i.gpkg book.csv --as levels >/dev/null || true
{ "$program" levels i.gpkg 2>&1 || true; } > book.txt
grep -q 'BM1 = 328.084 ft is assumed' book.txt || fail "the assumed level: $(cat book.txt)"
grep -q 'Misclosure 2.400 in over 2 set-ups' book.txt && grep -q 'misses by 2.40 in' book.txt || fail "the misclosure: $(cat book.txt)"
echo ok
