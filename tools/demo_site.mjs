// The invented site behind the demo: where everything truly is. Readings are made from it in make_demo.mjs.
//
// The plot has its own axes, u to the right along the lane and v away from the lower fence, in metres;
// the site's frame is turned by 11.4 degrees against them, as plots are.

const TURN = (11.4 * Math.PI) / 180; // clockwise
const MIDDLE = { u: 20, v: 15, easting: 120, northing: 215 };

export function toSite(u, v) {
  const du = u - MIDDLE.u,
    dv = v - MIDDLE.v;
  return {
    easting: MIDDLE.easting + du * Math.cos(TURN) + dv * Math.sin(TURN),
    northing: MIDDLE.northing - du * Math.sin(TURN) + dv * Math.cos(TURN),
  };
}

// The bank crosses the whole plot: top and toe as lines of straight pieces.
export const BANK_TOP = [
  [0.5, 10.4],
  [9, 10.9],
  [19, 10.6],
  [29, 11.0],
  [39.4, 10.3],
];
export const BANK_TOE = [
  [0.5, 8.5],
  [9, 8.8],
  [19, 8.4],
  [29, 8.9],
  [39.4, 8.5],
];
const BANK_HEIGHT = 0.8;
const SWALE = { v: 2.2, halfWidth: 0.9, from: 3.5, to: 36, depth: 0.26, taper: 6 };

function along(line, u) {
  let i = 1;
  while (i < line.length - 1 && line[i][0] < u) i++;
  const [u0, v0] = line[i - 1],
    [u1, v1] = line[i];
  return v0 + ((v1 - v0) * (u - u0)) / (u1 - u0);
}

function swaleDepth(u, v) {
  if (u < SWALE.from || u > SWALE.to) return 0;
  const end = Math.min(1, (SWALE.to - u) / SWALE.taper);
  return SWALE.depth * end * Math.max(0, 1 - Math.abs(v - SWALE.v) / SWALE.halfWidth);
}

// A hollow in the upper lawn that holds water.
const hollow = (u, v) => 0.2 * Math.exp(-((u - 7.5) ** 2 + (v - 15) ** 2) / 3.2);

/** Level of the ground at (u, v): 3.5 % down from the lane to the bank, the bank, 4 % on down to the swale; 2 % across. */
export function ground(u, v) {
  const top = along(BANK_TOP, u),
    toe = along(BANK_TOE, u);
  const atTop = 99.55 + 0.02 * (u - 20);
  if (v >= top) return atTop + 0.035 * (v - top) - hollow(u, v);
  if (v <= toe) return atTop - BANK_HEIGHT - 0.04 * (toe - v) - swaleDepth(u, v);
  return atTop - (BANK_HEIGHT * (top - v)) / (top - toe);
}

const onGround = {};
const ring = (prefix, places) => places.forEach(([u, v], i) => (onGround[prefix + (i + 1)] = [u, v]));
const arc = (cu, cv, r, degrees) => [
  cu + r * Math.cos((degrees * Math.PI) / 180),
  cv + r * Math.sin((degrees * Math.PI) / 180),
];

