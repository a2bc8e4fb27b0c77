#!/usr/bin/env bash
# What a checker from outside found with the program alone: each reproduction, and what must come instead.
. "$(dirname "$0")/steps.bash"
need node sqlite3 timeout

says() { if grep -Eq -- "$2" "${3:-out}"; then good; else bad "$1: not said: $(head -c 400 "${3:-out}")"; fi; }
fresh() { rm -f s.gpkg; does "new" new s.gpkg; }
put() { printf '%b' "$2" >"$1"; } # FILE TEXT
take() { does "import $1" import s.gpkg "$@"; }
asked() { run "$@" --json; cp out "$work/answer.json"; }

put ctl.csv 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,100,0,10\n'
put points.csv 'point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\nC1,0,0,100,.005,.005\nC2,20,0,100.4,.005,.005\nC3,20,10,100.9,.005,.005\nC4,0,10,100.5,.005,.005\nK1,2,2,100.14,.005,.005\nK2,8,2,100.26,.005,.005\nK3,8,6,100.46,.005,.005\nK4,2,6,100.34,.005,.005\n'
put pad.csv 'feature,kind,code,point\npad,area,pad,K1\npad,area,pad,K2\npad,area,pad,K3\npad,area,pad,K4\n'
plot() { fresh; take points.csv --as points --visit v1 --frame site; take pad.csv --as features; }

# ---- a built point without an sd is as well known as its gear says (JCGM 106:2012 needs some sd) ----
fresh
take ctl.csv --as control
put stakes.csv 'stake,easting (m),northing (m),elevation (m)\nS1,110,210,9.5\n'
put built.csv 'point,easting (m),northing (m),elevation (m)\nS1,115,210,7.5\n'
take stakes.csv --as stakes --frame site
asked verify s.gpkg built.csv
same "5 m off: exit" "$status" 1
same "5 m off" "$(number answer.json checks.0.verdict)" fail
near "sd of the gear" "$(number answer.json checks.0.sd_m)" 0.010 1e-9
take built.csv --as built --gear total-station
asked verify s.gpkg
same "5 m off, imported: exit" "$status" 1
refuses "an unknown gear of built points" 2 "There is no gear 'string'" verify s.gpkg built.csv --gear string
put built.csv 'point,easting (m),northing (m),elevation (m)\nS1,110.001,210,9.501\n'
asked verify s.gpkg built.csv --plan 100mm --height 100mm
same "1 mm off: exit" "$status" 0
same "1 mm off" "$(number answer.json checks.0.verdict)" pass
for option in plan height search; do refuses "--$option 0" 2 "more than 0" verify s.gpkg built.csv --$option 0; done
refuses "--plan -5mm" 2 "more than 0" verify s.gpkg built.csv --plan -5mm
refuses "--confidence 0" 2 "between 0.5 and 1" verify s.gpkg built.csv --confidence 0

# ---- a sheet that cannot hold the plan is refused before anything is hatched ----
plot
put works.json '[{"name":"p1","kind":"pad","in":"pad","level":100.25}]'
does "works" works s.gpkg --file works.json
bound=4000000 # KiB; a sanitizer's shadow memory cannot live within it
(ulimit -v $bound; "$program" --version >out 2>&1) || bound=unlimited
(ulimit -v $bound; timeout 100 "$program" draw s.gpkg --scale 1 -o q.pdf >out 2>err; echo $? >rc)
same "1:1 on A3" "$(cat rc)" 2
refuses "1:1 on A3" 2 "does not fit on A3 at 1:1" draw s.gpkg --scale 1 -o q.pdf
refuses "1:5 on A3" 2 "does not fit on A3 at 1:5" draw s.gpkg --scale 5 -o q.pdf
refuses "no such sheet" 2 "There is no sheet 'nope'" draw s.gpkg --sheet nope -o q.pdf
refuses "a scale of 0" 2 "A scale is written" draw s.gpkg --scale 0 -o q.pdf
does "a sheet" draw s.gpkg -o q.pdf

