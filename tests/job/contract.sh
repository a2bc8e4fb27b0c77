#!/usr/bin/env bash
# Every command's JSON against the contract page: names, types, intervals that hold their value, exit status.
. "$(dirname "$0")/steps.bash"
need node
MERESTONE_WHO=demo bash "$source/tools/demo.sh" "$program" demo >demo.txt 2>&1 || { tail -n 3 demo.txt; bad "tools/demo.sh"; finish; }
node "$source/tests/job/contract.mjs" "$program" "$source" demo