// Control: pegs with a nail; C stands in the lower garden.
onGround.A = [11.5, 12.8];
onGround.B = [27.6, 12.6];
onGround.C = [22, 6.2];
// The house, a little out of square, and the ground before its garden door.
ring("H", [
  [14, 26],
  [26.02, 25.99],
  [26.014, 17.004],
  [14, 17],
]);
onGround.D1 = [20, 16.88];
// Fence posts down the west side and along the lower end; hedge stems up the east side; edge of the lane.
ring("F", [
  [0.1, 29.6],
  [0.3, 20.4],
  [0.35, 11.2],
  [0.3, 7.6],
  [0.2, 0.3],
  [13.1, 0.1],
  [26.9, 0.25],
  [39.7, 0.2],
]);
ring("G", [
  [39.6, 7.9],
  [39.6, 11.1],
  [39.8, 20.2],
  [39.9, 29.9],
]);
ring("K", [
  [33.7, 29.95],
  [29.1, 29.95],
  [12.8, 29.9],
]);
ring("BT", BANK_TOP);
ring("BB", BANK_TOE);
// Drive, path with a bend (inner radius 2.0, outer 3.2), shed base, pegs for the terrace.
ring("DR", [
  [29.2, 29.7],
  [33.6, 29.7],
  [33.5, 22],
  [33.4, 14.2],
  [29.0, 14.3],
  [29.1, 22],
]);
ring("P", [
  [8, 29.4],
  [9.2, 29.4],
  [9.2, 22.2],
  arc(11.2, 22.2, 2, 225),
  [11.2, 20.2],
  [13.7, 20.2],
  [13.7, 19],
  [11.2, 19],
  arc(11.2, 22.2, 3.2, 225),
  [8, 22.2],
]);
ring("SH", [
  [35.4, 16.2],
  [38.6, 16.2],
  [38.6, 18.6],
  [35.4, 18.6],
]);
ring("TP", [
  [14, 12.5],
  [26.014, 12.504],
]);
// Swale: bottom from its head to the outfall, and both lips.
ring("SB", [
  [36, 2.2],
  [30, 2.2],
  [21, 2.2],
  [12, 2.2],
]);
onGround.OUT = [3.6, 2.2];
ring("SN", [
  [36, 3.1],
  [30, 3.1],
  [21, 3.1],
  [12, 3.1],
  [3.6, 3.1],
]);
ring("SS", [
  [36, 1.3],
  [30, 1.3],
  [21, 1.3],
  [12, 1.3],
  [3.6, 1.3],
]);
// Covers, the hollow, the neighbours' ground.
onGround.CV1 = [27.3, 15.1];
onGround.CV2 = [12.4, 17.6];
ring("DI", [
  [7.5, 15],
  [5.6, 15],
  [7.5, 13.1],
  [9.4, 15],
  [7.5, 16.9],
]);
ring("N", [
  [-1.6, 18],
  [41.4, 9.4],
]);
// Second visit: planting bed, tree bed (one circle of radius 1.5), lawn, the strip behind the house.
ring("BD", [
  [1.2, 13.4],
  [1.2, 25.2],
  [3.0, 23.4],
  [4.3, 20.6],
  [3.3, 17.6],
  [4.4, 15.2],
]);
ring("T", [arc(28.5, 5.6, 1.5, 10), arc(28.5, 5.6, 1.5, 100), arc(28.5, 5.6, 1.5, 190), arc(28.5, 5.6, 1.5, 280)]);
onGround.TR1 = [28.5, 5.6];
ring("L", [
  [20, 11.6],
  [36.2, 13.2],
  [36.8, 24.6],
  [34.4, 6.0],
  [15, 5.4],
  [6.5, 5.6],
  [6, 27],
]);
ring("NG", [
  [14.6, 27.6],
  [20, 27.7],
  [25.4, 27.6],
]);
// Rover visit: the far kerb of the lane.
ring("LK", [
  [1, 34.6],
  [12, 34.7],
  [24, 34.6],
  [36, 34.7],
]);

// Not on the ground: levels of their own.
const raised = {
  FFL1: [20, 17.0, 100.15], // finished floor at the garden door
  DPC1: [23, 17.0, 100.145], // damp-proof course beside it
  BM1: [12.2, 30.25, 100.5], // bolt in the west gatepost
  BM2: [34.3, 30.3, 100.862], // bolt in the east gatepost
};
// Water service as marked on the ground: plan only.
const planOnly = { W1: [26.12, 25.0], W2: [27.4, 27.5], W3: [27.5, 29.5] };

/** Every point of the site: name -> { easting, northing, elevation } (m; elevation null where there is none). */
export function truth() {
  const points = {};
  for (const [name, [u, v]] of Object.entries(onGround)) points[name] = { ...toSite(u, v), elevation: ground(u, v) };
  for (const [name, [u, v, z]] of Object.entries(raised)) points[name] = { ...toSite(u, v), elevation: z };
  for (const [name, [u, v]] of Object.entries(planOnly)) points[name] = { ...toSite(u, v), elevation: null };
  for (const name of ["A", "B"])
    // the control page gives them to the millimetre, and what is held is true by decree
    for (const axis of ["easting", "northing"]) points[name][axis] = Math.round(points[name][axis] * 1000) / 1000;
  return points;
}

const S = "straight";
const points = (names, edge = S) => names.split(" ").map((name) => [name, edge]);
const feature = (name, kind, code, rows, role = "") => ({ name, kind, code, rows, role });

