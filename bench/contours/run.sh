#!/usr/bin/env bash
# Contours joined into lines beside gdal_contour on a grid of as many cells, in the same run and in turn: its start-up (a
# grid of 2 x 2 cells) is taken off, its lines go to memory; reading 4 bytes a cell stays in.
#   bench/contours/run.sh BUILD            a million points, then 16 million on a ground of 50 levels (10 GB of memory)
#   SCENES="rolling:1000:1" bench/contours/run.sh BUILD    scene:side:interval ...
# FIRST=1 lets it go before other work on the machine, where the system allows that: without it wall times on a busy
# machine mean nothing.
set -euo pipefail
first() { "$@"; }
if [ "${FIRST:-0}" = 1 ]; then
  first() { setsid -w bash -c 'echo -20 2>/dev/null >/proc/self/autogroup; exec nice -n -20 "$@"' _ "$@"; }
fi
program=$1/bench/bench_contours
scenes=${SCENES:-rolling:1000:1 rolling:1000:0.25 rolling:300:1 steep:4000:1}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
uname -sm
TIMEFORMAT=%U
user() { { time first gdal_contour -q -i "$1" -a level "$2" nowhere -f Memory >/dev/null 2>&1; } 2>&1; }
middle() { sort -n | sed -n 5p; }
for scene in $scenes; do
  IFS=: read -r name side interval <<<"$scene"
  echo "== $name, $side x $side"
  first "$program" --scene "$name" --side "$side" --interval "$interval" --grid "$work/ground.bil" --rounds "${ROUNDS:-15}" | tee "$work/said"
  command -v gdal_contour >/dev/null || continue
  [ "$side" -ge 700 ] || continue # the clock of its user time is too coarse for less
  [ -f "$work/tiny.tif" ] || gdal_translate -q -srcwin 0 0 2 2 "$work/ground.bil" "$work/tiny.tif"
  for round in {1..9}; do user "$interval" "$work/tiny.tif"; done | middle >"$work/start"
  for round in {1..9}; do user "$interval" "$work/ground.bil"; done | middle >"$work/whole"
  awk -v start="$(cat "$work/start")" -v whole="$(cat "$work/whole")" -v cells="$((side * side))" '
    /contours on 1 thread/ { ours = $0; sub(/ ns a triangle user.*/, "", ours); sub(/.* /, "", ours) }
    END { theirs = (whole - start) * 1e9 / cells
      printf "gdal_contour: %.2f s user, %.2f of it start-up: %.1f ns a cell. Ours on one thread: a triangle %.3f of it, a cell (two triangles) %.3f.\n", whole, start, theirs, ours / theirs, 2 * ours / theirs }' "$work/said"
  rm -f "$work/ground.bil" "$work/ground.hdr"
done
