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
grep -q 'height coll.' out.txt && grep -Eq 'BM +1.500 +- +- +101.500' out.txt || fail "not ruled by collimation: $(cat out.txt)"
"$program" rounds s.gpkg | grep -q 'A *C' || fail "rounds"
"$program" two-peg s.gpkg --mid-a 1.283 --mid-b 0.860 --near-a 1.612 --near-b 1.219 --to-a 55 --to-b 5 >out.txt 2>err.txt && fail "18 mm in 30 m pass"
grep -q -- '-18.0 mm in 30 m' out.txt && grep -q 'down by 18.0 mm' err.txt || fail "two-peg: $(cat out.txt err.txt)"
"$program" two-peg s.gpkg --mid-a 1 2>/dev/null && fail "a test without its readings"
"$program" fit-visits s.gpkg --from 1 --to 2 --free-scale --json > fit.json || fail "fit-visits"
grep -q '"scale": 1.001' fit.json && grep -q 'ppm off 1' fit.json || fail "the long measure is not said: $(cat fit.json)"
"$program" fit-visits s.gpkg --from 1 --to 2 --in-space | grep -q 'scale 1.000000' || fail "in space"
"$program" fit-visits s.gpkg --from 1 --to 9 2>err.txt && fail "a visit that is not there"
echo ok
