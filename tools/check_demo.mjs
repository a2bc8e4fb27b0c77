// Holds the demo's field pages against their truth and against themselves: node tools/check_demo.mjs [FOLDER]
// Prints one line a check; ends with status 1 when one fails. Reads only the files, not the generator.
import { readFileSync } from "node:fs";
import { join } from "node:path";

const folder = process.argv[2] ?? "examples";

function records(text) {
  const rows = [];
  for (const line of text.trimEnd().split("\n")) {
    const cells = [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map(
      (m) => m[1]?.replaceAll('""', '"') ?? m[2],
    );
    rows.push(cells);
  }
  const names = rows[0].map((name) => name.replace(/ \(.*\)$/, ""));
  return rows.slice(1).map((cells) => Object.fromEntries(names.map((name, i) => [name, cells[i] ?? ""])));
}
const page = (name) => records(readFileSync(join(folder, name + ".csv"), "utf8"));
const number = (text) => (text === "" ? NaN : Number(text));
const radians = (dms) => {
  const [d, m, s] = dms.split("-").map(Number);
  return ((d + m / 60 + s / 3600) * Math.PI) / 180;
};
const signed = (a) => Math.atan2(Math.sin(a), Math.cos(a));

const T = Object.fromEntries(
  page("truth").map((r) => [r.point, { e: number(r.easting), n: number(r.northing), h: number(r.elevation) }]),
);
const d3 = (a, b) => Math.hypot(T[b].e - T[a].e, T[b].n - T[a].n, T[b].h - T[a].h);
const d2 = (a, b) => Math.hypot(T[b].e - T[a].e, T[b].n - T[a].n);

let failed = 0;
function check(what, good, figure = "") {
  if (!good) failed++;
  console.log(`${good ? "ok  " : "FAIL"} ${what}${figure === "" ? "" : ": " + figure}`);
}
const rms = (xs) => Math.sqrt(xs.reduce((s, x) => s + x * x, 0) / xs.length);
const worst = (xs) => Math.max(...xs.map(Math.abs));

function levelBook() {
  let collimation = NaN,
    at = NaN,
    setUps = 0;
  const errors = [];
  for (const r of page("levels")) {
    const bs = number(r.backsight),
      fs = number(r.foresight),
      is = number(r.intermediate);
    if (!Number.isNaN(fs)) at = collimation - fs;
    if (!Number.isNaN(is)) errors.push(collimation - is - T[r.point].h);
    if (!Number.isNaN(bs)) {
      collimation = (Number.isNaN(at) ? T[r.point].h : at) + bs;
      setUps++;
    }
  }
  const misclosure = at - T.BM1.h;
  check(
    `level book closes on BM1 within 5 mm x sqrt(${setUps})`,
    Math.abs(misclosure) <= 0.005 * Math.sqrt(setUps),
    `${(misclosure * 1000).toFixed(1)} mm`,
  );
  check("levels book by hand against truth, worst", worst(errors) < 0.012, `${(worst(errors) * 1000).toFixed(1)} mm`);
}

function setUps() {
  const rows = page("angles"),
    errors = { circle: [], zenith: [], distance: [] };
  for (const at of new Set(rows.map((r) => r.at))) {
    const mine = rows.filter((r) => r.at === at);
    const off = mine.map((r) => signed(Math.atan2(T[r.to].e - T[at].e, T[r.to].n - T[at].n) - radians(r.circle)));
    const mean = off[0] + off.reduce((s, x) => s + signed(x - off[0]), 0) / off.length; // the set-up's orientation
    mine.forEach((r, i) => {
      const plan = d2(at, r.to),
        rise = T[r.to].h - T[at].h - number(r["instrument height"]) + number(r["target height"]);
      errors.circle.push(signed(off[i] - mean) * plan);
      errors.zenith.push((radians(r.zenith) - Math.atan2(plan, rise)) * plan);
      errors.distance.push(number(r["slope distance"]) - Math.hypot(plan, rise));
    });
  }
  for (const [kind, list] of Object.entries(errors))
    check(
      `total station, ${kind} of ${list.length} sights, worst across or along`,
      worst(list) < 0.012,
      `rms ${(rms(list) * 1000).toFixed(1)}, worst ${(worst(list) * 1000).toFixed(1)} mm`,
    );
}

function walk() {
  const rows = page("legs");
  let a = 0,
    b = 0;
  for (const r of rows) {
    const de = T[r.to].e - T[r.from].e,
      dn = T[r.to].n - T[r.from].n,
      x = number(r.dx),
      y = number(r.dy);
    a += de * x + dn * y;
    b += de * y - dn * x;
  }
  const turn = Math.atan2(b, a),
    errors = [];
  let sum = [0, 0, 0],
    seconds = 0;
  rows.forEach((r, i) => {
    const de = T[r.to].e - T[r.from].e,
      dn = T[r.to].n - T[r.from].n,
      t = number(r.time),
      sd = Math.hypot(0.008, 0.002 * t ** 1.5);
    errors.push(
      (number(r.dx) - (de * Math.cos(turn) - dn * Math.sin(turn))) / sd,
      (number(r.dy) - (de * Math.sin(turn) + dn * Math.cos(turn))) / sd,
      (number(r.dz) - (T[r.to].h - T[r.from].h)) / sd,
    );
    sum = sum.map((s, k) => s + number([r.dx, r.dy, r.dz][k]));
    seconds += t;
    if (i > 0 && rows[i - 1].to !== r.from) check(`leg ${i + 2} starts where the last one ended`, false);
  });
  check(
    `${rows.length} legs, ${seconds.toFixed(0)} s, residuals over their sd against truth`,
    rms(errors) > 0.75 && rms(errors) < 1.25,
    `rms ${rms(errors).toFixed(2)}`,
  );
  check(
    "the walk ends where it began",
    rows[0].from === rows[rows.length - 1].to,
    `misclosure ${sum.map((s) => (s * 1000).toFixed(0)).join(" / ")} mm`,
  );
  const common = rows.filter((r) => r.from === "H4" && r.to === "H3")[0];
  check(
    "the common edge H4-H3 agrees with visit 1",
    common && Math.abs(Math.hypot(number(common.dx), number(common.dy)) - d2("H4", "H3")) < 0.15,
  );
}

function tapes() {
  const bad = [];
  for (const r of page("tape")) {
    const length = r.slope === "yes" ? d3(r.from, r.to) : d2(r.from, r.to),
      error = number(r.distance) - length;
    if (Math.abs(error) > 3.5 * Math.hypot(0.005, 5e-4 * length, 0.0015)) bad.push([r.from, r.to, error]);
  }
  check(
    "exactly one tape is wrong, by 1.00 m",
    bad.length === 1 && Math.abs(bad[0][2] - 1) < 0.03,
    bad.map(([f, t, e]) => `${f}-${t} ${e.toFixed(3)} m`).join("; "),
  );
}

function rover() {
  const rows = page("rover"),
    mean = (f) => rows.reduce((s, r) => s + f(r), 0) / rows.length;
  const x0 = mean((r) => number(r.easting)),
    y0 = mean((r) => number(r.northing)),
    z0 = mean((r) => number(r.elevation));
  const e0 = mean((r) => T[r.point].e),
    n0 = mean((r) => T[r.point].n),
    h0 = mean((r) => T[r.point].h);
  const dot = mean(
    (r) => (number(r.easting) - x0) * (T[r.point].e - e0) + (number(r.northing) - y0) * (T[r.point].n - n0),
  );
  const cross = mean(
    (r) => (number(r.easting) - x0) * (T[r.point].n - n0) - (number(r.northing) - y0) * (T[r.point].e - e0),
  );
  const turn = Math.atan2(cross, dot),
    errors = rows.flatMap((r) => {
      const x = number(r.easting) - x0,
        y = number(r.northing) - y0;
      return [
        x * Math.cos(turn) - y * Math.sin(turn) - T[r.point].e + e0,
        x * Math.sin(turn) + y * Math.cos(turn) - T[r.point].n + n0,
        number(r.elevation) - z0 - T[r.point].h + h0,
      ];
    });
  check(
    "rover page laid on the truth by shift and turn, worst",
    worst(errors) < 0.05,
    `${(worst(errors) * 1000).toFixed(0)} mm`,
  );
}

// ---- features ----

const cross = (a, b, c) => (b.e - a.e) * (c.n - a.n) - (b.n - a.n) * (c.e - a.e);
const cut = (a, b, c, d) => cross(a, b, c) * cross(a, b, d) < 0 && cross(c, d, a) * cross(c, d, b) < 0;

function edges(rows, closed) {
  const list = rows.slice(1).map((r, i) => [rows[i].point, r.point]);
  if (closed) list.push([rows[rows.length - 1].point, rows[0].point]);
  return list;
}
function crossings(first, second) {
  const found = [];
  for (const [a, b] of first)
    for (const [c, d] of second)
      if (new Set([a, b, c, d]).size === 4 && cut(T[a], T[b], T[c], T[d])) found.push(`${a}-${b} x ${c}-${d}`);
  return found;
}

function features() {
  const rows = page("features"),
    byName = Map.groupBy ? Map.groupBy(rows, (r) => r.feature) : group(rows);
  const measured = new Set([
    ...page("angles").map((r) => r.to),
    ...page("legs").flatMap((r) => [r.from, r.to]),
    ...page("offsets").map((r) => r.point),
    ...page("rover").map((r) => r.point),
    ...page("control").map((r) => r.point),
  ]);
  const missing = rows.filter((r) => !measured.has(r.point)).map((r) => r.point);
  check(`${byName.size} features, every point of them measured`, missing.length === 0, missing.join(" "));
  const straight = [];
  for (const [name, list] of byName) {
    let outline = list.filter((r) => r.role !== "hole" || list[0].role === "hole");
    if (outline.length > 1 && outline[0].point === outline[outline.length - 1].point) outline = outline.slice(0, -1); // closed by name
    const mine = edges(outline, list[0].kind === "area");
    const self = crossings(mine, mine);
    if (self.length > 0) check(`${name} does not cross itself`, false, self.join("; "));
    if (["boundary", "breakline", "hole"].includes(list[0].role)) straight.push([name, mine]);
  }
  const clashes = straight.flatMap(([name, list], i) =>
    straight.slice(i + 1).flatMap(([other, more]) => crossings(list, more).map((x) => `${name}, ${other}: ${x}`)),
  );
  check("breaklines, boundary and house do not cross", clashes.length === 0, clashes.join("; "));
  const circle = (list) => list.filter((r) => r.edge === "circle").map((r) => T[r.point]);
  const bed = circle(byName.get("tree bed")),
    centre = T.TR1,
    radii = bed.map((p) => Math.hypot(p.e - centre.e, p.n - centre.n));
  check(
    "the tree bed is a circle through 4 points",
    bed.length === 4 && Math.max(...radii) - Math.min(...radii) < 0.001,
    `radius ${radii[0].toFixed(3)} m`,
  );
}
function group(rows) {
  const map = new Map();
  for (const r of rows) map.set(r.feature, [...(map.get(r.feature) ?? []), r]);
  return map;
}

function site() {
  const points = Object.values(T),
    levelled = points.filter((p) => !Number.isNaN(p.h)).map((p) => p.h);
  check(`${points.length} points, at least 80 with a level`, levelled.length >= 80, String(levelled.length));
  const ground = Object.entries(T)
    .filter(([name, p]) => !Number.isNaN(p.h) && !/^(FFL|DPC|BM)/.test(name))
    .map(([, p]) => p.h);
  check(
    "the ground falls by 2 m or more",
    Math.max(...ground) - Math.min(...ground) >= 2,
    `${(Math.max(...ground) - Math.min(...ground)).toFixed(2)} m`,
  );
  const run = ["SB1", "SB2", "SB3", "SB4", "OUT"].map((p) => T[p].h);
  check(
    "the swale falls all the way to the outfall",
    run.every((h, i) => i === 0 || h < run[i - 1]),
    run.map((h) => h.toFixed(2)).join(" > "),
  );
}

levelBook();
setUps();
walk();
tapes();
rover();
features();
site();
process.exitCode = failed ? 1 : 0;
