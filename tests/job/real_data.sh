#!/usr/bin/env bash
# Open data that nobody on this project made, from the command line to the result. Each set's SOURCE.md says where it
# comes from and which results are published or were computed apart from this program.
. "$(dirname "$0")/steps.bash"
need node awk
data=$source/tests/data
more=$source/../shared/data
folder_of() { for f in "$data/$1" "$more/$1"; do [ -d "$f" ] && { echo "$f"; return; }; done; echo "   $1 is not here" >&2; return 1; }
tried=0

# Four set-ups of a total station with the coordinates that the instrument worked out. Set-ups are oriented by sights
# of 8 to 25 m to each other, so a shot of 62 m is off by as much more as it is farther: 8 mm in 30 m.
if f=$(folder_of total-station-survey); then
  tried=1
  does "new" new t.gpkg
  does "control" import t.gpkg "$f/control.csv" --as control
  does "angles" import t.gpkg "$f/angles.csv" --as angles
  run adjust t.gpkg --json
  same "one sight between stations is 63 mm long: the readings do not fit" "$status" 1
  passes "points of the total-station survey" node "$source/tests/job/compare_points.mjs" out "$f/expected_points.csv" 0.008 30 \
    "$f/angles.csv" "$f/control.csv"
fi

# Published adjustment of a levelling net; its sd are taken as 0.7 mm times the length in km, as the source does.
if f=$(folder_of network-levelling); then
  tried=1
  printf 'point,elevation (m)\n4,101.345\n' >known.csv
  awk -F, 'NR == 1 { print "from,to,difference (m),length (m),sd (m)" }
           NR > 1 { printf "%s,%s,%s,%.0f,%.5f\n", $1, $2, $3, $4 * 1000, $4 * 0.0007 }' "$f/level_observations.csv" >lines.csv
  does "new" new l.gpkg
  does "known level" import l.gpkg known.csv --as control
  does "heights" import l.gpkg lines.csv --as heights
  does "adjust" adjust l.gpkg --json
  cp out l.json
  near "m0, published 1.65" "$(number l.json sigma0)" 1.65 0.006
  same "degrees of freedom" "$(number l.json degrees_of_freedom)" 3
  tail -n +2 "$f/expected_adjusted.csv" | tr -d '\r' >expected
  while IFS=, read -r point level sd_mm; do
    read -r got got_sd < <(node -e 'const p = JSON.parse(require("fs").readFileSync("l.json")).points.find((p) => p.point === process.argv[1]); console.log(p.elevation_m, p.sd_elevation_m * 1000)' "$point")
    near "level of $point" "$got" "$level" 0.00005
    near "sd of $point, mm" "$got_sd" "$sd_mm" 0.006
  done <expected
fi

# 32 spot levels: figures computed here with a general triangulation library; the hull is the boundary.
if f=$(folder_of points-small); then
  tried=1
  awk 'NR == 1 { print "point,easting (m),northing (m),elevation (m)" } NR > 1 { print "P" NR "," $0 }' "$f/spot_levels_32.csv" >spots.csv
  does "new" new s.gpkg
  does "spot levels" import s.gpkg spots.csv --as points --frame site
  does "ground" ground s.gpkg --json
  cp out s.json
  same "triangles" "$(number s.json triangles)" 52
  near "plan area" "$(number s.json plan_area_m2)" 14226.068 0.001
  near "slope area" "$(number s.json slope_area_m2)" 14970.793 0.001
  near "lowest" "$(number s.json lowest_m)" 100.597 0.0005
  near "highest" "$(number s.json highest_m)" 109.988 0.0005
  does "volume above a level" volume s.gpkg --level 100 --json
  cp out s.json
  near "volume above level 100" "$(number s.json cut_m3)" 64566.202 0.001
  near "nothing under it" "$(number s.json fill_m3)" 0 1e-9
  # As found: a byte-order mark, CRLF, no header, names and numbers mixed, one point 18 km away.
  does "new" new c.gpkg
  does "a list without a header" import c.gpkg "$f/coordinate_list.csv" --as points --frame site --json \
    --columns "point,easting (m),northing (m),elevation (m)"
  cp out c.json
  same "rows" "$(number c.json rows)" 161
  case $(number c.json notes) in *"byte-order mark"*) good ;; *) bad "the mark is not noted" ;; esac
  does "adjust" adjust c.gpkg --json
  cp out c.json
  read -r e n h < <(node -e 'const p = JSON.parse(require("fs").readFileSync("c.json")).points.find((p) => p.point === "base_1"); console.log(p.easting_m, p.northing_m, p.elevation_m)')
  same "base_1" "$e $n $h" "667568.278 271801.865 252.176"
fi

# The same earth track in 2010 and 2023, plan in metres and levels in US survey feet. Volumes computed here on a 0.1 m
# grid over both Delaunay surfaces: 475.56 m3 fill, 48.41 m3 cut.
if f=$(folder_of pointcloud-two-epochs); then
  tried=1
  does "new" new v.gpkg
  for year in 2010 2023; do
    awk -F, -v y="$year" 'NR == 1 { print "point,northing (m),easting (m),elevation (ftUS),code" } NR > 1 { print y "-" $0 }' \
      "$f/bmx_${year}_ground_pnezd.csv" >"$year.csv"
    does "points of $year" import v.gpkg "$year.csv" --as points --frame site --visit "$year"
  done
  does "volume between visits" volume v.gpkg --from 2010 --to 2023 --json
  cp out v.json
  near "fill" "$(number v.json fill_m3)" 475.56 2.378
  near "cut" "$(number v.json cut_m3)" 48.41 0.242
  near "net" "$(number v.json net_m3)" -427.15 2.14
fi

[ "$tried" = 1 ] || skip "no data sets here"
finish
