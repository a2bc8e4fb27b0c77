#!/usr/bin/env bash
# The adjustment's solver beside a general least-squares library: same networks, same start, one process each, in turn,
# three times, the largest once; the fastest of each counts. SIZES="1e3 1e4" bench/survey/run.sh BUILD for less. Fails when a goal is missed.
set -euo pipefail
program=$1/bench/bench_survey
[ -x "$program" ] || { echo "The peer (libceres-dev) is not installed; nothing to compare with."; exit 0; }
lines=$(mktemp)
trap 'rm -f "$lines"' EXIT
for size in ${SIZES:-1e3 1e4 1e5}; do
  for run in 1 2 3; do
    [ "$size" = 1e5 ] && [ "$run" -gt 1 ] && continue
    "$program" own "$size" | sed "s/^/$size /" >>"$lines"
    "$program" peer "$size" | sed "s/^/$size /" >>"$lines"
    "$program" own "$size" sd | sed "s/^own/sd/; s/^/$size /" >>"$lines"
  done
done
awk '
  function least(key, value) { if (!(key in best) || value < best[key]) best[key] = value }
  { who = $2; if (!($1 in seen)) { seen[$1] = 1; order[++count] = $1 }
    least($1 who "user", $14 + 0); least($1 who "wall", $12 + 0); least($1 who "rss", $18 + 0)
    if (who == "sd") least($1 "sd", $16 + 0)
    cost[$1 who] = $8; steps[$1 who] = $10; readings[$1] = $6 }
  END {
    printf "%8s %9s | %28s | %28s | %6s %6s | %s\n", "stations", "readings", "own: s of processor, MiB", "peer: s of processor, MiB", "faster", "of sd", "cost"
    for (i = 1; i <= count; i++) {
      s = order[i]; ratio = best[s "peeruser"] / best[s "ownuser"]; share = best[s "sd"] / best[s "sduser"]
      apart = cost[s "own"] / cost[s "peer"] - 1; if (apart < 0) apart = -apart
      printf "%8s %9d | %8.4f %9.1f %2d steps | %8.4f %9.1f %2d steps | %5.1fx %5.2fx | %.9g apart %.0e\n", s, readings[s], best[s "ownuser"], best[s "ownrss"], steps[s "own"], best[s "peeruser"], best[s "peerrss"], steps[s "peer"], ratio, share, cost[s "own"], apart
      if (apart > 1e-6) { print "The two ended at different costs."; failed = 1 }
      if (ratio < (s + 0 < 5e4 ? 2 : 1)) { print "Not as fast as it should be."; failed = 1 }
      if (s == "1e4" && share > 2) { print "The sd take too long."; failed = 1 }
      if (best[s "ownrss"] > best[s "peerrss"]) { print "More memory than the peer."; failed = 1 }
    }
    exit failed }' "$lines"
echo
echo "A property with all kinds of readings and all that comes of it (fastest of several runs):"
"$program" site 200
"$program" site 1e4
