#!/usr/bin/env bash
# bench/ground/run.sh BUILD: the triangulation beside its peers, in turn in one run, with malloc as it comes and with large
# pages for all; then single changes; then every triangle compared; then the hard sets.
# SIZES (points), ROUNDS, LARGE_ROUNDS (from 1e7 points on), SETS. FIRST=1 lets it go before other work on the machine,
# where the system allows that.
set -euo pipefail
build=$1
program=$build/bench/bench_triangulation
script=$PWD/bench/ground/delaunator.mjs
sizes=${SIZES:-100000,1000000,10000000}
mkdir -p "$build/bench/ground"
cd "$build/bench/ground"

peer=()
if command -v npm >/dev/null; then
  [ -d node_modules/delaunator ] || npm install --silent --no-audit --no-fund --prefix . delaunator@5 >/dev/null 2>&1 || true
  [ -d node_modules/delaunator ] && peer=(--node "$script")
fi

first() { "$@"; }
if [ "${FIRST:-0}" = 1 ]; then
  first() { setsid -w bash -c 'echo -20 2>/dev/null >/proc/self/autogroup; exec nice -n -20 "$@"' _ "$@"; }
fi

data=uniform,grid,scan,uniform.c,grid.c,scan.c
for tunables in '' glibc.malloc.hugetlb=1; do
  echo; echo "## ${tunables:-malloc as it comes}"
  for size in ${sizes//,/ }; do
    rounds=${ROUNDS:-5}
    [ "$size" -lt 10000000 ] || rounds=${LARGE_ROUNDS:-3}
    [ "$size" -gt 100000 ] || rounds=$((4 * rounds + 1)) # the clock of user time is coarse
    GLIBC_TUNABLES=$tunables first "$program" --points "$size" --rounds "$rounds" --threads 2 --data $data "${peer[@]}"
  done
done
echo; echo "## pages of 4 KiB for all"
first "$program" --points "$sizes" --rounds "${ROUNDS:-3}" --threads 2 --no-peer --data uniform,grid,scan --small-pages
echo; echo "## single changes"
first "$program" --live --points 1000000 --data uniform,grid,scan
echo; echo "## the same triangles"
"$program" --check --points 1000000 --data $data
echo; echo "## hard sets"
MERESTONE_SETS=${SETS:-100000} "$build/tests/test_ground_triangulation"
