#!/usr/bin/env bash
# bench/ground/run.sh BUILD: the triangulation beside its peer, in turn in one run, then every triangle compared.
set -euo pipefail
program=$1/bench/bench_triangulation
data=uniform,grid,scan,uniform.c,grid.c,scan.c
"$program" --points "${POINTS:-1000000}" --threads 2 --data $data
"$program" --check --points "${POINTS:-1000000}" --data $data
