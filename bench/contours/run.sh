#!/usr/bin/env bash
# Contours of 8 million triangles, and gdal_contour on a grid of as many points in the same run. Its start-up (a grid of
# 2 x 2 cells) is taken off; reading 8 bytes a cell stays in, writing its lines too. SIDE=1000 bench/contours/run.sh BUILD
# for a quarter of it.
set -euo pipefail
program=$1/bench/bench_contours
side=${SIDE:-2000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
uname -sm
"$program" --side "$side" --interval 1 --grid "$work/ground.asc" | tee "$work/said"
command -v gdal_contour >/dev/null || exit 0
gdal_translate -q -of GTiff -ot Float64 "$work/ground.asc" "$work/ground.tif"
gdal_translate -q -srcwin 0 0 2 2 "$work/ground.tif" "$work/tiny.tif"
TIMEFORMAT=%U
user() { rm -f "$work"/out.*; { time gdal_contour -q -i 1 -a level "$1" "$work/out.fgb" -f FlatGeobuf >/dev/null 2>&1; } 2>&1; }
for round in 1 2 3; do user "$work/tiny.tif"; done | sort -n | sed -n 2p >"$work/start"
for round in 1 2 3; do user "$work/ground.tif"; done | sort -n | sed -n 2p >"$work/whole"
awk -v start="$(cat "$work/start")" -v whole="$(cat "$work/whole")" -v cells="$((side * side))" '
  /a triangle,/ && !ours { ours = $0; sub(/ ns a triangle,.*/, "", ours); sub(/.* /, "", ours) }
  END { theirs = (whole - start) * 1e9 / cells
    printf "gdal_contour: %.2f s user, %.2f of it start-up: %.1f ns a cell. Ours a triangle is %.2f of it, a cell (two triangles) %.2f.\n", whole, start, theirs, ours / theirs, 2 * ours / theirs }' "$work/said"
"$program" --side "$side" --interval 0.25
