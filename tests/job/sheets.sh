#!/usr/bin/env bash
# Sheets measured with a ruler: lines, areas and mass haul of the sheet of sections, and what the plan says of swales,
# pipes and banks. Plane geometry and Manning's formula, worked out here; no source.
. "$(dirname "$0")/steps.bash"
need node pdftotext
cat >points.csv <<'P'
point,easting (m),northing (m),elevation (m)
A,0,0,100.000
B,40,0,100.800
C,40,20,100.800
D,0,20,100.000
L0,10,10,100.200
L1,30,10,100.600
S0,35,2,100.700
S1,5,2,100.100
S2,20,2,100.400
T0,35,18,100.700
T1,5,18,100.100
P
cat >features.csv <<'F'
feature,kind,code,point,edge,role
drive line,line,drive,L0,straight,none
drive line,line,drive,L1,straight,none
ditch line,line,swale,S0,straight,none
ditch line,line,swale,S1,straight,none
pipe line,line,drain,T0,straight,none
pipe line,line,drain,T1,straight,none
F
drive='{"name":"drive","kind":"path","along":"drive line","width":"4","from":"100.500","to":"100.500","strip":"100mm","soil":"clay","layers":[{"material":"stone","thickness":"200mm"}]}'
echo "[$drive]" >works.json
does "new" new site.gpkg
does "points" import site.gpkg points.csv --as control
does "features" import site.gpkg features.csv --as features
does "clay x 0.9 compacted" set site.gpkg soil.clay 1.3/0.9
does "works" works site.gpkg --file works.json

# 4 m wide, stripped ground from 0.2 m under formation to 0.2 m over it in 20 m: 0.8 m2 at the ends, none in the middle
does "sections" sections site.gpkg --along "drive line" --spacing 5 --width 10 --json
near "long section, cut" "$(number out long_section.cut_m2)" 1 1e-9
near "long section, fill" "$(number out long_section.fill_m2)" 1 1e-9
i=0
for row in "0 0.8 0 0 0" "0 0.4 0 3 -3" "0 0 0 1 -4" "0.4 0 1 0 -3.1" "0.8 0 3 0 -0.4"; do
  set -- $row
  near "cut at station $i" "$(number out stations.$i.cut_m2)" "$1" 1e-6
  near "fill at station $i" "$(number out stations.$i.fill_m2)" "$2" 1e-6
  near "cut to station $i" "$(number out stations.$i.cut_m3)" "$3" 1e-5
  near "fill to station $i" "$(number out stations.$i.fill_m3)" "$4" 1e-5
  near "mass at station $i" "$(number out stations.$i.mass_m3)" "$5" 1e-5
  i=$((i + 1))
done
sheet=(draw site.gpkg --sheet sections --along "drive line" --spacing 5 --width 10 --scale 100 --exaggeration 5)
does "sheet of sections" "${sheet[@]}" -o sections.svg
passes "its lines, measured" node "$source/tests/job/sections_sheet.mjs" sections.svg
does "sheet of sections" "${sheet[@]}" -o sections.pdf
pdftotext -raw sections.pdf words.txt
says() { if tr '\n' ' ' <"$2" | grep -Fq -- "$3"; then good; else bad "$1: the sheet does not say '$3'"; fi; }
says "areas" words.txt "cut 0.00 m², fill 0.80 m²"
says "areas" words.txt "cut 0.40 m², fill 0.00 m²"
says "scale" words.txt "Long section along drive line, 1:100 along, 1:20 up"
says "mass haul" words.txt "cut x 0.90 less fill; at its end 0.4 m³ short"
refuses "levels that do not fit" 2 "times higher at most" draw site.gpkg --sheet sections --along "drive line" --scale 100 --exaggeration 10 -o sections.pdf
refuses "too large a scale" 2 "take 1:" draw site.gpkg --sheet sections --along "drive line" --scale 10 -o sections.pdf

