// node contract.mjs PROGRAM SOURCE_FOLDER DEMO_FOLDER: runs each command with --json on a copy of the demo site and holds
// what it says against the shapes of the contract (docs/commands.md): names, types, and 95 % intervals around their value.
import { spawnSync } from "node:child_process";
import { copyFileSync, existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const [program, source, demo] = process.argv.slice(2);
const site = join(demo, "contract.gpkg");
copyFileSync(join(demo, "site.gpkg"), site);
const examples = (name) => join(source, "examples", name);

let checks = 0, failed = 0;
function must(holds, what) {
  checks++;
  if (holds) return;
  failed++;
  console.log("FAIL: " + what);
}

/* ---- shapes: a function a type; an object its keys; an array of one shape any number of such ---- */
const number = (v) => typeof v === "number" && Number.isFinite(v);
const text = (v) => typeof v === "string";
const flag = (v) => typeof v === "boolean";
const count = (v) => Number.isInteger(v) && v >= 0;
const orNull = (shape) => (v) => v === null || shape(v);
const oneOf = (...words) => (v) => words.includes(v);
const interval = (v) => Array.isArray(v) && v.length === 2 && v.every(number) && v[0] <= v[1];

function fits(value, shape, path) {
  if (typeof shape === "function") return must(shape(value), `${path} is ${JSON.stringify(value)?.slice(0, 80)}`);
  if (Array.isArray(shape)) {
    must(Array.isArray(value), `${path} is no list`);
    if (Array.isArray(value)) value.forEach((v, i) => fits(v, shape[0], `${path}[${i}]`));
    return;
  }
  must(value !== null && typeof value === "object" && !Array.isArray(value), `${path} is no object`);
  if (value === null || typeof value !== "object") return;
  for (const [key, inner] of Object.entries(shape)) {
    must(key in value, `${path} lacks "${key}"`);
    if (key in value) fits(value[key], inner, `${path}.${key}`);
  }
}
// A figure with its interval beside it: lo <= value <= hi; both null where it cannot be known.
function holds(object, key, intervalKey, path) {
  const value = object[key], around = object[intervalKey];
  must(intervalKey in object, `${path} lacks "${intervalKey}"`);
  if (value === null) return must(Array.isArray(around) && around.every((v) => v === null), `${path}.${intervalKey} of a figure that is not known`);
  must(interval(around) && around[0] <= value && value <= around[1], `${path}.${key} = ${value} lies outside of ${JSON.stringify(around)}`);
}

function run(words, statuses = [0]) {
  const done = spawnSync(program, [words[0], ...words.slice(1), "--json"], { encoding: "utf8", maxBuffer: 1 << 28 });
  const command = "merestone " + words.join(" ");
  must(statuses.includes(done.status), `${command}: exit ${done.status}: ${done.stderr.slice(0, 200)}`);
  try {
    return JSON.parse(done.stdout);
  } catch (error) {
    must(false, `${command}: no JSON: ${error.message}`);
    return null;
  }
}
function ask(words, shape, statuses) {
  const result = run(words, statuses);
  if (result) fits(result, shape, words[0]);
  return result;
}

/* ---- the readings ---- */
const adjustment = ask(["adjust", site], {
  points: [{ point: text, easting_m: orNull(number), northing_m: orNull(number), elevation_m: orNull(number), sd_easting_m: orNull(number),
    sd_northing_m: orNull(number), sd_elevation_m: orNull(number), ellipse: { semi_major_m: orNull(number), semi_minor_m: orNull(number), bearing_deg: orNull(number) } }],
  observations: [{ visit: text, page: text, row: count, kind: text, from: text, to: text, observed: number, adjusted: number, residual: number, sd: number,
    redundancy: number, standardized: orNull(number) }],
  degrees_of_freedom: count, sigma0: number, global_test: { statistic: number, lower: number, upper: number, passed: flag },
  suspects: [{ visit: text, page: text, row: count, kind: text, from: text, to: text, estimated_error: number, sentence: text }], undetermined: [text] });
if (adjustment) {
  for (const p of adjustment.points) {
    must(p.ellipse.semi_major_m >= p.ellipse.semi_minor_m, `ellipse of ${p.point}: the axes are the wrong way round`);
    must(p.ellipse.bearing_deg === null || (p.ellipse.bearing_deg >= 0 && p.ellipse.bearing_deg < 180), `ellipse of ${p.point}: bearing ${p.ellipse.bearing_deg}`);
    // the axes of the ellipse carry the variances of the two coordinates (trace of the matrix)
    must(Math.abs(p.ellipse.semi_major_m ** 2 + p.ellipse.semi_minor_m ** 2 - p.sd_easting_m ** 2 - p.sd_northing_m ** 2) < 1e-12, `ellipse of ${p.point}`);
  }
  for (const o of adjustment.observations) {
    must(Math.abs(o.adjusted - o.observed - o.residual) < 1e-9 || ["direction", "bearing", "zenith"].includes(o.kind), `${o.page} row ${o.row}: residual`);
    must(o.redundancy >= -1e-9 && o.redundancy <= 1 + 1e-9, `${o.page} row ${o.row}: redundancy ${o.redundancy}`);
  }
  // the redundancies add up to the degrees of freedom (Baarda)
  const sum = adjustment.observations.reduce((s, o) => s + o.redundancy, 0);
  must(Math.abs(sum - adjustment.degrees_of_freedom) < 1e-6, `redundancies add up to ${sum}, not ${adjustment.degrees_of_freedom}`);
  const g = adjustment.global_test;
  must(g.passed === (g.statistic >= g.lower && g.statistic <= g.upper), "the global test contradicts its own bounds");
}
// with the wrong tape taken back in, the suspect shows what a suspect is, and the answer is no
run(["set-aside", site, "--page", "tape.csv", "--row", "31", "--take-back"]);
const wrong = ask(["adjust", site], { suspects: [{ visit: text, page: text, row: count, kind: text, from: text, to: text, estimated_error: number, sentence: text }] }, [1]);
must(wrong?.suspects.length === 1, `suspects: ${wrong?.suspects.length}`);
run(["undo", site]);
ask(["levels", site], { lines: [{ point: text, row: count, backsight_m: orNull(number), intermediate_m: orNull(number), foresight_m: orNull(number), level_m: orNull(number) }],
  misclosure_m: orNull(number), allowable_m: number });

const traverse = join(demo, "traverse.gpkg"), bearings = join(demo, "bearings.csv"), held = join(demo, "held.csv");
writeFileSync(held, "point,easting (m),northing (m)\nA,0,0\n");
writeFileSync(bearings, "from,to,bearing (dms),distance (m)\nA,B,0-00-00,100.00\nB,C,90-00-00,50.01\nC,D,180-00-00,100.02\nD,A,270-00-00,50.00\n");
run(["new", traverse]);
run(["import", traverse, held, "--as", "control"]);
run(["import", traverse, bearings, "--as", "bearings"]);
ask(["traverse", traverse], { legs: [{ from: text, to: text, distance_m: number, bearing_deg: number }], departure_misclosure_m: number, latitude_misclosure_m: number,
  linear_misclosure_m: number });

/* ---- the ground ---- */
const ground = ask(["ground", site], { points: count, triangles: count, plan_area_m2: number, slope_area_m2: number, lowest_m: number, highest_m: number, warnings: [text] });
must(ground && ground.slope_area_m2 >= ground.plan_area_m2 && ground.lowest_m <= ground.highest_m, "ground: figures contradict each other");
const level = ask(["elevation", site, "120", "210"], { elevation_m: number, interval_m: interval, slope_percent: number, fall_bearing_deg: number });
if (level) holds(level, "elevation_m", "interval_m", "elevation");
const over = ask(["elevation", site, "--in", "lower lawn"], { feature: text, elevation_m: number, interval_m: interval, lowest_m: number, highest_m: number, area_m2: number,
  uncovered_m2: number, slope_percent: number });
if (over) holds(over, "elevation_m", "interval_m", "elevation --in");
const outside = spawnSync(program, ["elevation", site, "9999", "9999", "--json"], { encoding: "utf8" });
must(outside.status === 1 && /\.\s*$/.test(outside.stderr), `elevation outside the model: exit ${outside.status}: ${outside.stderr}`);
ask(["contours", site, "--interval", "0.25"], { type: oneOf("FeatureCollection"), features: [{ type: oneOf("Feature"), properties: { elevation_m: number },
  geometry: { type: oneOf("LineString"), coordinates: [[number]] } }] });
for (const words of [["--from", "112,212", "--to", "125,200"], ["--along", "swale bottom"]])
  ask(["profile", site, ...words], { points: [{ chainage_m: number, elevation_m: orNull(number) }], run_m: number, rise_m: number, fall_m: number });

/* ---- features and works ---- */
for (const feature of ["terrace", "planting bed", "west fence"]) {
  const measure = ask(["measure", site, feature], { length_m: number, slope_length_m: orNull(number), area_m2: orNull(number), slope_area_m2: orNull(number) });
  if (measure) for (const key of ["length_m", "slope_length_m", "area_m2", "slope_area_m2"]) holds(measure, key, intervalOf(measure, key), `measure ${feature}`);
}
function intervalOf(object, key) { // "length_m_interval" or "length_interval_m"
  return key + "_interval" in object ? key + "_interval" : key.replace(/_(m2|m3|m)$/, "_interval_$1");
}
ask(["works", site], { works: [{ name: text, kind: text, in: text }] });
const volumeShape = { cut_m3: number, fill_m3: number, net_m3: number, area_m2: number, uncovered_m2: number, cut_interval_m3: interval, fill_interval_m3: interval,
  net_interval_m3: interval, materials: [{ material: text, bank_m3: number, loose_m3: number, compacted_m3: number, loads: count }] };
for (const words of [[], ["--level", "99.5"], ["--level", "99.5", "--in", "terrace"], ["--depth", "0.3", "--in", "terrace"]]) {
  const volume = ask(["volume", site, ...words], volumeShape);
  if (!volume) continue;
  for (const part of [volume, ...(volume.elements ?? [])]) {
    for (const key of ["cut", "fill", "net"]) holds(part, key + "_m3", key + "_interval_m3", "volume " + words.join(" "));
    must(Math.abs(part.net_m3 - part.cut_m3 + part.fill_m3) < 1e-9, "volume: net is not cut less fill");
  }
}
for (const words of [["--element", "terrace"], ["--in", "terrace"]])
  ask(["balance", site, ...words], { level_m: number, cut_m3: number, fill_m3: number });

/* ---- quantities and price ---- */
const line = { item: text, unit: text, net: orNull(number), waste_percent: number, gross: orNull(number), packs: orNull(number), pack_unit: text, spare: orNull(number),
  source: [text], interval: (v) => Array.isArray(v) && v.length === 2 };
const bills = { takeoff: ask(["takeoff", site], { lines: [line] }),
  estimate: ask(["estimate", site], { lines: [{ ...line, rate: orNull(number), amount: orNull(number) }], currency: text, total: Number.isInteger, total_interval: interval }) };
for (const [name, bill] of Object.entries(bills)) for (const l of bill?.lines ?? []) holds(l, "net", "interval", `${name} ${l.item}`);
if (bills.estimate) {
  holds(bills.estimate, "total", "total_interval", "estimate");
  const sum = bills.estimate.lines.reduce((s, l) => s + (l.amount ?? 0), 0);
  must(sum === bills.estimate.total, `estimate: the amounts add up to ${sum}, the total says ${bills.estimate.total}`);
}

/* ---- out to the site and back ---- */
const sheet = ask(["setout", site], {
  fit: { shift_e_m: number, shift_n_m: number, turn_deg: number, scale: number, residuals: [{ point: text, de_m: number, dn_m: number }] },
  stakes: [{ stake: text, easting_m: number, northing_m: number, elevation_m: orNull(number), ground_m: orNull(number), cut_m: orNull(number), sd_m: orNull(number),
    methods: { ties: [{ from: text, distance_m: number }], polar: { at: text, backsight: text, circle_deg: number, bearing_deg: number, distance_m: number },
      offsets: { from: text, to: text, chainage_m: number, offset_m: number } } }], order: [text] });
if (sheet) {
  must(sheet.order.length === sheet.stakes.length && new Set(sheet.order).size === sheet.order.length, "setout: the order does not name every stake once");
  for (const s of sheet.stakes) must(s.cut_m === null || Math.abs(s.ground_m - s.elevation_m - s.cut_m) < 1e-9, `setout ${s.stake}: cut`);
}
for (const method of ["ties", "polar", "offsets", "grades"]) ask(["setout", site, "--method", method], { stakes: [{ stake: text }] });
const proof = ask(["verify", site, examples("built.csv")], { checks: [{ point: text, stake: text, de_m: orNull(number), dn_m: orNull(number), dz_m: orNull(number),
  distance_m: orNull(number), tolerance_m: number, sd_m: orNull(number), verdict: oneOf("pass", "fail", "cannot tell"), sentence: text }] }, [1]);
must(proof?.checks.some((c) => c.verdict === "fail") && proof.checks.some((c) => c.verdict === "cannot tell"), "verify: the demo has one that fails and one that cannot be told");

/* ---- history, files ---- */
const history = ask(["history", site], { changes: [{ revision: count, at: (v) => /^\d{4}-\d\d-\d\dT/.test(v), who: text, why: text }] });
must(history?.changes.every((c, i) => i === 0 || c.revision > history.changes[i - 1].revision), "history: not in order");
const before = history?.revision;
const undone = ask(["undo", site], { revision: count });
const redone = ask(["redo", site], { revision: count });
must(undone?.revision === before + 1 && redone?.revision === before + 2, "undo and redo are changes themselves");
for (const [words, file] of [[["draw", site, "--sheet", "plan", "--scale", "200", "--paper", "A3"], "c.pdf"], ...["dxf", "geojson", "csv", "landxml", "xlsx"].map((to) => [["export", site, "--to", to], "c." + to])]) {
  run([...words, "-o", join(demo, file)]);
  must(existsSync(join(demo, file)), `${words[0]} wrote no ${file}`);
}
const itself = ask(["against", site, join(demo, "c.landxml")], { surface: text, deepest_cut_m: number, deepest_fill_m: number, ...volumeShape });
must(itself && Math.abs(itself.cut_m3) + Math.abs(itself.fill_m3) < 1e-6, "against: the ground differs from itself");
for (const look of ["shade", "slopes", "levels", "doubt"]) run(["draw", site, "--ground", look, "-o", join(demo, "look.svg")]);
const fresh = join(demo, "fresh.gpkg");
ask(["new", fresh, "--title", "x", "--units", "imperial"], { path: text, title: text, units: oneOf("imperial") });
ask(["import", fresh, examples("control.csv"), "--as", "control"], { page: text, kind: oneOf("control"), rows: count, visit: text, gear: text, revision: count, warnings: [text] });

/* ---- what the page promises is there ---- */
const page = readFileSync(join(source, "docs", "commands.md"), "utf8");
const help = spawnSync(program, ["help"], { encoding: "utf8" }).stdout;
const promised = new Set([...page.matchAll(/^ {4}merestone ([a-z-]+)/gm), ...page.matchAll(/^#{2,3} ([a-z-]+(?:, [a-z-]+)*)(?=$| [A-Z-])/gm)].flatMap((m) => m[1].split(", ")));
for (const name of promised) must(help.includes(`merestone ${name} `), `docs/commands.md describes "${name}", which the program does not have`);

console.log(`${checks} checks, ${failed} failed`);
process.exit(failed ? 1 : 0);