/** Features: rows are [point, edge, role of the row if it differs]. */
export const FEATURES = [
  feature("plot", "area", "plot", points("F1 F2 F3 F4 F5 F6 F7 F8 G1 G2 G3 G4 K1 K2 K3"), "boundary"),
  feature("house", "area", "house", points("H1 H2 H3 H4"), "hole"),
  feature("west fence", "line", "fence", points("F1 F2 F3 F4 F5")),
  feature("lower fence", "line", "old fence", points("F5 F6 F7 F8")),
  feature("east hedge", "line", "hedge", points("F8 G1 G2 G3 G4")),
  feature("lane edge", "line", "kerb", points("G4 K1 K2 K3 F1")),
  feature("bank top", "line", "bank top", points("BT1 BT2 BT3 BT4 BT5"), "breakline"),
  feature("bank toe", "line", "bank toe", points("BB1 BB2 BB3 BB4 BB5"), "breakline"),
  feature("swale bottom", "line", "swale", points("SB1 SB2 SB3 SB4 OUT"), "breakline"),
  feature("swale upper lip", "line", "swale lip", points("SN1 SN2 SN3 SN4 SN5"), "breakline"),
  feature("swale lower lip", "line", "swale lip", points("SS1 SS2 SS3 SS4 SS5"), "breakline"),
  feature("terrace", "area", "terrace", points("H4 H3 TP2 TP1")),
  feature("terrace edge", "line", "edging", points("H4 TP1 TP2 H3")),
  feature("shed base", "area", "shed base", points("SH1 SH2 SH3 SH4")),
  feature("drive", "area", "drive", points("DR1 DR2 DR3 DR4 DR5 DR6")),
  feature("path", "area", "path", [
    ...points("P1 P2 P3"),
    ...points("P4 P5", "arc"),
    ...points("P6 P7 P8"),
    ...points("P9 P10", "arc"),
  ]),
  feature("planting bed", "area", "bed", [...points("BD1 BD2"), ...points("BD3 BD4 BD5 BD6 BD1", "curve")]),
  feature("tree bed", "area", "tree bed", points("T1 T2 T3 T4", "circle")),
  feature("lower lawn", "area", "lawn", [
    ...points("BB1 BB2 BB3 BB4 BB5 SN1 SN2 SN3 SN4 SN5"),
    ...points("T1 T2 T3 T4", "circle").map((row) => [...row, "hole"]),
  ]),
  feature("water service", "line", "service water", points("W1 W2 W3"), "none"),
  feature("garden door threshold", "spot", "threshold", points("FFL1"), "none"),
  feature("damp course", "spot", "damp course", points("DPC1"), "none"),
  feature("benchmark 1", "spot", "benchmark", points("BM1"), "none"),
  feature("benchmark 2", "spot", "benchmark", points("BM2"), "none"),
  feature("cover 1", "spot", "cover", points("CV1")),
  feature("cover 2", "spot", "cover", points("CV2")),
  feature("outfall", "spot", "outfall", points("OUT")),
  feature("tree", "spot", "tree", points("TR1")),
];

// The design, drawn in an office on a frame of its own: x along the garden wall of a house of exactly 12.000 x 9.000 m.
const DESIGN = { x: 1000, y: 500 };
const stake = (name, x, y, elevation, code) => ({
  name,
  easting: DESIGN.x + x,
  northing: DESIGN.y + y,
  elevation,
  code,
});
const terraceLevel = (y) => 100.0 + (y + 0.12) / 60; // 1:60 down from 100.000 at 0.12 m before the wall

export const STAKES = [
  stake("H4", 0, 0, null, "house corner"),
  stake("H3", 12, 0, null, "house corner"),
  stake("H1", 0, 9, null, "house corner"),
  stake("TC1", 0, -4.5, terraceLevel(-4.5), "terrace corner"),
  stake("TC2", 12, -4.5, terraceLevel(-4.5), "terrace corner"),
  stake("TC3", 12, -0.1, terraceLevel(-0.1), "terrace corner"),
  stake("TC4", 0, -0.1, terraceLevel(-0.1), "terrace corner"),
  stake("PC1", -0.6, -2.25, 99.93, "path centre"),
  stake("PC2", -2.6, -2.25, 99.86, "path centre, arc starts"),
  stake("PC3", -4.7213, -1.3713, 99.78, "path centre, on the arc"),
  stake("PC4", -5.6, 0.75, 99.74, "path centre, arc ends"),
  stake("PC5", -5.6, 2.0, 99.76, "path centre"),
  ...[0, 1, 2, 3, 4, 5].map((i) => stake("FP" + (i + 1), -13.4, 11.9 - 1.83 * i, null, "fence post")),
];

/** Shift and turn, no scale, that lay the design's house corners on the true ones with least squares. */
function designFit() {
  const at = truth(),
    pairs = STAKES.filter((s) => at[s.name]).map((s) => [s, at[s.name]]);
  const mean = (f) => pairs.reduce((sum, pair) => sum + f(pair), 0) / pairs.length;
  const x0 = mean(([s]) => s.easting),
    y0 = mean(([s]) => s.northing),
    e0 = mean(([, p]) => p.easting),
    n0 = mean(([, p]) => p.northing);
  const dot = mean(([s, p]) => (s.easting - x0) * (p.easting - e0) + (s.northing - y0) * (p.northing - n0));
  const cross = mean(([s, p]) => (s.northing - y0) * (p.easting - e0) - (s.easting - x0) * (p.northing - n0));
  return { x0, y0, e0, n0, turn: Math.atan2(cross, dot) };
}

/** Where each stake truly belongs on the site: name -> { easting, northing }. */
export function stakesOnSite() {
  const { x0, y0, e0, n0, turn } = designFit(),
    c = Math.cos(turn),
    s = Math.sin(turn);
  return Object.fromEntries(
    STAKES.map((k) => {
      const x = k.easting - x0,
        y = k.northing - y0;
      return [k.name, { easting: e0 + x * c + y * s, northing: n0 - x * s + y * c }];
    }),
  );
}

export const AWAY_FROM_HOUSE = 180 + 11.4; // bearing, degrees
