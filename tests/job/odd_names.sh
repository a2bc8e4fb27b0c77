#!/usr/bin/env bash
# Names as people type them (accents, other scripts, quotes, marks that mean something to a file format) go through the
# whole job and come out of every file as they went in.
. "$(dirname "$0")/steps.bash"
need node ogrinfo pdftotext
node - <<'J'
const { writeFileSync } = require("node:fs");
const names = ['<b>&"x"', "é è ü", "日本語の点", "a/b:c*?", "={1+1}", "=1+1", "-x", "{\\fArial;x}", "%%uunder%%u", "^J^M", "a,b", "''", "50%", "$(reboot)",
  "'; DROP TABLE t; --", "_", "0", "TRUE", "🌳", "x".repeat(100)];
const cell = (text) => '"' + text.replaceAll('"', '""') + '"';
const place = (i) => `${(i % 5) * 10},${Math.floor(i / 5) * 10 + (i % 3)}`;
const page = (name, header, rows) => writeFileSync(name + ".csv", header + "\n" + rows.join("\n") + "\n");
page("points", "point,easting (m),northing (m),elevation (m),code", names.map((n, i) => [cell(n), place(i), 10 + (i % 4) / 10, cell(n)].join()));
page("features", "feature,kind,code,point,edge,role", names.flatMap((n, i) => [0, 1, 5].map((k) => [cell(n), i % 2 ? "line" : "area", cell(n), cell(names[(i + k) % 20]), "", ""].join())));
page("stakes", "stake,easting (m),northing (m),elevation (m),code", names.map((n, i) => [cell(n), place(i), "", cell(n)].join()));
page("prices", "item,unit,code,measure,rate", names.map((n) => [cell(n), "each", cell(n), "count", 5].join()));
writeFileSync("names.json", JSON.stringify(names));
writeFileSync("works.json", JSON.stringify([{ name: names[0], kind: "pad", in: names[0], level: "10", layers: [{ material: names[2], thickness: "40mm" }] }]));
J
does "new" new site.gpkg --title '<T>&"é🌳'
for kind in points features stakes prices; do does "$kind" import site.gpkg $kind.csv --as $kind; done
does "works" works site.gpkg --file works.json
for to in dxf geojson csv landxml xlsx; do does "export to $to" export site.gpkg --to $to -o site.$to; done
for ending in pdf svg png; do does "draw $ending" draw site.gpkg --stakes -o plan.$ending; done
does "set out" setout site.gpkg
does "estimate" estimate site.gpkg --json; cp out estimate.json
does "adjust" adjust site.gpkg --json; cp out adjust.json
refuses "a satellite track without a place on the earth" 1 "gnss" export site.gpkg --to gpx -o site.gpx
passes "names in JSON and GeoJSON" node - <<'J'
const { readFileSync } = require("node:fs");
const json = (name) => JSON.parse(readFileSync(name, "utf8"));
const names = json("names.json"), same = (a) => JSON.stringify([...a].sort()) === JSON.stringify([...names].sort());
const geo = json("site.geojson").features.filter((f) => f.geometry.type === "Point").map((f) => f.properties.name);
if (!same(json("adjust.json").points.map((p) => p.point))) throw "adjust";
if (!same(json("estimate.json").lines.map((l) => l.item))) throw "estimate";
if (!names.every((n) => geo.includes(n))) throw "GeoJSON";
J
for file in site.gpkg site.geojson site.dxf; do
  ogrinfo -ro -so -al $file >info 2>said
  same "ogrinfo $file" "$? $(grep -vc 'Non closed ring detected' said)" "0 0"
done
does "new" new again.gpkg
does "the points file is a page" import again.gpkg site.csv --as points --frame site
does "adjust" adjust again.gpkg --json
same "names that came back" "$(node -p 'JSON.parse(require("fs").readFileSync("out")).points.map((p) => p.point).sort().join("|") === JSON.parse(require("fs").readFileSync("names.json")).sort().join("|")')" true
if /usr/bin/python3 -c 'import ezdxf' 2>/dev/null; then
  passes "DXF, LandXML, SVG, spreadsheet" /usr/bin/python3 - <<'P'
import json, zipfile, ezdxf, xml.etree.ElementTree as xml
drawing = ezdxf.readfile("site.dxf")
audit = drawing.audit()
assert not audit.errors and not audit.fixes, [e.message for e in audit.errors + audit.fixes]
for name in ("site.landxml", "plan.svg"): xml.parse(name)
book = zipfile.ZipFile("site.xlsx")
for name in book.namelist():
    if name.endswith(".xml"): xml.fromstring(book.read(name))
text = book.read("xl/sharedStrings.xml").decode()
assert "=1+1" in text and "日本語の点" in text, "names in the spreadsheet"
P
fi
case $(pdftotext -enc UTF-8 plan.pdf -) in *'<T>&"é'*) good ;; *) bad "the sheet lost its accents" ;; esac
finish