# ---- the ground then and now: there and back again is the same, mirrored ----
fresh
put v1.csv "$(cat points.csv)\nL1,10,5,100.45,.005,.005\nL2,18,5,100.61,.005,.005\n"
put v2.csv 'point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\nV1,0,0,99.7,.005,.005\nV2,15,0,100,.005,.005\nV3,15,10,100.5,.005,.005\nV4,0,10,100.2,.005,.005\n'
take v1.csv --as points --visit v1 --frame site
take v2.csv --as points --visit v2 --frame site
asked volume s.gpkg --from v1 --to v2; cp answer.json there.json
asked volume s.gpkg --from v2 --to v1; cp answer.json back.json
near "cut there" "$(number there.json cut_m3)" 45 0.001
for end in 0 1; do
  near "limit $end of cut there and of fill back" "$(number there.json cut_interval_m3.$end)" "$(number back.json fill_interval_m3.$end)" 1e-9
done
near "limits of net there and back" "$(number there.json net_interval_m3.0)" "$(awk -v a="$(number back.json net_interval_m3.1)" 'BEGIN { printf "%.9f", -a }')" 1e-5
same "soil of the ground then and now" "$(number there.json materials.0.material)" "common earth"
near "loose of it (US Army FM 5-434, 1.25)" "$(number there.json materials.0.loose_m3)" 56.25 0.01
# The whole site has two levels on one spot: which visit counts is to be said, and then there is a ground.
refuses "two levels on one spot" 2 "setting ground.visit" ground s.gpkg
refuses "no such visit" 2 "the visit whose points make the ground" set s.gpkg ground.visit v3
does "the visit that counts" set s.gpkg ground.visit v2
asked ground s.gpkg
same "points of that visit" "$(number answer.json points)" 4
near "lowest of that visit" "$(number answer.json lowest_m)" 99.7 1e-9
does "taken back" set s.gpkg ground.visit ""
refuses "two levels again" 2 "setting ground.visit" ground s.gpkg

# ---- volumes: soil, what has no ground, arcs ----
plot
asked volume s.gpkg --level 100
near "cut down to 100: 20 x 10 x 0.45" "$(number answer.json cut_m3)" 90 0.001
near "bank of it" "$(number answer.json materials.0.bank_m3)" "$(number answer.json cut_m3)" 1e-9
put off.csv 'point,easting (m),northing (m)\nQ1,16,2\nQ2,24,2\nQ3,24,5\nQ4,16,5\n'
put offpad.csv 'feature,kind,code,point\noff,area,pad,Q1\noff,area,pad,Q2\noff,area,pad,Q3\noff,area,pad,Q4\n'
take off.csv --as points --visit v1 --frame site
take offpad.csv --as features
for how in '--level 100' '--depth 0.5'; do
  asked volume s.gpkg $how --in off
  near "$how: on the ground" "$(number answer.json area_m2)" 12 1e-6
  near "$how: beside it" "$(number answer.json uncovered_m2)" 12 1e-6
done
near "dug by half a metre on the ground" "$(number answer.json cut_m3)" 6 1e-6
put arcs.csv 'point,easting (m),northing (m)\nR1,4,2\nR2,12,2\nR3,14,5\nR4,12,8\nR5,4,8\n'
put arcpad.csv 'feature,kind,code,point,edge\nround,area,bed,R1,\nround,area,bed,R2,\nround,area,bed,R3,arc\nround,area,bed,R4,arc\nround,area,bed,R5,\n'
take arcs.csv --as points --visit v1 --frame site
take arcpad.csv --as features
asked measure s.gpkg round; area=$(number answer.json area_m2)
asked volume s.gpkg --level 100 --in round
near "area under an arc, as measured" "$(number answer.json area_m2)" "$area" 1e-6
asked volume s.gpkg --depth 1 --in round
near "area of a depth, as measured" "$(number answer.json area_m2)" "$area" 1e-6
# R2 R3 R4 lie on a circle of 3.25 m (chord 6, rise 2: r = (3^2 + 2^2) / (2 x 2)); a rectangle of 48 and its segment
near "area by hand" "$area" "$(awk 'BEGIN { r = 3.25; h = 2; print 48 + r * r * atan2(3, r - h) - (r - h) * 3 }')" 1e-4

