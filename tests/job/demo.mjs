// node demo.mjs SOURCE_FOLDER DEMO_FOLDER WORK_FOLDER: the demo's figures against its truth, and the files against each
// other: what ogrinfo counts and measures is what the program says.
import { readFileSync } from "node:fs";
import { join } from "node:path";

const [source, demo, work] = process.argv.slice(2);
const json = (path) => JSON.parse(readFileSync(path, "utf8"));
let checks = 0, failed = 0;
function must(good, what) {
  checks++;
  if (!good) failed++, console.log("FAIL: " + what);
}

/* ---- against the truth ---- */
const adjustment = json(join(work, "adjust.json")), ground = json(join(work, "ground.json")), contours = json(join(work, "contours.json"));
const truth = new Map(readFileSync(join(source, "examples/truth.csv"), "utf8").trim().split("\n").slice(1).map((l) => l.split(",")).map(([name, ...xyz]) => [name, xyz.map(Number)]));
let within2 = 0, total = 0, worst = 0;
for (const p of adjustment.points) {
  const t = truth.get(p.point);
  must(t, `${p.point} is not in truth.csv`);
  if (!t) continue;
  ["easting", "northing", "elevation"].forEach((axis, i) => {
    const value = p[axis + "_m"], sd = p[`sd_${axis}_m`];
    if (value === null || Number.isNaN(t[i])) return;
    const off = Math.abs(value - t[i]);
    if (sd === 0) return must(off < 1e-9, `${p.point} is held and yet ${off} m off`);
    must(off <= 4 * sd, `${axis} of ${p.point} is ${(off * 1000).toFixed(1)} mm off, ${(off / sd).toFixed(1)} sd`);
    total++;
    within2 += off <= 2 * sd;
    worst = Math.max(worst, off / sd);
  });
}
must(adjustment.points.length === truth.size, `${adjustment.points.length} points adjusted, ${truth.size} in truth.csv`);
must(adjustment.undetermined.length === 0, `left open: ${adjustment.undetermined}`);
must(within2 / total >= 0.9, `only ${((100 * within2) / total).toFixed(0)} % of the coordinates lie within 2 sd`);
console.log(`   ${total} coordinates: ${((100 * within2) / total).toFixed(1)} % within 2 sd of the truth, the worst ${worst.toFixed(1)} sd`);

/* ---- as ogrinfo sees the files ---- */
function layers(name) {
  const found = new Map();
  let layer;
  for (const line of readFileSync(join(work, name + ".info"), "utf8").split("\n")) {
    const head = /^Layer name: (.*)/.exec(line), count = /^Feature Count: (\d+)/.exec(line);
    const extent = /^Extent: \((\S+), (\S+)\) - \((\S+), (\S+)\)/.exec(line);
    if (head) found.set(head[1], (layer = {}));
    if (count) layer.count = +count[1];
    if (extent) layer.extent = extent.slice(1).map(Number);
  }
  return found;
}
const range = (points) => [0, 1].map((k) => Math.min(...points.map((p) => p[k]))).concat([0, 1].map((k) => Math.max(...points.map((p) => p[k]))));
const near = (a, b, tolerance) => a && b && a.every((v, i) => Math.abs(v - b[i]) <= tolerance);
const placed = adjustment.points.filter((p) => p.easting_m !== null).map((p) => [p.easting_m, p.northing_m]);
const lines = contours.features.map((f) => f.geometry.coordinates);

const gpkg = layers("site.gpkg"), count = (name) => gpkg.get(name)?.count;
must(count("points") === placed.length, `GeoPackage: ${count("points")} points, the program says ${placed.length}`);
must(near(gpkg.get("points")?.extent, range(placed), 1e-6), `GeoPackage: points reach ${gpkg.get("points")?.extent}, the program says ${range(placed)}`);
must(count("triangles") === ground.triangles, `GeoPackage: ${count("triangles")} triangles, the program says ${ground.triangles}`);
must(count("contours") === lines.length, `GeoPackage: ${count("contours")} contours, the program says ${lines.length}`);
must(near(gpkg.get("contours")?.extent, range(lines.flat()), 1e-6), `GeoPackage: contours reach ${gpkg.get("contours")?.extent}, the program says ${range(lines.flat())}`);
const rows = readFileSync(join(source, "examples/features.csv"), "utf8").trim().split("\n").slice(1).map((l) => l.split(","));
for (const [layer, kind] of [["lines", "line"], ["areas", "area"]]) {
  const wanted = new Set(rows.filter((r) => r[1] === kind).map((r) => r[0])).size;
  must(count(layer) === wanted, `GeoPackage: ${count(layer)} ${layer}, features.csv has ${wanted}`);
}
const geojson = json(join(demo, "site.geojson")).features, [entry] = layers("site.geojson").values();
must(entry.count === geojson.length, `GeoJSON: ogrinfo counts ${entry.count} features of ${geojson.length}`);
const flat = (c) => (typeof c[0] === "number" ? [c] : c.flatMap(flat));
must(near(entry.extent, range(geojson.flatMap((f) => flat(f.geometry.coordinates))), 1e-4), `GeoJSON reaches ${entry.extent}`);
must(geojson.filter((f) => f.geometry.type === "Point" && !f.properties.feature).length >= placed.length, "GeoJSON has fewer points than were adjusted");
for (const p of adjustment.points) {
  const f = geojson.find((g) => g.geometry.type === "Point" && g.properties.name === p.point);
  must(f && near(f.geometry.coordinates.slice(0, 2), [p.easting_m, p.northing_m], 1e-4), `GeoJSON: ${p.point}`);
}
const csv = readFileSync(join(demo, "points.csv"), "utf8").trim().split("\n").slice(1).map((l) => l.split(","));
for (const p of adjustment.points) {
  const r = csv.find((c) => c[0] === p.point);
  must(r && near([+r[1], +r[2]], [p.easting_m, p.northing_m], 6e-5) && (r[3] === "" ? p.elevation_m === null : Math.abs(r[3] - p.elevation_m) < 6e-5), `points.csv: ${p.point}`);
}
const surface = readFileSync(join(demo, "ground.xml"), "utf8");
const stated = (name) => Number(new RegExp(`${name}="([^"]*)"`).exec(surface)?.[1]);
must((surface.match(/<F>|<F /g) ?? []).length === ground.triangles, "LandXML: faces");
must(Math.abs(stated("area2DSurf") - ground.plan_area_m2) < 0.01 && Math.abs(stated("area3DSurf") - ground.slope_area_m2) < 0.01, "LandXML: areas");

console.log(`   ${checks} figures, ${failed} wrong`);
process.exit(failed ? 1 : 0);
