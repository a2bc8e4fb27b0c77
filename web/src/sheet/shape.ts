// The works' own faces as the core composed them, and water as the core found it, as paths for the ground's canvas.
import type { Drain, Grade, Shape } from "../api/types";
import type { XY } from "./arcs";

const FACE = 10; /* three corners of easting, northing and height over formation, then the element */

export interface Piece { x: number; y: number; over: number }
export interface ElementInk { cut: Path2D; fill: Path2D; rim: Path2D; middle: XY; size: number }

/** The part of a triangle on one side of formation, corner by corner. */
export function sideOf(corners: readonly Piece[], sign: 1 | -1): XY[] {
  const ring: XY[] = [];
  corners.forEach((p, i) => {
    const q = corners[(i + 1) % 3]!;
    if (p.over * sign > 0) ring.push([p.x, p.y]);
    if ((p.over > 0) !== (q.over > 0) && p.over !== q.over) {
      const k = p.over / (p.over - q.over);
      ring.push([p.x + k * (q.x - p.x), p.y + k * (q.y - p.y)]);
    }
  });
  return ring;
}

function addRing(path: Path2D, ring: readonly XY[]): void {
  if (ring.length < 2) return;
  ring.forEach(([x, y], i) => (i ? path.lineTo(x, y) : path.moveTo(x, y)));
  path.closePath();
}

const key = (p: Piece, q: Piece) => [p, q].map((c) => `${c.x.toFixed(4)} ${c.y.toFixed(4)}`).sort().join(" ");

/** Edges that one face alone has are the element's rim. */
function rimOf(faces: readonly (readonly Piece[])[]): Path2D {
  const seen = new Map<string, readonly [Piece, Piece] | null>();
  for (const face of faces) face.forEach((p, i) => { const q = face[(i + 1) % 3]!; const k = key(p, q); seen.set(k, seen.has(k) ? null : [p, q]); });
  const rim = new Path2D();
  for (const edge of seen.values()) if (edge) { rim.moveTo(edge[0].x, edge[0].y); rim.lineTo(edge[1].x, edge[1].y); }
  return rim;
}

function inkOf(faces: readonly (readonly Piece[])[], origin: XY): ElementInk {
  const [cut, fill] = [new Path2D(), new Path2D()];
  let [area, x, y] = [0, 0, 0];
  for (const face of faces) {
    addRing(cut, sideOf(face, 1));
    addRing(fill, sideOf(face, -1));
    const [a, b, c] = face as [Piece, Piece, Piece];
    const twice = Math.abs((b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y));
    area += twice;
    x += (twice * (a.x + b.x + c.x)) / 3;
    y += (twice * (a.y + b.y + c.y)) / 3;
  }
  return { cut, fill, rim: rimOf(faces), middle: [origin[0] + x / (area || 1), origin[1] + y / (area || 1)], size: Math.sqrt(area / 2) };
}

const made = new WeakMap<object, ReadonlyMap<string, ElementInk>>();

/** By the element's name; made once for each answer. Paths count from `origin`, since they hold 32-bit numbers. */
export function elementInks(shape: Shape, origin: XY): ReadonlyMap<string, ElementInk> {
  const known = made.get(shape);
  if (known) return known;
  const faces = new Map<number, Piece[][]>();
  const f = shape.faces;
  for (let i = 0; i + FACE <= f.length; i += FACE) {
    const face = [0, 3, 6].map((k): Piece => ({ x: f[i + k]! - origin[0], y: f[i + k + 1]! - origin[1], over: f[i + k + 2]! }));
    const list = faces.get(f[i + 9]!);
    if (list) list.push(face);
    else faces.set(f[i + 9]!, [face]);
  }
  const inks = new Map([...faces].map(([owner, list]) => [shape.elements[owner] ?? "", inkOf(list, origin)] as const));
  made.set(shape, inks);
  return inks;
}

/** Levels that were found: how far the ground stands above them, between their points. */
export function gradeInk(grade: Grade, origin: XY): ElementInk | null {
  const levels = grade.levels ?? [];
  if (!levels.length) return null;
  const known = made.get(grade);
  const ink = known?.get("") ?? inkOf((grade.triangles ?? []).map((t) => t.map((i): Piece => { const l = levels[i]!; return { x: l.easting_m - origin[0], y: l.northing_m - origin[1], over: l.existing_m - l.level_m }; })), origin);
  made.set(grade, new Map([["", ink]]));
  return ink;
}

/* ---- water ---- */

export interface WaterInk { wet: Path2D; shore: Path2D; ways: Path2D; heads: readonly { at: XY; turn: number }[] }
const waters = new WeakMap<Drain, WaterInk>();
const HEAD_EVERY_M = 6;
const HEADS_APART_M = 3;

/** Along a way, where an arrow's head stands: enough to say which way, not so many as to be a fence. */
function headsOf(way: readonly XY[]): { at: XY; turn: number }[] {
  const heads: { at: XY; turn: number }[] = [];
  let left = HEAD_EVERY_M / 2;
  for (let i = 1; i < way.length; i++) {
    const [a, b] = [way[i - 1]!, way[i]!];
    const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
    for (; left <= long && long > 0; left += HEAD_EVERY_M) heads.push({ at: [a[0] + (left / long) * (b[0] - a[0]), a[1] + (left / long) * (b[1] - a[1])], turn: Math.atan2(b[1] - a[1], b[0] - a[0]) });
    left -= long;
  }
  return heads;
}

const pairs = (flat: readonly number[], origin: XY): XY[] => Array.from({ length: flat.length >> 1 }, (_, i): XY => [flat[2 * i]! - origin[0], flat[2 * i + 1]! - origin[1]]);

export function waterInk(drain: Drain, origin: XY): WaterInk {
  const known = waters.get(drain);
  if (known) return known;
  const [wet, shore, ways] = [new Path2D(), new Path2D(), new Path2D()];
  for (const spot of drain.low_spots) {
    for (const ring of spot.wet ?? []) addRing(wet, pairs(ring, origin));
    const line = pairs(spot.shore ?? [], origin);
    for (let i = 0; i + 1 < line.length; i += 2) { shore.moveTo(...line[i]!); shore.lineTo(...line[i + 1]!); }
  }
  const lines = (drain.ways ?? []).map((way) => pairs(way, origin));
  const stood = new Set<string>(); /* ways that run together share their heads */
  const apart = ({ at: [x, y] }: { at: XY }) => { const k = `${Math.round(x / HEADS_APART_M)} ${Math.round(y / HEADS_APART_M)}`; return !stood.has(k) && !!stood.add(k); };
  for (const line of lines) line.forEach((p, i) => (i ? ways.lineTo(...p) : ways.moveTo(...p)));
  const ink = { wet, shore, ways, heads: lines.flatMap(headsOf).filter(apart) };
  waters.set(drain, ink);
  return ink;
}