# ---- settings: known, and readable by what reads them ----
refuses "a slip in the name" 2 "There is no setting 'lod'; did you mean load\?" set s.gpkg lod 5
refuses "a slip in a family" 2 "did you mean soil.NAME\?" set s.gpkg sol.clay 1.4/0.9
refuses "a setting that nothing reads" 2 "there are title, units" set s.gpkg zzzzzzzz 5
for value in -3 0 abc; do refuses "load $value" 2 "what a lorry holds" set s.gpkg load $value; done
refuses "soil factors" 2 "loose and compacted" set s.gpkg soil.clay "1.5 1.3"
refuses "a fall" 2 "least fall" set s.gpkg fall.patio steep
refuses "a tolerance" 2 "25mm" set s.gpkg "tolerance plan" 0
refuses "units" 2 "metric or imperial" set s.gpkg units furlongs
does "load" set s.gpkg load 8
does "load taken back" set s.gpkg load ""
does "soil" set s.gpkg soil.clay 1.5/0.95
does "fall" set s.gpkg fall.patio 1:60
does "volume after settings" volume s.gpkg --level 100

# ---- works files ----
put one.json '\xEF\xBB\xBF{"name":"q","kind":"depth","in":"pad","depth":" 1 "}'
does "one element, with a mark and spaces" works s.gpkg --file one.json
put none.json '[]'
refuses "an empty list" 2 "^none.json:1:1: .*empty" works s.gpkg --file none.json
put bad.json '[\n {"name":"a","kind":"depth","in":"pad","depth":1},\n {"name":"b {[","kind":"pad","in":"pond",\n  "level":1}\n]'
refuses "an element that cannot be" 2 "^bad.json:3:1: Element 'b" works s.gpkg --file bad.json
put bad.json '{"works":[\n {"name":"a","kind":"depth","in":"pad","depth":1},\n {"kind":"pad"}]}'
refuses "an element without a name" 2 "^bad.json:3:1: A design element" works s.gpkg --file bad.json
refuses "an element to balance" 2 "There is no element 'nope'" balance s.gpkg --element nope

# ---- what a page can be told ----
fresh
take ctl.csv --as control
put tape.csv 'from,to,distance (m)\nA,P,30\nB,P,80\n'
refuses "a frame for a tape" 2 "^tape.csv:1:1: .*site's frame" import s.gpkg tape.csv --as tape --frame site
refuses "a visit without a name" 2 "^tape.csv:1:1: .*needs a name" import s.gpkg tape.csv --as tape --visit ""
refuses "a tape for coordinates" 2 "^points.csv:1:1: .*fibreglass-tape" import s.gpkg points.csv --as points --gear fibreglass-tape
refuses "a level for a tape page" 2 "builders-level" import s.gpkg tape.csv --as tape --gear builders-level
refuses "no such frame" 2 "^tape.csv:1:1: A frame is" import s.gpkg tape.csv --as tape --frame moon
refuses "no such gear" 2 "^tape.csv:1:1: There is no gear" import s.gpkg tape.csv --as tape --gear string
put lost.csv 'feature,kind,code,point\nfence,line,fence,A\nfence,line,fence,Z\n'
does "a feature on a point that is not there" import s.gpkg lost.csv --as features
says "said at once" "Point 'Z' of feature 'fence' has not been measured"
put prices.csv 'item,unit,code,measure,rate\nTurf,m,lawn,area,5\n'
refuses "a price that cannot be meant" 2 "^prices.csv:2:1: .*sold by the m" import s.gpkg prices.csv --as prices

