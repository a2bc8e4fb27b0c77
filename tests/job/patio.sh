#!/usr/bin/env bash
# The worked patio of the trade notes, figure for figure through the command line: strip, formation and finish told
# apart. Lot 40 x 25 m flat at 99.980, strip 150 mm; patio 6 x 8 m by the door, 100.000 falling 1:60 away from it over
# 6 m; 40 flags + 40 bed + 100 stone. All figures but those marked were computed there by hand.
. "$(dirname "$0")/steps.bash"
need node
cat >points.csv <<'P'
point,easting (m),northing (m),elevation (m)
L1,0,0,99.980
L2,40,0,99.980
L3,40,25,99.980
L4,0,25,99.980
P1,10,20,99.980
P2,18,20,99.980
P3,18,14,99.980
P4,10,14,99.980
D,14,20,99.980
O,14,14,99.980
P
{
  echo "feature,kind,code,point,edge,role"
  for p in L1 L2 L3 L4; do echo "lot,area,lot,$p,straight,boundary"; done
  for p in P1 P2 P3 P4; do echo "patio,area,patio,$p,straight,none"; done
  for p in D O; do echo "from the door,line,section,$p,straight,none"; done
} >features.csv
layers='[{"material":"flags","thickness":"40mm"},{"material":"bed","thickness":"40mm"},{"material":"stone","thickness":"100mm"}]'
patio() { printf '[{"name":"patio","kind":"falling pad","in":"patio","level":"100.000","at":"P1","fall":"1:60","towards":180,"soil":"subsoil","strip":"%s","layers":%s}]' "$1" "$2"; }
cat >prices.csv <<'P'
item,unit,code,measure,depth (m),factor,waste (percent),pack,pack unit,rate
Stone,t,stone,layer,,2.15,5,0.85,bag,38
Flags,m2,flags,area,,,10,,,60
Dig,m3,subsoil,cut,,,0,,,14
Strip,m3,topsoil,strip,,,0,,,9
P
does "new" new site.gpkg --title patio
does "points" import site.gpkg points.csv --as control
does "features" import site.gpkg features.csv --as features
does "prices" import site.gpkg prices.csv --as prices
does "subsoil x 1.3 loose" set site.gpkg soil.subsoil 1.3/0.9
does "topsoil x 1.4 loose" set site.gpkg soil.topsoil 1.4/0.9
patio 150mm "$layers" >works.json
does "works" works site.gpkg --file works.json --json
near "finish at the door" "$(number out works.0.level_m)" 100.000 1e-9
near "formation at the door" "$(number out works.0.formation_m)" 99.820 1e-9
near "the layers" "$(number out works.0.build_up_m)" 0.180 1e-9

does "sections" sections site.gpkg --along "from the door" --json
last=$(node -e 'console.log(JSON.parse(require("fs").readFileSync("out")).long_section.points.length - 1)')
for at in "0 99.980 99.830 99.820 100.000" "$last 99.980 99.830 99.720 99.900"; do
  set -- $at
  point=long_section.points.$1
  near "existing at point $1" "$(number out $point.existing_m)" "$2" 1e-9
  near "stripped at point $1" "$(number out $point.stripped_m)" "$3" 1e-9
  near "formation at point $1" "$(number out $point.formation_m)" "$4" 1e-9
  near "finished at point $1" "$(number out $point.finished_m)" "$5" 1e-9
done

does "volume" volume site.gpkg --json
near "subsoil, bank: mean 0.060 x 48" "$(number out cut_m3)" 2.88 1e-9
near "fill" "$(number out fill_m3)" 0 1e-9
near "topsoil, bank" "$(number out strip_m3)" 7.20 1e-9
same "one soil" "$(number out materials.0.material)" subsoil
near "subsoil, loose" "$(number out materials.0.loose_m3)" 3.744 1e-9
near "topsoil, loose" "$(number out materials.1.loose_m3)" 10.08 1e-9
near "flags, laid" "$(number out elements.0.layers.0.volume_m3)" 1.92 1e-9
near "stone, compacted" "$(number out elements.0.layers.2.volume_m3)" 4.8 1e-9

does "takeoff" takeoff site.gpkg --json
near "stone, t: 4.8 x 2.15" "$(number out lines.0.net)" 10.32 1e-6
near "stone with 5 %" "$(number out lines.0.gross)" 10.836 1e-6
near "bags of 850 kg" "$(number out lines.0.packs)" 13 0
near "flags with 10 %" "$(number out lines.1.gross)" 52.8 1e-6
near "dig" "$(number out lines.2.net)" 2.88 1e-6
near "strip" "$(number out lines.3.net)" 7.2 1e-6

