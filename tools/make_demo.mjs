// Makes the field pages of examples/ from the site in demo_site.mjs, with seeded noise: node tools/make_demo.mjs [FOLDER]
//
// The noise has the standard deviations of the gear presets (src/site/gear.c), so that a test can hold the
// adjustment against examples/truth.csv. One reading is wrong on purpose: a tape, 1.00 m long.
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { AWAY_FROM_HOUSE, FEATURES, STAKES, stakesOnSite, truth } from "./demo_site.mjs";

const SECOND = Math.PI / 180 / 3600;
// One standard deviation each; metres, radians.
const GEAR = {
  station: { distance: 0.003, ppm: 2, circle: 20 * SECOND, zenith: 20 * SECOND, centring: 0.0008 },
  level: { staff: 0.0015 },
  tape: { distance: 0.005, ppm: 500 },
  sensor: { leg: 0.008, rate: 0.002, power: 1.5, heightRatio: 1 },
  rover: { plan: 0.01, height: 0.018 },
  square: { distance: 0.01, ppm: 500, angle: Math.PI / 180 },
};
const P = truth();

// ---- chance, repeatable: one stream a page, so that a change to one page leaves the others alone ----

function chance(seed) {
  let state = seed >>> 0;
  const uniform = () => {
    // mulberry32
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  return (sd) => sd * Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform()); // Box and Muller 1958
}

// ---- how figures are written ----