# ---- the bill multiplies out: 8 m at 1.005 are 8.04 ----
fresh
put eight.csv 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,8,0,10\nC,0,3,10\nD,8,3,10\n'
put line.csv 'feature,kind,code,point\nl,line,ln,A\nl,line,ln,B\nbeet gr\xC3\xBCn,area,beet gr\xC3\xBCn,A\nbeet gr\xC3\xBCn,area,beet gr\xC3\xBCn,B\nbeet gr\xC3\xBCn,area,beet gr\xC3\xBCn,D\nbeet gr\xC3\xBCn,area,beet gr\xC3\xBCn,C\n'
put prices.csv 'item,unit,code,measure,rate\nString,lm,ln,length,1.005\nBed,m\xC2\xB2,beet gr\xC3\xBCn,area,12\n'
take eight.csv --as control
take line.csv --as features
take prices.csv --as prices
does "bill as CSV" estimate s.gpkg --csv
says "rate and amount" '^String,lm,8,0,8,,,,1\.005,8\.04$'
says "an area in m2 with its sign" ',12\.00,288\.00$'
does "bill" estimate s.gpkg
says "rate in the table" ' 1\.005 +8\.04$'
does "DXF" export s.gpkg --to dxf -o o.dxf
says "an umlaut in a layer" 'BEET_GRUN' o.dxf

# ---- the strip's quantity is as well known as its area ----
plot
put works.json '[{"name":"p1","kind":"pad","in":"pad","level":100.25,"strip":0.15}]'
put prices.csv 'item,unit,code,measure,rate\nStrip,m3,topsoil,strip,9\n'
does "works" works s.gpkg --file works.json
take prices.csv --as prices
asked takeoff s.gpkg
near "strip" "$(number answer.json lines.0.net)" 3.6 1e-6
if awk -v a="$(number answer.json lines.0.interval.0)" -v b="$(number answer.json lines.0.interval.1)" 'BEGIN { exit !(a < 3.599 && b > 3.601 && b < 3.7) }'; then good
else bad "interval of the strip: $(number answer.json lines.0.interval)"; fi

# ---- sections past the ground ----
asked profile s.gpkg --from 10,5 --to 30,5
near "run on the ground" "$(number answer.json run_m)" 10 1e-6
near "length of the section" "$(number answer.json length_m)" 20 1e-6
does "profile" profile s.gpkg --from 10,5 --to 30,5
says "said" '10.00 m of the section.s 20.00 m have no ground'

# ---- set out ----
fresh
take ctl.csv --as control
put stakes.csv 'stake,easting (m),northing (m)\nA,0,0\nB,100.06,0\nS,5,5\n'
take stakes.csv --as stakes
asked setout s.gpkg
same "a design that does not fit: exit" "$status" 1
near "what is left at a point" "$(number answer.json fit.residuals.1.de_m)" -0.03 1e-6
says "what to do" '\-\-misfit' err
does "allowed" setout s.gpkg --misfit 50mm
refuses "a misfit of 0" 2 "more than 0" setout s.gpkg --misfit 0
asked setout s.gpkg --misfit 50mm --method polar
# from A on B, held: 3 mm and 2 ppm along, 20" x root 2 across, 0.8 mm of centring each: 3.1 mm
near "sd by angle and distance" "$(number answer.json stakes.2.sd_m)" 0.0031 0.0002
same "no word on ties" "$(number answer.json stakes.2.caution)" ""
asked setout s.gpkg --misfit 50mm --method offsets
# 5 m aside, squared off to 1 degree: 87 mm along
near "sd by offset" "$(number answer.json stakes.2.sd_m)" 0.0874 0.0005

