#!/usr/bin/env bash
# A site file under hard use: the program killed in the middle of taking a page in, thirty times at random moments; and
# two writers at once, a hundred pages each. The file is always at a whole revision and nothing that was told to be done
# is lost.
. "$(dirname "$0")/steps.bash"
need sqlite3 node awk
revision() { sqlite3 site.gpkg 'SELECT max(id) FROM site_change' ; }

does "new" new site.gpkg
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,60,0,10\nC,60,60,11\nD,0,60,11\n' >base.csv
does "base" import site.gpkg base.csv --as control
awk 'BEGIN { print "point,easting (m),northing (m),elevation (m)"; for (i = 0; i < 3600; i++) printf "N%d,%.2f,%.2f,%.3f\n", i, i % 60 + 0.3, int(i / 60) + 0.4, 10 + (i * 7919 % 1000) / 1000 }' >many.csv

# How long one import takes here, in microseconds; the blows fall anywhere in it.
started=${EPOCHREALTIME/./}
does "a whole import" import site.gpkg many.csv --as points --frame site --visit warm
whole=$((${EPOCHREALTIME/./} - started))
does "undo" undo site.gpkg
tables_of() { sqlite3 "$1" .dump | grep -v "gpkg_contents" ; }

RANDOM=7
landed=0
fell=0
for i in $(seq 30); do
  cp site.gpkg copy.gpkg
  before=$(revision)
  "$program" import site.gpkg many.csv --as points --frame site --visit "day $i" >/dev/null 2>&1 &
  writer=$!
  wait_us=$((whole * 11 / 10 * RANDOM / 32768))
  sleep "$(printf '%d.%06d' $((wait_us / 1000000)) $((wait_us % 1000000)))"
  kill -9 $writer 2>/dev/null
  wait $writer 2>/dev/null
  run history site.gpkg --json
  same "blow $i: the site opens after it" "$status" 0
  same "blow $i: sound" "$(sqlite3 site.gpkg 'PRAGMA integrity_check' 2>&1)" ok
  after=$(revision)
  rows=$(sqlite3 site.gpkg "SELECT count(*) FROM site_reading r JOIN site_page p ON r.page = p.id JOIN site_visit v ON p.visit = v.id WHERE v.name = 'day $i'" 2>/dev/null)
  if [ "$after" = "$before" ]; then
    fell=$((fell + 1))
    same "blow $i: readings of an import that did not happen" "$rows" 0
    if cmp -s <(sqlite3 copy.gpkg .dump) <(sqlite3 site.gpkg .dump); then good; else bad "blow $i: the tables have changed"; fi
  elif [ "$after" = $((before + 1)) ]; then
    landed=$((landed + 1))
    same "blow $i: readings of an import that did" "$rows" 3600
    does "blow $i: undone" undo site.gpkg
  else bad "blow $i: revision $after after $before"; fi
  run ground site.gpkg --json
  same "blow $i: the ground" "$status" 0
done
echo "   of 30 imports $fell fell, $landed were done before the blow"
if [ "$fell" -ge 5 ]; then good; else bad "only $fell blows fell within an import of $whole us"; fi

# ---- two writers ----
does "new" new shared.gpkg
does "base" import shared.gpkg base.csv --as control
write_pages() { # NAME
  for n in $(seq 100); do
    printf 'from,to,distance (m)\nA,%s%d,%d.5\n' "$1" "$n" $((n % 50 + 1)) >"$1$n.csv"
    "$program" import shared.gpkg "$1$n.csv" --as tape >/dev/null 2>"$1.err" || { echo "$1$n: $(cat "$1.err")" >>"$1.lost"; }
  done
}
write_pages left &
first=$!
write_pages right &
second=$!
wait $first $second
for who in left right; do
  if [ -e $who.lost ]; then bad "$who could not take in $(wc -l <$who.lost) pages: $(head -n 2 $who.lost)"; else good; fi
  same "pages of $who" "$(sqlite3 shared.gpkg "SELECT count(*) FROM site_page WHERE name LIKE '$who%'")" 100
done
same "readings" "$(sqlite3 shared.gpkg "SELECT count(*) FROM site_reading")" 204
same "revisions" "$(sqlite3 shared.gpkg 'SELECT count(*), max(id) - min(id) + 1 FROM site_change')" "202|202"
same "sound" "$(sqlite3 shared.gpkg 'PRAGMA integrity_check')" ok
does "adjust" adjust shared.gpkg --json
same "points left open by one tape each" "$(node -e 'console.log(JSON.parse(require("fs").readFileSync("out")).undetermined.length)')" 200

finish