# a swale that falls 1:100 then 1:50, a pipe that falls 1:60, and a bank
cat >wet.json <<'W'
[{"name":"ditch","kind":"swale","along":"ditch line","shape":"V","side":"1:2","profile":[{"at":0,"level":"100.40"},{"at":15,"level":"100.25"},{"at":30,"level":"99.95"}]},
 {"name":"drain","kind":"trench","along":"pipe line","bottom":"450mm","from":"100.1","fall":"1:60","pipe":"110mm"},
 {"name":"heap","kind":"mound","at":[20,14],"level":"101.0","radius":"0.5","batter":"1:1.5"}]
W
does "wet works" works site.gpkg --file wet.json
does "drain" drain site.gpkg --finished --json
same "no rain was given" "$(number out rainfall_mm_h)" null
near "least fall along the swale" "$(number out lines.1.least_percent)" 1 1e-9
near "steepest along it" "$(number out lines.1.steepest_percent)" 2 1e-9
does "rain to design for" set site.gpkg rainfall 50
does "all of it" set site.gpkg runoff 1
refuses "a share above 1" 2 "share" set site.gpkg runoff 1.5
refuses "no rain" 2 "rain" set site.gpkg rainfall 0
does "drain by the site's rain" drain site.gpkg --finished --json
near "the rain of the site" "$(number out rainfall_mm_h)" 50 0
near "the swale's depth" "$(number out flows.0.depth_m)" 0.15 1e-6
# V of 1:2 full at 0.15 m: area 2 x 0.15^2, wetted 2 x 0.15 x sqrt 5, n 0.030, fall 1 %
swale=$(awk 'BEGIN { a = 2 * 0.15 ^ 2; p = 2 * 0.15 * sqrt(5); print 1000 * a * (a / p) ^ (2 / 3) * sqrt(0.01) / 0.030 }')
pipe=$(awk 'BEGIN { b = 0.94 * 0.11; pi = atan2(0, -1); print 1000 * pi * b ^ 2 / 4 * (b / 4) ^ (2 / 3) * sqrt(1 / 60) / 0.012 }')
near "what the swale carries" "$(number out flows.0.capacity_l_s)" "$swale" 0.001
near "what the pipe carries" "$(number out flows.1.capacity_l_s)" "$pipe" 0.001
inflow=$(number out flows.0.inflow_l_s)
served=$(number out flows.1.serves_m2)
near "the pipe serves" "$served" "$(awk -v q="$pipe" 'BEGIN { print q / 1000 / (50 / 3.6e6) }')" 0.5
does "plan" draw site.gpkg --sheet plan --scale 100 --paper A2 -o plan.pdf
pdftotext -raw plan.pdf plan.txt
says "falls of the swale" plan.txt "bottom 100.400 to 99.950, 1:100 to 1:50"
says "flow of the swale" plan.txt "full $(printf %.1f "$swale") l/s, $(printf %.1f "$inflow") l/s come at 50 mm/h"
says "fall of the pipe" plan.txt "invert 100.100 to 99.600, 1:60"
says "flow of the pipe" plan.txt "full $(printf %.1f "$pipe") l/s: $(printf %.0f "$served") m² at 50 mm/h"
says "banks in the legend" plan.txt "bank, strokes run down"

# bought by the metre as it lies: 30 m at 1 and 2 %, 30 m at 1:60
cat >prices.csv <<'P'
item,unit,code,measure,depth (m),factor,waste (percent),pack,pack unit,rate
Swale shaped,m,swale,laid length,,,,,,9
Pipe 110 mm,m,pipe,laid length,,,,6,length,7
Line of the ditch,m,swale,length,,,,,,1
P
does "prices" import site.gpkg prices.csv --as prices
does "takeoff" takeoff site.gpkg --json
near "swale" "$(number out lines.0.net)" "$(awk 'BEGIN { printf "%.9f", 15 * (sqrt(1 + 1e-4) + sqrt(1 + 4e-4)) }')" 1e-5
near "pipe" "$(number out lines.1.net)" "$(awk 'BEGIN { printf "%.9f", 30 * sqrt(1 + 1 / 3600) }')" 1e-5
near "pipe in lengths of 6 m" "$(number out lines.1.packs)" 6 0
near "the feature's own length is not doubled" "$(number out lines.2.net)" 30 1e-9
finish
