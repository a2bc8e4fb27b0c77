#!/usr/bin/env bash
# Arrows go down only: each folder includes headers of the folders below it, never above, and of its own row not at all.
set -euo pipefail
cd "$2"
declare -A rank=([base]=0 [numeric]=1 [geometry]=2 [site]=3 [survey]=4 [ground]=5 [works]=6 [setout]=6 [drawing]=7 [exchange]=7
  [estimate]=7 [operations]=8 [cli]=9 [http]=9)
# exchange hands over a bill, and so stands above estimate
rank[exchange]=7.5
rank[drawing]=7.5
failed=0
check() { # from-area file included-area
  local from=$1 file=$2 to=$3
  [ -n "${rank[$to]:-}" ] || { echo "$file includes $to, which is no part of the layout"; failed=1; return; }
  [ "$from" = "$to" ] && return
  if ! awk -v a="${rank[$from]}" -v b="${rank[$to]}" 'BEGIN { exit !(b < a) }'; then
    echo "$file ($from) includes $to: an arrow that does not go down"; failed=1
  fi
}
for file in $(find src include -name '*.[ch]'); do
  case "$file" in
    src/*) area=${file#src/}; area=${area%%/*} ;;
    include/merestone/merestone.h) continue ;;
    *) area=$(basename "$file" .h) ;;
  esac
  # the command line's entry point is the one place that starts the other door
  [ "$file" = src/cli/serve.c ] && continue
  for include in $(sed -n 's/^#include "\([^"]*\)".*/\1/p' "$file"); do
    case "$include" in
      merestone/merestone.h) echo "$file includes everything; include what it uses"; failed=1 ;;
      merestone/*) check "$area" "$file" "$(basename "$include" .h)" ;;
      */*) check "$area" "$file" "${include%%/*}" ;;
      *) echo "$file includes \"$include\"; write it as AREA/$include"; failed=1 ;;
    esac
  done
done
# The core touches neither files, nor the clock, nor the environment, nor a stream, and keeps no state between calls.
# file*.c and geopackage*.c of site are the edge.
for file in $(find src/base src/numeric src/geometry src/survey src/ground src/works src/setout src/estimate -name '*.c') src/site/{page,csv,site,gear}.c; do
  if grep -nE '\b(fopen|fprintf|printf|puts|getenv|time|clock|setjmp|longjmp|system|rand|srand)\(' "$file" | grep -vE 'sn?printf|vsnprintf|mst_[a-z_]*printf' ; then
    echo "$file: the core does not do that"; failed=1
  fi
done
exit $failed
