#!/usr/bin/env bash
# A scan by the command line: taken in, undone, refused with a sentence and without a trace. The two visits are open data
# (tests/data/pointcloud-two-epochs/SOURCE.md): 475.56 m3 of fill and 48.41 m3 of cut between them, from all points.
set -euo pipefail
program=$1 data=$2/tests/data
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
site=$folder/site.gpkg
mkdir "$folder/scratch"
export TMPDIR=$folder/scratch MERESTONE_WHO=tester
fail() { echo "$*"; exit 1; }
key() { sed -n "s/^ *\"$1\": \([^,]*\),\{0,1\}$/\1/p"; }

"$program" new "$site" >"$folder/out"
epochs=$data/pointcloud-two-epochs
"$program" cloud "$site" "$epochs/autzen-bmx-2010.las" --tolerance 10mm --json >"$folder/first"
[ "$(key points_read <"$folder/first")" = 829 ] || fail "the file has 829 points"
awk -v v="$(key largest_error_m <"$folder/first")" 'BEGIN { exit !(v > 0 && v <= 0.010001) }' || fail "the error is over the tolerance"
grep -q 'levels in ftus' "$folder/first" || fail "the mixed units are not said"
"$program" cloud "$site" "$epochs/autzen-bmx-2023.las" --tolerance 10mm >"$folder/out"
"$program" volume "$site" --from autzen-bmx-2010 --to autzen-bmx-2023 --json >"$folder/volume"
# Thinning to 10 mm over 1,000 m2 moves no more than 10 m3; it moves far less.
awk -v fill="$(key fill_m3 <"$folder/volume" | head -1)" -v cut="$(key cut_m3 <"$folder/volume" | head -1)" \
  'BEGIN { exit !(fill > 474 && fill < 477.5 && cut > 47.5 && cut < 49.5) }' || fail "volumes: $(cat "$folder/volume")"

before=$("$program" history "$site" | wc -l)
refused() { # sentence, then the words
  local says=$1; shift
  if "$program" cloud "$site" "$@" >"$folder/out" 2>"$folder/err"; then fail "$* was taken"; fi
  grep -q "$says" "$folder/err" || fail "$*: $(cat "$folder/err")"
}
refused "in the site already" "$epochs/autzen-bmx-2010.las"
refused "unit of length" "$data/las-conformance/100-points.las"
refused "unit of a cloud" "$data/las-conformance/100-points.las" --unit furlong
refused "Classes are" "$epochs/autzen-bmx-2010.las" --classes 2,
refused "no point to take" "$epochs/autzen-bmx-2010.las" --classes 9 --visit other
refused "over zero" "$epochs/autzen-bmx-2010.las" --tolerance 0 --visit other
refused "promises 3 records" "$data/las-conformance/bad_vlr_count.las" --unit m
refused "degrees" "$data/las-conformance/no-points.las" --unit m
refused "cannot be opened" "$folder/nothing.las"
[ "$("$program" history "$site" | wc -l)" = "$before" ] || fail "a refusal left a trace in the site"

"$program" undo "$site" >"$folder/out"
grep -q "autzen-bmx-2023" "$folder/out" || fail "undo: $(cat "$folder/out")"
"$program" cloud "$site" "$data/las-conformance/100-points.las" --unit ft --tolerance 0.3 >"$folder/out"
[ -z "$(ls "$TMPDIR")" ] || fail "a temporary file was left behind"
