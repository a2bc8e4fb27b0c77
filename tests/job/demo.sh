#!/usr/bin/env bash
# The whole job on the demo site: every output is there, the second run gives the same bytes, other programs read the
# files and count what we count, the sheet is to scale, the wrong tape is found, and the points lie where they truly are.
. "$(dirname "$0")/steps.bash"
need node ogrinfo pdftoppm pdftotext

demo() { MERESTONE_WHO=demo bash "$source/tools/demo.sh" "$program" "$1" >"$1.txt" 2>"$1.err"; }
for folder in one two; do
  demo $folder; ended=$?
  same "the demo, run $folder: $(tail -n 1 $folder.err)" "$ended" 0
done
[ "$failed" = 0 ] || finish
for file in site.gpkg plan.pdf plan.svg plan.png site.dxf site.geojson points.csv ground.xml estimate.csv estimate.txt estimate.xlsx setout.txt verify.txt adjust.txt; do
  if [ -s one/$file ]; then good; else bad "$file is missing or empty"; fi
  [ $file = site.gpkg ] && continue # its history tells the time
  if cmp -s one/$file two/$file; then good; else bad "$file differs between two runs"; fi
done
site=one/site.gpkg
does "adjust" adjust $site --json; cp out adjust.json
does "ground" ground $site --json; cp out ground.json
does "contours" contours $site --json; cp out contours.json
does "levels by hand" levels $site --json

# ---- other programs read what was written ----
# (ogrinfo 3.6 calls every triangular 3DFACE an open ring, whoever wrote it: that one warning is its own.)
for file in site.gpkg site.geojson site.dxf; do
  ogrinfo -ro -so -al one/$file >$file.info 2>$file.said
  same "ogrinfo reads $file" "$?" 0
  grep -v 'Non closed ring detected' $file.said >$file.err
  same "ogrinfo $file is content: $(head -c 200 $file.err)" "$(wc -c <$file.err)" 0
done
passes "the demo's figures" node "$source/tests/job/demo.mjs" "$source" one .
if /usr/bin/python3 -c 'import ezdxf' 2>/dev/null; then
  triangles=$(number ground.json triangles)
  passes "the DXF" /usr/bin/python3 - one/site.dxf "$triangles" <<'P'
import sys, ezdxf
drawing = ezdxf.readfile(sys.argv[1])
audit = drawing.audit()
kinds = [e.dxftype() for e in drawing.modelspace()]
faults = [str(e.message) for e in audit.errors + audit.fixes]
for good, what in ((not faults, faults), (drawing.units == 6, "units are not metres"), (drawing.dxfversion == "AC1015", drawing.dxfversion),
                   (kinds.count("3DFACE") == int(sys.argv[2]), "3DFACE %d, triangles %s" % (kinds.count("3DFACE"), sys.argv[2])),
                   (kinds.count("POINT") >= 111, "points %d" % kinds.count("POINT")),
                   (any(e.dxftype() == "LWPOLYLINE" and e.has_arc for e in drawing.modelspace()), "no true arc")):
    if not good: print("FAIL: DXF:", what); sys.exit(1)
P
  passes "spreadsheet and surface" /usr/bin/python3 - one <<'P'
import sys, zipfile, xml.etree.ElementTree as xml
book = zipfile.ZipFile(sys.argv[1] + "/estimate.xlsx")
assert book.testzip() is None
sheets = [book.read(n).decode() for n in book.namelist() if n.startswith("xl/worksheets/")]
assert any("<f>" in s for s in sheets), "no formula is live"
root = xml.parse(sys.argv[1] + "/ground.xml").getroot()
assert root.tag == "{http://www.landxml.org/schema/LandXML-1.2}LandXML", root.tag
P
else echo "   DXF, spreadsheet, surface: not tried, python3 has no ezdxf"; fi

# ---- the sheet is to scale: 254 dots per inch are 10 per millimetre ----
pdftotext -bbox one/plan.pdf words.html && pdftoppm -r 254 -gray one/plan.pdf sheet
passes "the scale bar" node "$source/tests/job/scale_bar.mjs" words.html "$(ls sheet*.pgm)" 200
"$program" draw one/site.gpkg --ground doubt --paper A2 -o doubt.pdf >/dev/null
for words in "unsure by .* to .* mm" "take one more level, A first"; do
  if pdftotext doubt.pdf - | grep -q "$words"; then good; else bad "the sheet does not say: $words"; fi
done
case $(pdftotext one/plan.pdf - | tr '\n' ' ') in *"1:200"*) good ;; *) bad "the sheet does not say 1:200" ;; esac

# ---- the points file goes back in ----
does "new" new again.gpkg
does "the points file is a page" import again.gpkg one/points.csv --as points --frame site --json
cp out again.json
same "its rows" "$(number again.json rows)" "$(node -e 'console.log(JSON.parse(require("fs").readFileSync("adjust.json")).points.filter((p) => p.easting_m !== null).length)')"

# ---- the bill: lines make the total, and only what the fills leave over goes on lorries (FM 5-434, clay) ----
does "estimate" estimate $site --json
cp out estimate.json
does "volume" volume $site --json
cp out volume.json
same "loads and total" "$(node -e 'const read = (f) => JSON.parse(require("fs").readFileSync(f)), bill = read("estimate.json"), volume = read("volume.json");
const cart = bill.lines.find((l) => l.item === "Cart spoil away").net, left = (volume.cut_m3 - volume.fill_m3 / 0.9) * 1.43;
console.log(cart === Math.ceil(left / 10), Math.abs(bill.lines.reduce((s, l) => s + l.amount, 0) - bill.total) < 0.5,
  bill.cautions.some((c) => c.includes("buried services")))')" "true true true"

# ---- the wrong tape ----
cp $site with.gpkg
does "take the tape back in" set-aside with.gpkg --page tape.csv --row 31 --take-back
run adjust with.gpkg --json
same "with the wrong tape the answer is no" "$status" 1
cp out wrong.json
same "suspects" "$(node -e 'console.log(JSON.parse(require("fs").readFileSync("wrong.json")).suspects.map((s) => [s.page, s.row, s.from, s.to, s.kind, s.estimated_error.toFixed(2)].join(" ")).join("; "))')" "tape.csv 31 H4 BD4 distance 1.01"
does "undo" undo with.gpkg
does "and without it all fits" adjust with.gpkg --json
cp out right.json
same "suspects" "$(number right.json suspects.length)" 0
finish
