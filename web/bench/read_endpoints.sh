#!/usr/bin/env bash
# The read endpoints under load: no error, and a server that does not grow. Uses wrk on the demo's site.
# Usage: read_endpoints.sh [PROGRAM] [SECONDS for each endpoint]. Exit 77: nothing to try it with.
set -euo pipefail
root=$(cd "$(dirname "$0")/../.." && pwd)
program=${1:-$root/build/merestone}
seconds=${2:-10}
command -v wrk >/dev/null || { echo "skipped: wrk is not there"; exit 77; }
work=$(mktemp -d)
port=$((20000 + RANDOM % 20000))
server=
trap '[ -n "$server" ] && kill "$server" 2>/dev/null; rm -rf "$work"' EXIT

take() { "$program" import "$work/site.gpkg" "$root/examples/$1.csv" --as "$2" "${@:3}" >/dev/null || [ $? = 1 ]; }
"$program" new "$work/site.gpkg" --title Trial >/dev/null
take control control --visit "visit 1"; take angles angles --visit "visit 1"; take levels levels --visit "visit 1"
take legs legs --visit "visit 2"; take tape tape --visit "visit 2"; take offsets offsets --visit "visit 2"
take features features; take stakes stakes; take prices prices; take built built
"$program" works "$work/site.gpkg" --file "$root/examples/works.json" >/dev/null
"$program" serve "$work/site.gpkg" --port "$port" --web "$root/web/dist" >"$work/log" 2>&1 &
server=$!
for _ in $(seq 100); do grep -q "is open at" "$work/log" && break; sleep 0.1; done

cat >"$work/post.lua" <<'L'
wrk.method = "POST"
wrk.headers["Content-Type"] = "application/json"
wrk.headers["Origin"] = "http://127.0.0.1:" .. os.getenv("PORT")
wrk.body = os.getenv("BODY")
L
resident() { awk '/VmRSS/ { print $2 }' "/proc/$server/status"; }
failed=0
hit() { # PATH BODY ("" for GET)
  local said
  said=$(PORT=$port BODY=$2 wrk -t1 -c4 -d "${seconds}s" ${2:+-s "$work/post.lua"} "http://127.0.0.1:$port$1")
  local wrong rate
  wrong=$(grep -E "Non-2xx|Socket errors" <<<"$said" || true)
  rate=$(awk '/Requests\/sec/ { print $2 }' <<<"$said")
  printf '%-26s %9s requests a second, %7s kB resident %s\n' "$1" "$rate" "$(resident)" "$wrong"
  [ -z "$wrong" ] && awk -v r="$rate" 'BEGIN { exit !(r > 0) }' || failed=1
}
round() {
  hit / ""
  hit /api/operations ""
  for operation in site gear ground contours volume takeoff estimate setout history haul; do hit "/api/$operation" '{}'; done
  hit /api/adjust '{"without-observations":true}'
  hit /api/drain '{"finished":true,"drawn":true}'
  hit /api/elevation '{"easting":118,"northing":212}'
  hit /api/profile '{"from":[110,212],"to":[130,214]}'
  hit /api/measure '{"feature":"terrace"}'
  hit /api/preview-volume '{"quick":true,"definition":{"name":"terrace","kind":"pad","in":"terrace","level":"99.9"}}'
}
round # fills caches and arenas
before=$(resident)
round
after=$(resident)
echo "resident after one round ${before} kB, after two ${after} kB"
# A tenth and 2 MB more is the allocator's breathing; a leak of one request's arena would be gigabytes.
[ "$after" -le $((before + before / 10 + 2048)) ] || { echo "the server grew"; failed=1; }
exit "$failed"
