#!/usr/bin/env bash
# bench/grading/run.sh BUILD: cheapest levels of 129 x 129 points, then of 50,176,
# against the LP library's own barrier. The second takes Clp the better part of an hour on a busy machine.
set -euo pipefail
program=$1/bench/bench_grading
[ -x "$program" ] || { echo "grading: no LP library in this build"; exit 0; }
"$program" 129
"$program" 224
