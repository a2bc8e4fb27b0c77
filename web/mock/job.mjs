// A stand-in for the operations, for work on the page alone: it answers in the right shapes with plausible figures from
// the demo's pages. Its arithmetic is rough on purpose; nothing of it ships, and the stories run against the real program.
import { readFileSync } from "node:fs";

const csv = (text) => text.trim().split(/\r?\n/).map((line) => line.match(/("([^"]|"")*"|[^,]*)(,|$)/g).map((c) => c.replace(/,$/, "").replace(/^"|"$/g, "")).slice(0, line.split(",").length));
const records = (text) => { const [head, ...rows] = csv(text); return rows.map((r) => Object.fromEntries(head.map((h, i) => [h.replace(/ \(.*\)/, ""), r[i] ?? ""]))); };
const noise = (name) => { let h = 7; for (const c of name) h = (h * 31 + c.charCodeAt(0)) % 9973; return h / 9973; };

function delaunay(p) {
  const big = 1e4, n = p.length, all = [...p, [-big, -big], [big * 2, -big], [0, big * 2]];
  let t = [[n, n + 1, n + 2]];
  const inside = ([a, b, c], d) => {
    const [ax, ay] = [all[a][0] - d[0], all[a][1] - d[1]], [bx, by] = [all[b][0] - d[0], all[b][1] - d[1]], [cx, cy] = [all[c][0] - d[0], all[c][1] - d[1]];
    return (ax * ax + ay * ay) * (bx * cy - cx * by) - (bx * bx + by * by) * (ax * cy - cx * ay) + (cx * cx + cy * cy) * (ax * by - bx * ay) > 0;
  };
  for (let i = 0; i < n; i++) {
    const bad = t.filter((f) => inside(f, all[i])), edges = new Map();
    for (const [a, b, c] of bad) for (const [u, v] of [[a, b], [b, c], [c, a]]) edges.has(`${v},${u}`) ? edges.delete(`${v},${u}`) : edges.set(`${u},${v}`, [u, v]);
    t = t.filter((f) => !bad.includes(f)).concat([...edges.values()].map(([u, v]) => [u, v, i]));
  }
  return t.filter((f) => f.every((i) => i < n));
}

const within = (poly, x, y) => { let odd = false; for (let i = 0, j = poly.length - 1; i < poly.length; j = i++) { const [a, b] = poly[i], [c, d] = poly[j]; if (b > y !== d > y && x < ((c - a) * (y - b)) / (d - b) + a) odd = !odd; } return odd; };
const bulgeThrough = (a, m, b) => { const turn = Math.atan2(b[1] - m[1], b[0] - m[0]) - Math.atan2(m[1] - a[1], m[0] - a[0]); return Math.tan(Math.atan2(Math.sin(turn), Math.cos(turn)) / 2); };

export function openJob(folder, { empty = false, grid = 0 } = {}) {
  const read = (name) => { try { return readFileSync(`${folder}/${name}.csv`, "utf8"); } catch { return ""; } };
  const truth = new Map(records(read("truth")).map((r) => [r.point, [Number(r.easting), Number(r.northing), r.elevation === "" ? null : Number(r.elevation)]]));
  if (grid) for (let i = 0; i < grid; i++) for (let j = 0; j < grid; j++) truth.set(`S${i}_${j}`, [96 + (i / grid) * 42, 202 + (j / grid) * 36, 99.4 + 0.9 * Math.sin(i / grid * 5) * Math.cos(j / grid * 4)]);
  let state, undone = [], past = [], revision = 1;
  const fresh = () => ({ title: "", units: "metric", pages: [], features: [], works: [], prices: [], aside: {} });
  const demo = () => {
    const s = fresh();
    s.title = "Garden at the end of the lane";
    let id = 1;
    for (const [kind, visit] of [["control", "day 1"], ["angles", "day 1"], ["tape", "day 1"], ["levels", "day 1"], ["offsets", "day 1"], ["legs", "day 2"], ["rover", "day 2"], ["stakes", "design"], ["built", "as built"]]) {
      const text = read(kind); if (!text) continue;
      const lines = text.trim().split("\n");
      s.pages.push({ name: `${kind}.csv`, kind: kind === "rover" ? "points" : kind, visit, gear: kind, header: lines[0], notes: "", rows: lines.slice(1).map((raw, i) => ({ id: id++, line: i + 2, raw })) });
    }
    const rows = records(read("features"));
    for (const name of new Set(rows.map((r) => r.feature))) { const of = rows.filter((r) => r.feature === name); s.features.push({ name, code: of[0].code, kind: of[0].kind, role: of[0].role || "default", points: of.map((r) => ({ point: r.point, edge: r.edge, ring: r.role === "hole" && of[0].role !== "hole" ? 1 : 0 })) }); }
    s.works = JSON.parse(readFileSync(`${folder}/works.json`, "utf8")).map((definition, position) => ({ name: definition.name, position, definition }));
    s.prices = [["Dig and load, subsoil", "m3", "clay", "cut", 1850, 0], ["Strip topsoil", "m3", "topsoil", "strip", 1400, 0], ["Cart away", "load", "", "loads", 21000, 0], ["Flags 600 x 400", "m2", "flags", "layer", 3850, 10], ["Bedding mortar", "m3", "bedding", "layer", 14500, 5], ["Sub-base, compacted", "m3", "sub-base", "layer", 6200, 5], ["Edging", "m", "edging", "length", 1950, 5], ["Fence, post and rail", "m", "fence", "length", null, 5]];
    return s;
  };
  state = empty ? fresh() : demo();
  const history = [{ revision: 1, at: "2026-05-04T08:10:00Z", who: "", why: empty ? "made the site" : "took in the demo's pages", undone: false, rows: 300 }];
  let own = ""; const change = (why, edit) => { why = own || why; past.push(structuredClone(state)); undone = []; edit(state); history.push({ revision: ++revision, at: new Date().toISOString(), who: "", why, undone: false, rows: 1 }); return { revision, sentence: why }; };

  const known = () => state.pages.length > 0;
  const place = (n) => truth.get(n);
  function pathsOf(f) {
    const rings = new Map();
    for (const v of f.points) (rings.get(v.ring ?? 0) ?? rings.set(v.ring ?? 0, []).get(v.ring ?? 0)).push(v);
    return [...rings.values()].map((ring) => {
      const at = ring.map((v) => place(v.point)).filter(Boolean), out = [];
      const closed = f.kind === "area";
      if (ring[0]?.edge === "circle" && at.length > 2) at.forEach((p, i) => { const q = at[(i + 1) % at.length], c = [at.reduce((s, x) => s + x[0], 0) / at.length, at.reduce((s, x) => s + x[1], 0) / at.length]; const turn = Math.atan2(q[1] - c[1], q[0] - c[0]) - Math.atan2(p[1] - c[1], p[0] - c[0]); out.push([...p, Math.tan(Math.atan2(Math.sin(turn), Math.cos(turn)) / 4)]); });
      else for (let i = 0; i < ring.length; i++) {
        const p = place(ring[i].point); if (!p) continue;
        const next = ring[(i + 1) % ring.length], after = ring[(i + 2) % ring.length];
        if (next?.edge === "arc" && after?.edge === "arc" && place(next.point) && place(after.point) && i + 1 < ring.length) { out.push([...p, bulgeThrough(p, place(next.point), place(after.point))]); i++; }
        else out.push([...p, next?.edge === "curve" && i + 1 < ring.length ? 0.18 : 0]);
      }
      return { closed, vertices: out };
    });
  }
  const flat = (f) => pathsOf(f)[0].vertices.map((v) => [v[0], v[1]]);
  const feature = (name) => state.features.find((f) => f.name === name);
  const groundNames = () => { const none = new Set(state.features.filter((f) => f.role === "none").flatMap((f) => f.points.map((v) => v.point))); return [...truth].filter(([n, p]) => p[2] !== null && !none.has(n) && n !== "BM1" && n !== "BM2"); };
  let meshKept;
  function mesh() {
    if (!known()) return { vertices: [], faces: [] };
    if (meshKept) return meshKept;
    const at = groundNames().map(([, p]) => p);
    if (grid) { const f = []; for (let i = 0; i < grid - 1; i++) for (let j = 0; j < grid - 1; j++) { const a = at.length - grid * grid + i * grid + j; f.push([a, a + grid, a + 1], [a + 1, a + grid, a + grid + 1]); } return (meshKept = { vertices: at, faces: f }); }
    const plot = flat(feature("plot")), house = flat(feature("house"));
    const faces = delaunay(at.map((p) => [p[0] + noise(`${p[0]}`) * 1e-6, p[1]])).filter((f) => { const x = (at[f[0]][0] + at[f[1]][0] + at[f[2]][0]) / 3, y = (at[f[0]][1] + at[f[1]][1] + at[f[2]][1]) / 3; return within(plot, x, y) && !within(house, x, y); });
    return (meshKept = { vertices: at, faces });
  }
  const levelAt = (x, y) => { const m = mesh(); for (const [a, b, c] of m.faces) { const [A, B, C] = [m.vertices[a], m.vertices[b], m.vertices[c]], d = (B[1] - C[1]) * (A[0] - C[0]) + (C[0] - B[0]) * (A[1] - C[1]), u = ((B[1] - C[1]) * (x - C[0]) + (C[0] - B[0]) * (y - C[1])) / d, v = ((C[1] - A[1]) * (x - C[0]) + (A[0] - C[0]) * (y - C[1])) / d; if (u >= -1e-9 && v >= -1e-9 && u + v <= 1 + 1e-9) return u * A[2] + v * B[2] + (1 - u - v) * C[2]; } return null; };

  function contours(step) {
    const m = mesh(), lines = [];
    for (const f of m.faces) { const p = f.map((i) => m.vertices[i]); const lo = Math.min(...p.map((q) => q[2])), hi = Math.max(...p.map((q) => q[2]));
      for (let k = Math.ceil(lo / step); k * step < hi; k++) { const z = k * step + 1e-7, cut = []; for (let i = 0; i < 3; i++) { const a = p[i], b = p[(i + 1) % 3]; if (a[2] > z !== b[2] > z) { const t = (z - a[2]) / (b[2] - a[2]); cut.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]); } } if (cut.length === 2) lines.push({ k, cut }); } }
    const byLevel = new Map(); for (const { k, cut } of lines) (byLevel.get(k) ?? byLevel.set(k, []).get(k)).push(cut);
    const features = [];
    for (const [k, cuts] of byLevel) { const key = (p) => `${p[0].toFixed(4)},${p[1].toFixed(4)}`; while (cuts.length) { let line = cuts.pop(); for (let grown = true; grown;) { grown = false; for (let i = 0; i < cuts.length; i++) { const [a, b] = cuts[i], s = key(line[0]), e = key(line.at(-1)); if (key(a) === e) line = [...line, b]; else if (key(b) === e) line = [...line, a]; else if (key(a) === s) line = [b, ...line]; else if (key(b) === s) line = [a, ...line]; else continue; cuts.splice(i, 1); grown = true; break; } } features.push({ type: "Feature", properties: { elevation_m: Number((k * step).toFixed(3)), index: k % 5 === 0, closed: false }, geometry: { type: "LineString", coordinates: line } }); } }
    return { type: "FeatureCollection", interval_m: step, features };
  }

  const number = (t) => { const s = String(t ?? "0"); const v = parseFloat(s); return /mm$/.test(s) ? v / 1000 : v; };
  function elementVolume(w) {
    const d = w.definition, poly = flat(feature(d.in)), strip = number(d.strip), build = (d.layers ?? []).reduce((s, l) => s + number(l.thickness), 0);
    const fall = d.fall ? (String(d.fall).startsWith("1:") ? 1 / Number(String(d.fall).slice(2)) : number(d.fall) / 100) : 0, b = (Number(d.towards ?? 0) * Math.PI) / 180, at = place(d.at) ?? poly[0];
    const xs = poly.map((p) => p[0]), ys = poly.map((p) => p[1]), step = 0.25; let cut = 0, fill = 0, area = 0, uncovered = 0;
    for (let x = Math.min(...xs) + step / 2; x < Math.max(...xs); x += step) for (let y = Math.min(...ys) + step / 2; y < Math.max(...ys); y += step) { if (!within(poly, x, y)) continue; area += step * step; const g = grid ? 99.4 + 0.9 * Math.sin(((x - 96) / 42) * 5) * Math.cos(((y - 202) / 36) * 4) : levelAt(x, y); if (g === null) { uncovered += step * step; continue; } const dz = d.kind === "depth" ? number(d.depth) : g - strip - (number(d.level) - fall * ((x - at[0]) * Math.sin(b) + (y - at[1]) * Math.cos(b)) - build); dz > 0 ? (cut += dz * step * step) : (fill -= dz * step * step); }
    return { element: w.name, ...figures(cut, fill, area, uncovered), strip_m3: strip * area };
  }
  const band = (v, a) => { const h = a * 0.016 + v * 0.01; return [v - h, v + h]; };
  const figures = (cut, fill, area, uncovered) => ({ cut_m3: cut, fill_m3: fill, net_m3: cut - fill, area_m2: area, uncovered_m2: uncovered, cut_interval_m3: band(cut, area).map((v) => Math.max(0, v)), fill_interval_m3: band(fill, area).map((v) => Math.max(0, v)), net_interval_m3: band(cut - fill, area) });
  function volume(works = state.works) {
    const e = works.filter((w) => feature(w.definition.in)).map(elementVolume), sum = (k) => e.reduce((s, x) => s + x[k], 0), strip = sum("strip_m3"), cut = sum("cut_m3"), fill = sum("fill_m3");
    return { ...figures(cut, fill, sum("area_m2"), sum("uncovered_m2")), strip_m3: strip, elements: e, cautions: [], materials: [{ material: "clay", bank_m3: cut, loose_m3: cut * 1.3, compacted_m3: cut * 0.9, loads: Math.ceil((cut * 1.3) / 10) }, { material: "topsoil", bank_m3: strip, loose_m3: strip * 1.4, compacted_m3: strip * 0.95, loads: Math.ceil((strip * 1.4) / 10) }, { material: "sub-base", bank_m3: 0, loose_m3: 7.6, compacted_m3: 5.9, loads: 1 }] };
  }
  const observations = () => state.pages.filter((p) => p.kind === "tape").flatMap((p) => p.rows.filter((r) => !state.aside[r.id]).map((r) => { const [from, to, d] = csv(r.raw)[0]; const a = place(from), b = place(to); const adjusted = a && b ? Math.hypot(a[0] - b[0], a[1] - b[1]) : Number(d); const sd = Math.hypot(0.005, 0.0005 * adjusted); return { visit: p.visit, page: p.name, row: r.line, reading_id: r.id, unit: "m", smallest_error: 0.03, kind: "distance", from, to, observed: Number(d), adjusted, residual: adjusted - Number(d), sd, redundancy: 0.55, standardized: (adjusted - Number(d)) / sd / 0.74 }; }));
  function adjust() {
    const obs = observations();
    return { points: known() ? [...truth].filter(([n]) => !n.startsWith("S") || !n.includes("_")).map(([point, [e, n, z]]) => { const s = 0.004 + 0.012 * noise(point); const held = point === "A" || point === "B"; return { point, code: "", easting_m: e, northing_m: n, elevation_m: z, sd_easting_m: held ? 0 : s, sd_northing_m: held ? 0 : s * 0.7, sd_elevation_m: z === null ? null : 0.003 + 0.006 * noise(point + "z"), ellipse: { semi_major_m: held ? 0 : s, semi_minor_m: held ? 0 : s * 0.6, bearing_deg: noise(point + "b") * 180 }, held_plan: held, held_height: false, readings: noise(point) > 0.85 ? 1 : 3 }; }) : [],
      observations: obs, degrees_of_freedom: obs.length * 2, sigma0: 1.08, global_test: { statistic: 93.2, lower: 61.1, upper: 112.4, passed: true }, undetermined: [], undetermined_why: [], frames: [], sd_scale: 1.08, iterations: 3,
      suspects: obs.filter((o) => Math.abs(o.standardized) > 3.3).map((o) => ({ visit: o.visit, page: o.page, row: o.row, reading_id: o.reading_id, unit: "m", alone: true, kind: o.kind, from: o.from, to: o.to, estimated_error: -o.residual, sentence: `The tape ${o.from}-${o.to} is about ${(-o.residual).toFixed(2)} m ${o.residual < 0 ? "long" : "short"}; measure it again.` })), datum: "A and B are held in plan, BM1 in height (local datum, not sea level)." };
  }
  function bill() {
    const v = volume(), layer = (m) => state.works.flatMap((w) => (w.definition.layers ?? []).filter((l) => l.material === m).map((l) => [w.name, elementVolume(w).area_m2, number(l.thickness)]));
    const length = (code) => state.features.filter((f) => f.code === code && f.kind === "line").map((f) => { const p = flat(f); return [f.name, p.slice(1).reduce((s, q, i) => s + Math.hypot(q[0] - p[i][0], q[1] - p[i][1]), 0)]; });
    const lines = state.prices.map(([item, unit, code, measure, rate, waste]) => {
      let net = 0, source = [];
      if (measure === "cut") [net, source] = [v.cut_m3, v.elements.map((e) => e.element)];
      if (measure === "strip") [net, source] = [v.strip_m3, v.elements.map((e) => e.element)];
      if (measure === "loads") [net, source] = [v.materials.slice(0, 2).reduce((s, m) => s + m.loads, 0), []];
      if (measure === "layer") { const l = layer(code); net = l.reduce((s, [, a, t]) => s + (unit === "m2" ? a : a * t), 0); source = l.map((x) => x[0]); }
      if (measure === "length") { const l = length(code); net = l.reduce((s, x) => s + x[1], 0); source = l.map((x) => x[0]); }
      const gross = net * (1 + waste / 100), pack = unit === "m2" ? 8.64 : null, packs = pack ? Math.ceil(gross / pack) : null, buy = pack ? packs * pack : gross;
      return { item, unit, net, waste_percent: waste, gross, packs, pack_unit: pack ? "crate" : null, spare: pack ? buy - gross : null, source, interval: [net * 0.97, net * 1.03], rate, amount: rate === null ? null : Math.round(buy * rate) };
    });
    const total = lines.reduce((s, l) => s + (l.amount ?? 0), 0);
    return { lines, currency: "EUR", total, total_interval: [Math.round(total * 0.962), Math.round(total * 1.041)], warnings: lines.filter((l) => l.rate === null).map((l) => `${l.item}: no rate yet; its amount is not in the total.`) };
  }
  const turn = (-191.4 + 180) * Math.PI / 180, h4 = () => place("H4") ?? [0, 0];
  const onSite = (s) => { const x = s[0] - 1000, y = s[1] - 500; return [h4()[0] + x * Math.cos(turn) - y * Math.sin(turn), h4()[1] + x * Math.sin(turn) + y * Math.cos(turn)]; };
  function setout() {
    const page = state.pages.find((p) => p.kind === "stakes"); if (!page) return { fit: { shift_e_m: 0, shift_n_m: 0, turn_deg: 0, scale: 1, residuals: [] }, stakes: [], order: [] };
    const stakes = records(read("stakes")).filter((r) => !place(r.stake)).map((r) => { const [e, n] = onSite([Number(r.easting), Number(r.northing)]), z = r.elevation ? Number(r.elevation) : null, g = levelAt(e, n); const ties = [...truth].filter(([m]) => "ABCHK".includes(m[0])).map(([m, p]) => ({ from: m, distance_m: Math.hypot(p[0] - e, p[1] - n) })).sort((a, b) => a.distance_m - b.distance_m).slice(0, 3); return { stake: r.stake, code: r.code, easting_m: e, northing_m: n, elevation_m: z, ground_m: g, cut_m: z !== null && g !== null ? g - z : null, sd_m: 0.006, methods: { ties, polar: { at: "A", backsight: "B", circle_deg: noise(r.stake) * 360, bearing_deg: 40, distance_m: ties[0].distance_m + 3 }, offsets: { from: "H4", to: "H3", chainage_m: Number(r.easting) - 1000, offset_m: 500 - Number(r.northing) } }, caution: "" }; });
    return { fit: { shift_e_m: -885.2, shift_n_m: -284.1, turn_deg: 11.4, scale: 1, residuals: ["H1", "H3", "H4"].map((point) => ({ point, de_m: (noise(point) - 0.5) * 0.012, dn_m: (noise(point + "n") - 0.5) * 0.012 })), sentence: "The design fits three shared corners to 6 mm." }, stakes, order: stakes.map((s) => s.stake) };
  }
  function verify() {
    if (!state.pages.some((p) => p.kind === "built")) return { checks: [] };
    const at = new Map(setout().stakes.map((s) => [s.stake, s]));
    return { checks: records(read("built")).filter((r) => at.has(r.point)).map((r) => { const s = at.get(r.point), de_m = Number(r.easting) - s.easting_m, dn_m = Number(r.northing) - s.northing_m, dz_m = r.elevation && s.elevation_m !== null ? Number(r.elevation) - s.elevation_m : null, distance_m = Math.hypot(de_m, dn_m) % 0.05, u = 0.012; const verdict = distance_m + u < 0.025 ? "pass" : distance_m - u > 0.025 ? "fail" : "cannot tell"; return { point: r.point, stake: r.point, de_m: de_m % 0.04, dn_m: dn_m % 0.04, dz_m, distance_m, tolerance_m: 0.025, sd_m: 0.006, verdict, sentence: verdict === "pass" ? `${r.point} is ${Math.round(distance_m * 1000)} mm from its stake, inside 25 mm.` : verdict === "fail" ? `${r.point} is ${Math.round(distance_m * 1000)} mm from its stake, outside 25 mm.` : `${r.point} is ${Math.round(distance_m * 1000)} mm from its stake; this gear cannot tell on which side of 25 mm it lies.` }; }) };
  }
  const fail = (status, sentence, more = {}) => { throw { status, sentence, page: "", row: 0, column: 0, ...more }; };
  const need = () => known() || fail("too few", "There are no readings yet; take in a page or type one.");

  const operations = {
    site: (a) => ({ title: state.title, units: state.units, revision, visits: [...new Set(state.pages.map((p) => p.visit))].filter(Boolean), settings: { currency: "EUR" }, pages: state.pages.map((p, i) => ({ ...p, id: i + 1, site_frame: false, columns: p.header.split(",").map((c) => c.replace(/ \(.*/, "")), rows: p.rows.map((r) => ({ id: r.id, line: r.line, cells: csv(r.raw)[0], set_aside: state.aside[r.id] ?? null })) })), features: known() ? state.features.map((f) => ({ ...f, paths: f.kind === "spot" ? [] : pathsOf(f), missing: "" })) : [], works: state.works, sheets: [], stakes: [], ...(a["with-ground"] ? { ground: { vertices: mesh().vertices.flat(), triangles: mesh().faces.flat() } } : {}) }),
    adjust: () => (need(), adjust()),
    ground: () => { need(); const m = mesh(), z = m.vertices.map((v) => v[2]); return { points: m.vertices.length, triangles: m.faces.length, plan_area_m2: 824.6, slope_area_m2: 829.1, lowest_m: z.reduce((a, b) => Math.min(a, b)), highest_m: z.reduce((a, b) => Math.max(a, b)), warnings: [] }; },
    gear: () => ({ gear: ["tape", "level", "total station", "rover", "hand laser"].map((name) => ({ name, source: "", preset: true })) }),
    contours: (a) => (need(), contours(Number(a.interval ?? 0.25))),
    elevation: (a) => { const z = levelAt(Number(a.easting), Number(a.northing)); if (z === null) fail("no", "That place lies outside the ground model."); return { elevation_m: z, interval_m: [z - 0.018, z + 0.018], slope_percent: 2.4, fall_bearing_deg: 190 }; },
    profile: (a) => { const [p, q] = a.along ? [flat(feature(a.along))[0], flat(feature(a.along)).at(-1)] : [a.from, a.to], L = Math.hypot(q[0] - p[0], q[1] - p[1]); return { points: Array.from({ length: 81 }, (_, i) => ({ chainage_m: (L * i) / 80, elevation_m: levelAt(p[0] + ((q[0] - p[0]) * i) / 80, p[1] + ((q[1] - p[1]) * i) / 80) })) }; },
    measure: (a) => { const f = feature(a.feature) ?? fail("not found", `There is no feature ${a.feature}.`); const p = flat(f), L = p.reduce((s, q, i) => s + (i || f.kind === "area" ? Math.hypot(q[0] - p.at(i - 1)[0], q[1] - p.at(i - 1)[1]) : 0), 0), A = Math.abs(p.reduce((s, q, i) => s + p.at(i - 1)[0] * q[1] - q[0] * p.at(i - 1)[1], 0) / 2); return { length_m: L, length_m_interval: [L - 0.02, L + 0.02], ...(f.kind === "area" ? { area_m2: A, area_m2_interval: [A - 0.3, A + 0.3] } : { area_m2: null }) }; },
    volume: () => (need(), volume()),
    "preview-volume": (a) => { const e = elementVolume({ name: a.definition.name, definition: a.definition }); return { ...e, elements: [e], materials: [], cautions: [] }; },
    balance: (a) => { const w = { name: "x", definition: a.definition }; let lo = 98, hi = 102; for (let i = 0; i < 24; i++) { const mid = (lo + hi) / 2, v = elementVolume({ ...w, definition: { ...w.definition, level: String(mid) } }); v.cut_m3 * 0.9 > v.fill_m3 ? (lo = mid) : (hi = mid); } const v = elementVolume({ ...w, definition: { ...w.definition, level: String(lo) } }); return { level_m: lo, cut_m3: v.cut_m3, fill_m3: v.fill_m3 }; },
    drain: () => (need(), { findings: [{ kind: "pond", sentence: "Water would stand 24 mm deep over 6.2 m2 beside the shed base.", easting_m: 122.4, northing_m: 209.8, depth_m: 0.024, area_m2: 6.2, volume_m3: 0.07 }, { kind: "fall", sentence: "The terrace falls away from the house at 1:60, as asked.", easting_m: 119, northing_m: 216 }] }),
    takeoff: () => (need(), bill()), estimate: () => (need(), bill()), setout: () => (need(), setout()), verify: () => (need(), verify()),
    "plan-visit": () => ({ sentences: ["One more level at P6 would tighten the path's cut from 0.31 to 0.12 m3."] }),
    history: () => ({ revision, changes: history }),
    import: (a) => { if (/,"?\d+,\d+/.test(a.text ?? "") && a.page === "tape" && /1,5/.test(a.text)) fail("invalid", "The distance \"1,5\" is not a number; write 1.5.", { page: a.name, row: 2, column: 3 }); return change(`took in ${a.name} as ${a.page}`, (s) => { if (a.page === "features") { if (!s.features.length) s.features = demo().features; } else { const lines = a.text.trim().split(/\r?\n/); s.pages.push({ name: a.name, kind: a.page, visit: a.visit || "visit 1", gear: a.gear || "tape", header: lines[0], notes: "", rows: lines.slice(1).map((raw, i) => ({ id: 10000 + revision * 100 + i, line: i + 2, raw })) }); } }); },
    "add-reading": (a) => change(`typed ${a.record}`, (s) => { const p = s.pages[a.page_id - 1] ?? fail("not found", `There is no page ${a.page}.`); p.rows.push({ id: 20000 + revision, line: p.rows.length + 2, raw: a.record }); }),
    "set-aside": (a) => change(a.reason ? "set a reading aside" : "took a reading back in", (s) => { a.reason ? (s.aside[a.reading_id] = a.reason) : delete s.aside[a.reading_id]; }),
    "put-work": ({ definition: a }) => change(`changed ${a.name}`, (s) => { const i = s.works.findIndex((w) => w.name === a.name); i < 0 ? s.works.push({ name: a.name, position: s.works.length, definition: a }) : (s.works[i].definition = a); }),
    "put-feature": (a) => change(`drew ${a.name}`, (s) => { s.features = s.features.filter((f) => f.name !== a.name); s.features.push({ name: a.name, code: a.code ?? "", kind: a.kind, role: a.role || "default", points: a.points.map((p) => ({ ring: 0, ...p })) }); }),
    works: (a) => change(`took in ${a.name}`, (s) => { s.works = JSON.parse(a.text).map((definition, position) => ({ name: definition.name, position, definition })); }),
    "put-setting": (a) => change(`set ${a.key} to ${a.value}`, (s) => { if (a.key === "units" || a.key === "title") s[a.key] = a.value; if (a.key === "demo") Object.assign(s, demo()); }),
    undo: () => { if (!past.length) fail("no", "There is nothing to undo."); undone.push(structuredClone(state)); state = past.pop(); history.push({ revision: ++revision, at: new Date().toISOString(), who: "", why: "undid the last change", undone: false, rows: 1 }); return { revision }; },
    redo: () => { if (!undone.length) fail("no", "There is nothing to redo."); past.push(structuredClone(state)); state = undone.pop(); history.push({ revision: ++revision, at: new Date().toISOString(), who: "", why: "redid the last change", undone: false, rows: 1 }); return { revision }; },
  };
  const edits = new Set(["import", "add-reading", "set-aside", "put-work", "put-feature", "put-setting", "works", "undo", "redo"]);
  return {
    operations, revision: () => revision,
    run(name, a) {
      const op = operations[name] ?? fail("not found", "There is no such operation.");
      if (edits.has(name) && a.expected_revision !== undefined && a.expected_revision !== revision) fail("conflict", `The site has changed since you looked: ${history.at(-1).why}.`, { changes: history.filter((h) => h.revision > a.expected_revision) });
      if (edits.has(name)) meshKept = undefined;
      own = a.why ?? "";
      return op(a);
    },
  };
}
