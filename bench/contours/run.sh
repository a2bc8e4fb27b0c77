#!/usr/bin/env bash
# Contours of 2 million triangles, and gdal_contour on a grid of as many points, writing and reading taken off.
set -euo pipefail
program=$1/bench/bench_contours
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
uname -sm
"$program" --side 1000 --interval 1 --grid "$work/ground.asc"
"$program" --side 1000 --interval 0.25
command -v gdal_contour >/dev/null || exit 0
gdal_translate -q -of GTiff -ot Float64 "$work/ground.asc" "$work/ground.tif"
for interval in 1 0.25 1000; do # 1000: no line at all, so reading alone
  rm -rf "$work/out.gpkg" "$work/out.shp"
  TIMEFORMAT="gdal_contour -i $interval: %U s user for 1 000 000 cells"
  time gdal_contour -q -i "$interval" -a level "$work/ground.tif" "$work/out.shp"
done