does "drain" drain site.gpkg --finished --json
near "the fall" "$(number out falls.0.fall_percent)" 1.6667 5e-5
near "away from the house" "$(number out falls.0.bearing_deg)" 180 1e-4

does "38 mm higher" volume site.gpkg --element patio --level 100.038 --json
near "less to take away by 48 x 0.038" "$(number out net_m3)" 1.056 1e-9 # the trade notes' need 32: about 1.8 m3 less
does "balance" balance site.gpkg --element patio --json
raised=$(number out level_m)
near "cut makes fill there" "$(awk -v c="$(number out cut_m3)" 'BEGIN { print c * 0.9 }')" "$(number out fill_m3)" 1e-5
does "the same by one group" balance site.gpkg --elements patio --json
near "raised to the same level" "$(number out elements.0.level_m)" "$raised" 1e-6

# is the fall proven that was built? Levels of 3 mm: 1.67 % +/- 0.07 % (1 sd over 6 m), proven; a rover of 20 mm:
# +/- 0.47 %, likely, not proven; and need 17 of the notes: 2 % over 3 m is not proven by 20 mm
built() {
  echo "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)"
  echo "door,14,20,100.000,$1,$1"
  echo "outer,14,14,99.900,$1,$1"
  echo "near,14,17,99.940,$1,$1"
}
built 0.003 >level.csv
built 0.020 >rover.csv
does "fall by a level" fall site.gpkg level.csv --from door --to outer --json
near "1.67 %" "$(number out fall_percent)" 1.67 0.005
near "+/- 0.07 %" "$(number out sd_percent)" 0.07 0.005
same "by a level" "$(number out verdict)" "proven"
does "fall by a rover" fall site.gpkg rover.csv --from door --to outer --json
near "+/- 0.47 %" "$(number out sd_percent)" 0.47 0.005
same "by a rover" "$(number out verdict)" "likely, not proven"
does "2 % over 3 m" fall site.gpkg rover.csv --from door --to near --json
near "2 %" "$(number out fall_percent)" 2 1e-9
same "2 % by a rover" "$(number out verdict)" "likely, not proven"
does "at least 2 %" fall site.gpkg rover.csv --from door --to near --least 2% --json
same "whether it is 2 %" "$(number out verdict)" "cannot tell"
refuses "the wrong way" 1 "misses" fall site.gpkg level.csv --from outer --to door
refuses "no such point" 2 "no point" fall site.gpkg level.csv --from outer --to nobody
refuses "no fall" 2 "fall above 0" fall site.gpkg level.csv --from outer --to door --least flat
refuses "level ground, as given" 1 "misses" fall site.gpkg --from L1 --to L2
refuses "level ground, by places" 1 "misses" fall site.gpkg --from 5,5 --to 30,20

# without the strip as a surface of its own all is booked as subsoil
patio 0mm "$layers" >works.json
does "no strip" works site.gpkg --file works.json
does "volume without strip" volume site.gpkg --json
near "all as subsoil" "$(number out cut_m3)" 10.08 1e-9
# without the layers formation stands where the finish should
patio 150mm '[]' >works.json
does "no layers" works site.gpkg --file works.json --json
near "180 mm high" "$(awk -v f="$(number out works.0.formation_m)" 'BEGIN { print f - 99.820 }')" 0.180 1e-9
printf 'point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\nQ1,14,20,100.000,0.003,0.003\nQ2,14,14,99.900,0.003,0.003\n' >edge.csv
does "the edges surveyed" import site.gpkg edge.csv --as points --frame site
does "fall of the survey's points" fall site.gpkg --from Q1 --to Q2 --json
same "whose points" "$(number out measured)" survey
near "+/- 0.07 % of the survey" "$(number out sd_percent)" 0.0707 2e-4
same "of the survey" "$(number out verdict)" "proven"

# dug to the finished level: the proof of what was built says by how much formation is missed
printf 'stake,easting (m),northing (m),elevation (m)\nS1,14,20,99.820\nS2,14,14,99.720\n' >stakes.csv
printf 'point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\nS1,14,20,100.000,0.003,0.003\nS2,14,14,99.900,0.003,0.003\n' >high.csv
does "formation's stakes" import site.gpkg stakes.csv --as stakes --frame site
refuses "dug to the finish" 1 "2 of 2 points miss" verify site.gpkg high.csv --json
near "180 mm high at the door" "$(number out checks.0.dz_m)" 0.180 1e-9
near "180 mm high outside" "$(number out checks.1.dz_m)" 0.180 1e-9
finish
