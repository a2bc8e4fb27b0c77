#!/usr/bin/env bash
# Text read, and a hundred million points thinned to 0.05 m (2 GB of disk for the scan, 2.4 GB for the sorting).
# POINTS=1e7 bench/cloud/run.sh BUILD for a tenth of it.
set -euo pipefail
"$1/bench/bench_cloud" text 1e7
"$1/bench/bench_cloud" las "${POINTS:-1e8}" 0.05 0.005 0.05
