#!/usr/bin/env bash
# The story of the job on the demo site, from the first reading to the last check: tools/demo.sh PROGRAM FOLDER
set -euo pipefail
program=$(realpath "$1")
folder=$2
examples=$(realpath "$(dirname "$0")/../examples")
mkdir -p "$folder"
cd "$folder"
rm -f site.gpkg plan.pdf plan.svg plan.png site.dxf site.geojson points.csv ground.xml estimate.csv estimate.txt estimate.xlsx setout.txt verify.txt adjust.txt adjust.json
site=site.gpkg
export MERESTONE_WHO=${MERESTONE_WHO:-demo}
run() { "$program" "$@"; }
# The answer may be "no" (1); anything worse ends the demo.
ask() { local status=0; "$program" "$@" || status=$?; [ "$status" -le 1 ] || exit "$status"; }
step() { printf '\n%s\n' "$1"; }

step "1. Three visits, eight kinds of page, one site file."
run new $site --title "Quillmarsh Rise, plot 7"
run set $site currency EUR >/dev/null
take() { run import $site "$examples/$1" --as "$2" "${@:3}" | sed -n '1s/^/   /p'; }
take control.csv control --visit 1
take angles.csv angles --visit 1
take levels.csv levels --visit 1
take legs.csv legs --visit 2
take tape.csv tape --visit 2
take offsets.csv offsets --visit 2
take rover.csv points --visit 3 --gear rover
take features.csv features
take stakes.csv stakes
take prices.csv prices

step "2. Does it hold together? Every reading in one adjustment."
ask adjust $site >adjust.txt 2>/dev/null
sed -n '/readings, .* more than needed/,$p' adjust.txt | sed 's/^/   /'

step "3. The wrong tape is set aside, with a reason, and the rest holds. The reading itself stays in the site file."
row=$(ask adjust $site --json 2>/dev/null | awk '/"suspects"/ { inside = 1 } inside && /"row"/ && !found++ { gsub(/[^0-9]/, ""); print }')
run set-aside $site --page tape.csv --row "$row" --reason "one metre long, booked by mistake" | sed 's/^/   /'
ask adjust $site >adjust.txt
sed -n '/readings, .* more than needed/,$p' adjust.txt | sed 's/^/   /'
run levels $site | tail -2 | sed 's/^/   /'

step "4. What was measured: a terrace, a curved bed, the ground."
run measure $site terrace | sed 's/^/   /'
run measure $site "planting bed" | sed 's/^/   /'
run ground $site | sed 's/^/   /'

step "5. What is to be built, and the earth that it moves."
run works $site --file "$examples/works.json" | sed 's/^/   /'
run volume $site | sed 's/^/   /'
run balance $site --element terrace | sed 's/^/   /'

step "6. What it takes and what it costs."
run estimate $site >estimate.txt
run estimate $site --csv >estimate.csv
tail -n 8 estimate.txt | cut -c1-118 | sed 's/^/   /'

step "7. Sheets and files."
for kind in pdf svg png; do run draw $site --sheet plan --scale 200 --paper A3 --stakes -o plan.$kind | sed 's/^/   /'; done
run export $site --to dxf -o site.dxf | sed 's/^/   /'
run export $site --to geojson -o site.geojson | sed 's/^/   /'
run export $site --to csv -o points.csv | sed 's/^/   /'
run export $site --to landxml -o ground.xml | sed 's/^/   /'
run export $site --to xlsx -o estimate.xlsx | sed 's/^/   /'

step "8. Set out with what is to hand."
run setout $site --method ties >setout.txt
head -n 8 setout.txt | sed 's/^/   /'

step "9. Prove what was built, or say that it cannot be told."
ask verify $site "$examples/built.csv" >verify.txt 2>/dev/null
sed 's/^/   /' verify.txt

printf '\nEverything is in %s: the site file, plan, DXF, GeoJSON, points, ground, estimate, set-out sheet, as-built check.\n' "$folder"
printf 'Excavations, services, walls and slopes: local code and licensed practice come first.\n'
