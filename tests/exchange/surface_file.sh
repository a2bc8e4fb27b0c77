#!/usr/bin/env bash
# A surface out to LandXML 1.2 and in again by the command line: its structure by a schema of our own
# (landxml_surface.xsd), the ground against itself, against itself a tenth lower, levels over an area, looks of the plan.
. "$(dirname "$0")/../job/steps.bash"
need node awk
cat >points.csv <<'CSV'
point,easting (m),northing (m),elevation (m),code
1,1000,2000,50.0,
2,1020,2000,50.4,
3,1020,2010,50.4,
4,1000,2010,50.0,
5,1010,2004,50.2,
6,1010,2006,50.2,
CSV
cat >features.csv <<'CSV'
feature,kind,code,point,edge,role
plot,area,lawn,1,straight,boundary
plot,area,lawn,2,straight,boundary
plot,area,lawn,3,straight,boundary
plot,area,lawn,4,straight,boundary
crest,line,,5,straight,breakline
crest,line,,6,straight,breakline
CSV
for units in metric imperial; do
  site=$units.gpkg
  does "new" new $site --units $units
  does "points" import $site points.csv --as points --frame site
  does "features" import $site features.csv --as features
  does "out" export $site --to landxml -o $units.xml
  if command -v xmllint >/dev/null; then passes "structure, $units" xmllint --noout --schema "$source/tests/exchange/landxml_surface.xsd" $units.xml 2>said; fi
  does "against itself" against $site $units.xml --json; cp out against.json
  near "cut, $units" "$(number against.json cut_m3)" 0 1e-9
  near "fill, $units" "$(number against.json fill_m3)" 0 1e-9
  near "area, $units" "$(number against.json area_m2)" 200 1e-6
done
site=metric.gpkg
# A tenth lower everywhere: 0.1 m over 200 m2, all of it cut.
sed -E 's|(<P id="[0-9]+">[^ ]+ [^ ]+ )([^<]+)</P>|\1 MINUS \2</P>|' metric.xml | awk '{ if (match($0, / MINUS [^<]+/)) { z = substr($0, RSTART + 7, RLENGTH - 7); sub(/ MINUS [^<]+/, sprintf("%.12g", z - 0.1)) } print }' >lower.xml
does "against a lower one" against $site lower.xml --in plot --json; cp out against.json
near "cut by a tenth" "$(number against.json cut_m3)" 20 1e-9
near "fill by a tenth" "$(number against.json fill_m3)" 0 1e-9
near "deepest" "$(number against.json deepest_cut_m)" 0.1 1e-9
# A design that runs 10 m beyond the survey on the east side: a third of it has no ground under it, and that is said.
printf '<?xml version="1.0"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="milliBars"/></Units><Surfaces><Surface name="d"><Definition surfType="TIN"><Pnts><P id="1">2000 1000 49</P><P id="2">2000 1030 49</P><P id="3">2010 1030 49</P><P id="4">2010 1000 49</P></Pnts><Faces><F>1 2 3</F><F>1 3 4</F></Faces></Definition></Surface></Surfaces></LandXML>' >wide.xml
does "a wider design" against $site wide.xml --json; cp out against.json
near "what lacks ground" "$(number against.json uncovered_m2)" 100 1e-6
near "what has both" "$(number against.json area_m2)" 200 1e-6
: >empty.xml
refuses "an empty file" 2 "empty.xml:1:1: The file is empty" against $site empty.xml
refuses "a level beyond the earth" 2 "farther than the earth is round" volume $site --level 1e300
refuses "another name" 2 "no surface 'x'" against $site metric.xml --surface x
refuses "no LandXML" 2 "." against $site points.csv
refuses "no area" 2 "no area 'crest'" against $site metric.xml --in crest
sed 's/ 10\(0\|1\|2\)\([0-9]\) 5/ 90\1\2 5/' metric.xml >away.xml
refuses "elsewhere" 1 "no area in common" against $site away.xml

# A plane that rises 2 % to the east: mean level, fall and the way to the crest by hand.
does "a level" elevation $site 1012 2005 --json; cp out level.json
near "level" "$(number level.json elevation_m)" 50.24 1e-9
near "slope" "$(number level.json slope_percent)" 2 1e-9
near "falls west" "$(number level.json fall_bearing_deg)" 270 1e-6
near "to the crest" "$(number level.json nearest_breakline.distance_m)" 2 1e-9
near "level of the crest" "$(number level.json nearest_breakline.elevation_m)" 50.2 1e-9
does "over an area" elevation $site --in plot --json; cp out level.json
near "mean" "$(number level.json elevation_m)" 50.2 1e-9
near "lowest" "$(number level.json lowest_m)" 50 1e-9
near "highest" "$(number level.json highest_m)" 50.4 1e-9
near "mean slope" "$(number level.json slope_percent)" 2 1e-9
refuses "a line is no area" 2 "is no area" elevation $site --in crest
refuses "neither" 2 "easting and a northing" elevation $site
does "contours" contours $site --interval 0.1 --smooth --label-width 1 --json; cp out contours.json
same "labels on the index contour at 50.0 and none elsewhere" "$(number contours.json labels.length)" "$(node -e 'console.log(JSON.parse(require("fs").readFileSync("contours.json")).labels.filter((l) => Math.abs(l.elevation_m / 0.5 - Math.round(l.elevation_m / 0.5)) < 1e-9).length)')"
for look in shade slopes levels; do does "drawn in $look" draw $site --ground $look -o $look.pdf; done
refuses "doubt where nothing tells how rough the ground is" 2 "too few points" draw $site --ground doubt -o doubt.pdf
refuses "another look" 2 "none, shade, slopes, levels or doubt" draw $site --ground mud -o mud.pdf
if command -v pdftotext >/dev/null; then
  pdftotext slopes.pdf slopes.txt
  if grep -q 'slope 1 to 2 %\|slope 2 to 5 %' slopes.txt; then good; else bad "the bands of slope are not in the legend"; fi
fi
finish
