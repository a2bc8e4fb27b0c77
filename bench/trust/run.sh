#!/usr/bin/env bash
# Do 95 % intervals hold the truth? 1,000 samplings of each ground; a quick look: SAMPLINGS=100 bench/trust/run.sh BUILD
set -euo pipefail
program=$1/bench/bench_trust
data=$(cd "$(dirname "$0")/../.." && pwd)/../shared/data
count=${SAMPLINGS:-1000}
uname -sm
for terrain in fractal0.3 fractal0.5 fractal0.8 hills garden; do "$program" --samplings "$count" $terrain; done
"$program" --samplings "$count" --gear 0.02 garden # levels read to 20 mm
[ -d "$data" ] || exit 0
"$program" --samplings "$count" volcano "$data/terrain-volcano-grid/volcano_points_pnezd.csv" 2 1 3 1
"$program" --samplings "$count" --boundary "$data/points-floodplain/boundary.csv" 0 1 floodplain "$data/points-floodplain/altitudes.csv" 2 1 3 1
"$program" --samplings "$count" park "$data/pointcloud-park/autzen_trim_ground_ft.csv" 0 1 2 1
for year in 2010 2023; do # levels in US survey feet; the cloud's bays are not ground
  "$program" --samplings "$count" --outline 3 track-$year "$data/pointcloud-two-epochs/bmx_${year}_ground_pnezd.csv" 2 1 3 0.3048006096
done
site=$(mktemp) # a site's triangulated surface, all in US survey feet
{ echo e,n,z; sed -n 's/.*<P [^>]*> *\([^ ]*\) \([^ ]*\) \([^ <]*\).*/\2,\1,\3/p' "$data/landxml-tin-a/surface_S5.xml"; } >"$site"
"$program" --samplings "$count" site "$site" 0 1 2 1
rm -f "$site"
if command -v gdal_translate >/dev/null; then # degrees at 49.8 north laid out in metres; the largest full rectangle of it:
  grid=$(mktemp)                              # beyond the outline there is no truth to hold
  { echo e,n,z; gdal_translate -q -of XYZ "$data/terrain-geotiff-small/elev.tif" /vsistdout/ |
    awk '{e = $1 * 71853; n = $2 * 111320} $3 > -1000 && e > 424232 && e < 456566 && n > 5512659 && n < 5546983 {printf "%.3f,%.3f,%g\n", e, n, $3}'; } >"$grid"
  "$program" --samplings "$count" country "$grid" 0 1 2 1
  rm -f "$grid"
fi
# Other grids: GRIDS="a.csv b.csv", with a header line and easting, northing, level in metres.
for file in ${GRIDS:-}; do "$program" --samplings "$count" "$(basename "$file" .csv)" "$file" 0 1 2 1; done
