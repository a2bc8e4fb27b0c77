#!/usr/bin/env bash
# bench/grading/run.sh BUILD: cheapest levels at 50,000 columns against the LP library's own barrier.
set -euo pipefail
program=$1/bench/bench_grading
[ -x "$program" ] || { echo "grading: no LP library in this build"; exit 0; }
"$program" 129