# ---- traverse: what is allowed is said ----
fresh
put legs.csv 'from,to,bearing (dms),distance (m)\nA,B,90-00-00,40\nB,C,0-00-00,30\nC,D,270-00-00,40\nD,A,180-00-00,27.8\n'
take legs.csv --as bearings
asked traverse s.gpkg
same "1:63: exit" "$status" 1
near "allowed" "$(number answer.json allowable_m)" 0.1378 1e-6
says "allowed, in the sentence" '1:1000.* is allowed' err
refuses "no such page" 2 "bearings or angles page 'nope'" traverse s.gpkg --page nope

# ---- history ----
unset MERESTONE_WHO
env -u USER -u LOGNAME "$program" set s.gpkg title T >out 2>err
asked history s.gpkg
same "who, by login" "$(node -e 'console.log(JSON.parse(require("fs").readFileSync("answer.json")).changes.at(-1).who)')" "$(id -un)"
does "history" history s.gpkg
says "times without a loose point" 'T[0-9:]{8}  '

# ---- the command line ----
refuses "import without --as" 2 "--as" import s.gpkg legs.csv
refuses "draw without -o" 2 "-o" draw s.gpkg
refuses "export without --to" 2 "--to" export s.gpkg -o x
refuses "plan-visit without a file" 2 "file of the plan" plan-visit s.gpkg
run -h; same "-h" "$status" 0
run draw -h; same "draw -h" "$status" 0
run --json history s.gpkg; same "--json in front" "$(node -e 'console.log(typeof JSON.parse(require("fs").readFileSync("out")).revision)')" number
refuses "an unknown option at the end" 2 "no option of adjust" adjust s.gpkg --bogus
refuses "a known option without its value" 2 "--interval needs a value" contours s.gpkg --interval
refuses "contours to text" 2 "geojson or a .dxf" contours s.gpkg -o c.txt
refuses "a folder that is not there" 2 "There is no folder 'x/y'" new x/y/z.gpkg
plot
does "an option with its value behind =" volume s.gpkg --level=100

# ---- level ground: 100 m2 dug by 1 m, by hand ----
"$program" new flat.gpkg >/dev/null
{ echo "point,easting (m),northing (m),elevation (m)"
  for e in 0 10 20; do for n in 0 10 20; do echo "P$e-$n,$e,$n,100"; done; done; } >flat.csv
printf 'feature,kind,code,point\npad,area,pad,P0-0\npad,area,pad,P10-0\npad,area,pad,P10-10\npad,area,pad,P0-10\n' >area.csv
take_in() { "$program" import flat.gpkg "$1" --as "$2" >/dev/null || bad "$1 is refused"; }
take_in flat.csv control
take_in area.csv features
cat >works.json <<'WORKS'
[{"name":"buried","kind":"mound","at":[15,15],"level":99,"radius":1,"batter":"1:2"},
 {"name":"abroad","kind":"mound","at":[150,15],"level":101,"radius":1,"batter":"1:2"},
 {"name":"p","kind":"pad","in":"pad","level":99}]
WORKS
does "works that move nothing" works flat.gpkg --file works.json
asked volume flat.gpkg
near "the pad's cut" "$(number answer.json cut_m3)" 100 1e-9
for name in buried abroad; do
  if grep -q "'$name' moves no earth" answer.json; then good; else bad "$name is not said to move no earth"; fi
done
for way in "--in pad" "--element p"; do
  asked balance flat.gpkg $way
  near "the level of level ground, $way" "$(number answer.json level_m)" 100 1e-6
  near "and nothing moves, $way" "$(number answer.json cut_m3)" 0 1e-4
done
refuses "a fall to a point that is not there" 2 "'Z' is neither" fall flat.gpkg --from P0-0 --to Z
refuses "a fall from a point that is not there" 2 "'Z' is neither" fall flat.gpkg --from Z --to P0-0
refuses "a fall from a point to a place" 2 "both ends" fall flat.gpkg --from P0-0 --to 10,10
echo '[{"name":"p","kind":"pad","in":"pad","level":1e300}]' >far.json
refuses "a level off the earth" 2 "farther than the earth" works flat.gpkg --file far.json
finish