const m3 = (x) => (x === null || x === undefined ? "" : (Math.round(x * 1000) / 1000 + 0).toFixed(3));
const to5mm = (x) => (Math.round(x * 200) / 200).toFixed(3);
function dms(radians) {
  const whole = 360 * 3600;
  const s = ((Math.round(radians / SECOND) % whole) + whole) % whole;
  const two = (n) => String(n).padStart(2, "0");
  return `${Math.floor(s / 3600)}-${two(Math.floor(s / 60) % 60)}-${two(s % 60)}`;
}
const cell = (x) => (/[",\n]/.test(x) ? `"${x.replaceAll('"', '""')}"` : String(x));
const csv = (header, rows) => [header, ...rows].map((row) => row.map(cell).join(",")).join("\n") + "\n";

// ---- truth between points ----

const between = (a, b) => ({
  de: P[b].easting - P[a].easting,
  dn: P[b].northing - P[a].northing,
  dh: P[b].elevation - P[a].elevation,
});
const level = ({ de, dn }) => Math.hypot(de, dn);
const slope = ({ de, dn, dh }) => Math.hypot(de, dn, dh);

// ---- visit 1: total station and level ----

const control = csv(
  ["point", "easting (m)", "northing (m)", "elevation (m)", "remark"],
  [
    ["A", m3(P.A.easting), m3(P.A.northing), "", "peg and nail on the upper lawn; held in plan"],
    ["B", m3(P.B.easting), m3(P.B.northing), "", "peg and nail by the drive; held in plan"],
    ["BM1", "", "", m3(P.BM1.elevation), "bolt in the west gatepost; local datum, not sea level"],
  ],
);

const SET_UPS = [
  {
    at: "A",
    hi: 1.524,
    back: "B",
    seed: 101,
    sights:
      "C BM1 H1 H4 F1 F2 F3 F4 K3 BT1 BT2 BT3 P1 P2 P3 P4 P5 P6 P7 P8 P9 P10 " +
      "TP1 TP2 CV2 DI1 DI2 DI3 DI4 DI5 N1 FFL1:0 DPC1:0 D1 BB1 BB2",
  },
  {
    at: "B",
    hi: 1.487,
    back: "A",
    seed: 102,
    sights:
      "C BM2 H2 H3 K1 K2 G2 G3 G4 DR1 DR2 DR3 DR4 DR5 DR6 SH1 SH2 SH3 SH4 CV1 " + "TP2 TP1 BT3 BT4 BT5 D1 FFL1:0 H4",
  },
  {
    at: "C",
    hi: 1.551,
    back: "A",
    seed: 103,
    sights:
      "B BB1 BB2 BB3 BB4 BB5 BT3 BT2 BT4 SB1 SB2 SB3 SB4 OUT SN1:2 SN2 SN3 SN4 SN5:2 " +
      "SS1:2 SS2 SS3 SS4 SS5:2 F4 F5:2 F6 F7 F8:2 G1:2 N2:2 TP1 TP2",
  },
];
const REMARKS = {
  FFL1: "on the threshold, no pole",
  DPC1: "on the course, no pole",
  OUT: "invert of the outfall pipe",
  N1: "neighbour's ground",
  N2: "neighbour's ground",
  CV1: "foul cover",
  CV2: "surface water cover",
};

/** Circle, zenith and slope distance of one sight, with the noise of reading and of standing over both marks. */
function sight(setUp, to, target, turn, noise) {
  const g = GEAR.station,
    d = between(setUp.at, to),
    plan = level(d);
  const aside = Math.hypot(g.centring, g.centring) / plan;
  const rise = d.dh - setUp.hi + target,
    s = Math.hypot(plan, rise);
  return {
    circle: Math.atan2(d.de, d.dn) - turn + noise(Math.hypot(g.circle, aside)),
    zenith: Math.atan2(plan, rise) + noise(g.zenith),
    distance: s + noise(Math.hypot(g.distance, g.ppm * 1e-6 * s, g.centring, g.centring)),
  };
}

function setUpRows(setUp) {
  const noise = chance(setUp.seed),
    back = between(setUp.at, setUp.back);
  const turn = Math.atan2(back.de, back.dn); // the circle is set to zero on the backsight
  const sights = [setUp.back, ...setUp.sights.split(" "), setUp.back + ":1.3:closing sight"];
  return sights.map((word) => {
    const [to, height = "1.3", remark = REMARKS[word.split(":")[0]] ?? ""] = word.split(":");
    const r = sight(setUp, to, Number(height), turn, noise);
    return [setUp.at, to, dms(r.circle), dms(r.zenith), m3(r.distance), m3(setUp.hi), m3(Number(height)), remark];
  });
}

const angles = csv(
  [
    "at",
    "to",
    "circle (dms)",
    "zenith (dms)",
    "slope distance (m)",
    "instrument height (m)",
    "target height (m)",
    "remark",
  ],
  SET_UPS.flatMap(setUpRows),
);

// The level book: BM1, the house, down by the covers to the lower garden and back to BM1. `*` is the change point.
const BOOK = [
  "BM1 NG1 NG2 H1 H4 CV2*",
  "CV2 A FFL1 DPC1 D1 H3 B TP1 TP2 CV1*",
  "CV1 BT3 C*",
  "C BB3 SB3 SN3 OUT BT2*",
  "BT2 DI1 A BT1*",
  "BT1 CV2 BM1*",
];
const COLLIMATION = [101.62, 101.31, 100.96, 99.98, 100.86, 101.48];

function levelRows() {
  const noise = chance(201),
    rows = [];
  BOOK.forEach((line, i) =>
    line.split(" ").forEach((word, j) => {
      const point = word.replace("*", "");
      const staff = m3(COLLIMATION[i] - P[point].elevation + noise(GEAR.level.staff));
      if (j === 0 && i > 0)
        rows[rows.length - 1][1] = staff; // a change point has both readings on one row
      else
        rows.push([
          point,
          j === 0 ? staff : "",
          j > 0 && !word.endsWith("*") ? staff : "",
          word.endsWith("*") ? staff : "",
          "",
        ]);
    }),
  );
  rows[0][4] = "opened on BM1";
  rows[rows.length - 1][4] = "closed on BM1";
  return rows;
}
const levels = csv(["point", "backsight (m)", "intermediate (m)", "foresight (m)", "remark"], levelRows());

// ---- visit 2, five weeks later: hand-carried sensor, tape, offsets ----

// The walk, set down on every point; H4 and H3, the garden wall, are the edge common with visit 1.
const WALK =
  "H4 H3 TP2 L1 TP1 H4 CV2 BD1 BD6 BD5 BD4 BD3 BD2 L7 K3 NG1 NG2 NG3 H2 H3 L2 G2 L2 L3 L2 H3 BT4 L4 T1 TR1 T2 T3 T4 C L5 L6 BB2 BT2 TP1 H4";
const HEADING = (63.7 * Math.PI) / 180; // of the sensor's own x axis, unknown to the page

function legRows() {
  const g = GEAR.sensor,
    noise = chance(302),
    names = WALK.split(" ");
  return names.slice(1).map((to, i) => {
    const from = names[i],
      d = between(from, to);
    const time = Math.round((1.5 + level(d) / 1.4) * 10) / 10;
    const sd = Math.hypot(g.leg, g.rate * time ** g.power);
    const dx = d.de * Math.sin(HEADING) + d.dn * Math.cos(HEADING),
      dy = -d.de * Math.cos(HEADING) + d.dn * Math.sin(HEADING);
    return [from, to, m3(dx + noise(sd)), m3(dy + noise(sd)), m3(d.dh + noise(sd * g.heightRatio)), time.toFixed(1)];
  });
}
const legs = csv(["from", "to", "dx (m)", "dy (m)", "dz (m)", "time (s)"], legRows());

// Tape checks: level unless marked; sides and both diagonals of each four-sided thing.
const WRONG = "H4 BD4";
const TAPES = [
  "H4 TP1",
  "TP1 TP2",
  "TP2 H3",
  "H3 H4",
  "H4 TP2 diagonal",
  "H3 TP1 diagonal",
  "SH1 SH2",
  "SH2 SH3",
  "SH3 SH4",
  "SH4 SH1",
  "SH1 SH3 diagonal",
  "SH2 SH4 diagonal",
  "T1 T3 across",
  "T2 T4 across",
  "T1 T2",
  "T2 T3",
  "T3 T4",
  "T4 T1",
  "C T3 slope",
  "C T4 slope",
  "BB4 T2 slope",
  "BB4 T1 slope",
  "BD1 BD2",
  "BD1 BD6",
  "BD2 BD3",
  "BD1 BD4 diagonal",
  "BD2 BD5 diagonal",
  "F2 BD4",
  "F2 BD5",
  "H4 BD4",
  "H1 BD4",
  "H1 BD3",
  "H4 BD6",
  "H4 BD5",
  "P10 BD4",
  "F2 BD2",
  "F3 BD1",
  "L1 TP1",
  "L1 TP2",
  "NG2 H1",
  "NG2 H2",
  "NG1 NG3",
  "H1 NG1",
  "H2 NG3",
];

function tapeRows() {
  const noise = chance(303),
    g = GEAR.tape;
  return TAPES.map((line) => {
    const [from, to, remark = ""] = line.split(" "),
      d = between(from, to);
    const length = remark === "slope" ? slope(d) : level(d);
    const wrong = `${from} ${to}` === WRONG ? 1 : 0;
    const read = length + wrong + noise(Math.hypot(g.distance, g.ppm * 1e-6 * length));
    return [from, to, to5mm(read), remark === "slope" ? "yes" : "no", remark === "slope" ? "" : remark];
  });
}
const tape = csv(["from", "to", "distance (m)", "slope", "remark"], tapeRows());

// The water service as marked, by offsets from the east wall H2-H3.
function offsetRows() {
  const noise = chance(304),
    g = GEAR.square,
    wall = between("H2", "H3"),
    length = level(wall);
  return ["W1", "W2", "W3"].map((name) => {
    const d = between("H2", name),
      taped = (x) => Math.hypot(g.distance, g.ppm * 1e-6 * x);
    const chainage = (d.de * wall.de + d.dn * wall.dn) / length,
      offset = (d.de * wall.dn - d.dn * wall.de) / length;
    return [
      "H2",
      "H3",
      m3(chainage + noise(Math.hypot(taped(chainage), g.angle * offset))),
      m3(offset + noise(taped(offset))),
      name,
      "service water",
      "as marked on the ground, not proved",
    ];
  });
}
const offsets = csv(["from", "to", "chainage (m)", "offset (m)", "point", "code", "remark"], offsetRows());

// ---- visit 3: a hired satellite rover along the lane, in a frame of its own ----

const ROVER = { e0: 31200, n0: 84650, h0: 47.312, turn: (0.83 * Math.PI) / 180, names: "A F1 K1 G4 LK1 LK2 LK3 LK4" };
function roverRows() {
  const noise = chance(401),
    { e0, n0, h0, turn, names } = ROVER,
    g = GEAR.rover;
  return names.split(" ").map((name) => {
    const { easting: e, northing: n, elevation } = P[name];
    return [
      name,
      m3(e0 + e * Math.cos(turn) + n * Math.sin(turn) + noise(g.plan)),
      m3(n0 - e * Math.sin(turn) + n * Math.cos(turn) + noise(g.plan)),
      m3(h0 + elevation + noise(g.height)),
      name.startsWith("LK") ? "kerb" : "",
    ];
  });
}
const rover = csv(["point", "easting (m)", "northing (m)", "elevation (m)", "code"], roverRows());

// ---- features, design, works, as built ----

const features = csv(
  ["feature", "kind", "code", "point", "edge", "role"],
  FEATURES.flatMap((f) => f.rows.map(([point, edge, role = f.role]) => [f.name, f.kind, f.code, point, edge, role])),
);

const stakes = csv(
  ["stake", "easting (m)", "northing (m)", "elevation (m)", "code"],
  STAKES.map((s) => [s.name, m3(s.easting), m3(s.northing), m3(s.elevation), s.code]),
);

// What was built, by how much it missed (mm east, north, up) and how well it was measured (mm plan, height).
const BUILT = {
  TC1: [4, -3, 1, 4, 2],
  TC2: [-5, 2, -2, 4, 2],
  TC3: [3, 3, 1, 4, 2],
  TC4: [-2, 4, 0, 4, 2],
  PC1: [6, -4, 2, 4, 2],
  PC2: [-3, 5, 1, 4, 2],
  PC3: [4, 4, -1, 4, 2],
  PC4: [-15, 14, 2, 8, 2],
  PC5: [5, -6, -2, 4, 2],
  FP1: [6, 3, 0, 4, 2],
  FP2: [-4, -5, 0, 4, 2],
  FP3: [58, 41, 0, 4, 2],
  FP4: [7, -2, 0, 4, 2],
  FP5: [-3, 6, 0, 4, 2],
  FP6: [2, 5, 0, 4, 2],
};
const ON_SITE = stakesOnSite();
const built = csv(
  ["point", "easting (m)", "northing (m)", "elevation (m)", "sd plan (m)", "sd height (m)"],
  Object.entries(BUILT).map(([name, [e, n, h, plan, height]]) => {
    const s = STAKES.find((x) => x.name === name),
      at = ON_SITE[name];
    return [
      name,
      m3(at.easting + e / 1000),
      m3(at.northing + n / 1000),
      s.elevation === null ? "" : m3(s.elevation + h / 1000),
      m3(plan / 1000),
      s.elevation === null ? "" : m3(height / 1000),
    ];
  }),
);

const works =
  JSON.stringify(
    [
      {
        name: "terrace",
        kind: "falling pad",
        in: "terrace",
        level: "100.000",
        at: "D1",
        fall: "1:60",
        towards: AWAY_FROM_HOUSE,
        strip: "150mm",
        soil: "clay",
        layers: [
          { material: "flags", thickness: "40mm" },
          { material: "bedding", thickness: "30mm" },
          { material: "sub-base", thickness: "100mm" },
        ],
      },
      {
        name: "shed base",
        kind: "pad",
        in: "shed base",
        level: "99.950",
        strip: "150mm",
        soil: "clay",
        layers: [
          { material: "concrete", thickness: "100mm" },
          { material: "sub-base", thickness: "100mm" },
        ],
      },
      { name: "drive", kind: "depth", in: "drive", depth: "0.30", soil: "clay" },
    ],
    null,
    2,
  ) + "\n";

const truthPage = csv(
  ["point", "easting (m)", "northing (m)", "elevation (m)"],
  Object.entries(P).map(([name, p]) => [
    name,
    p.easting.toFixed(4),
    p.northing.toFixed(4),
    p.elevation === null ? "" : p.elevation.toFixed(4),
  ]),
);

const folder = process.argv[2] ?? "examples";
mkdirSync(folder, { recursive: true });
const pages = {
  "control.csv": control,
  "angles.csv": angles,
  "levels.csv": levels,
  "legs.csv": legs,
  "tape.csv": tape,
  "offsets.csv": offsets,
  "rover.csv": rover,
  "features.csv": features,
  "stakes.csv": stakes,
  "built.csv": built,
  "works.json": works,
  "truth.csv": truthPage,
};
for (const [name, text] of Object.entries(pages)) writeFileSync(join(folder, name), text);
console.log(`${Object.keys(pages).length} files in ${folder}, ${Object.keys(P).length} points`);
