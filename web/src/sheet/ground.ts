// The ground's own ink: its triangles, and where works cut it and fill it. Drawn from the mesh and the works' definitions,
// so that the picture follows the thumb while the figures are asked of the core.
import type { Mesh, Site, Work } from "../api/types";
import { readLength, readSlope } from "../units";
import { polylineOf, type XY } from "./arcs";

/** z = level at a place, less its fall along a direction; or a depth below the ground. */
export type Finish = { depth_m: number } | { at: XY; level_m: number; fall_e: number; fall_n: number };

const metres = (text: string | number | null | undefined): number => {
  if (text === undefined || text === null) return 0;
  const typed = readLength(String(text), "m");
  return "metres" in typed ? typed.metres : 0;
};

export type FindPoint = (name: string) => XY | null;

function placeOf(at: unknown, find: FindPoint): XY | null {
  if (Array.isArray(at) && at.length >= 2) return [Number(at[0]), Number(at[1])];
  return typeof at === "string" ? find(at) : null;
}

export function buildUp(work: Work): number {
  return (work.definition.layers ?? []).reduce((sum, layer) => sum + metres(layer.thickness), 0);
}

/** Direction of fall as a bearing in radians. */
function directionOf(towards: unknown, at: XY, find: FindPoint): number {
  const to = typeof towards === "string" && Number.isNaN(Number(towards)) ? find(towards) : null;
  return to ? Math.atan2(to[0] - at[0], to[1] - at[1]) : (Number(towards ?? 0) * Math.PI) / 180;
}

/** The formation that a work asks for: the finish less its layers. */
export function formationOf(work: Work, outline: readonly XY[], find: FindPoint): Finish | null {
  const d = work.definition;
  if (d.kind === "depth") return { depth_m: metres(d.depth) };
  if (d.level === undefined) return null;
  const at = placeOf(d.at, find) ?? outline[0];
  if (!at) return null;
  const slope = d.kind === "falling pad" ? (readSlope(String(d.fall ?? "")) ?? 0) : 0;
  const bearing = directionOf(d.towards, at, find);
  return { at, level_m: metres(d.level) - buildUp(work), fall_e: slope * Math.sin(bearing), fall_n: slope * Math.cos(bearing) };
}

/** The ground's level on a fine grid over a work's outline: made once for a zoom, so that a level under the thumb costs
 * a comparison a cell, however many triangles there are. */
interface Heights { east: number; north: number; cell: number; columns: number; rows: number; level: Float32Array }

const CELLS_MAX = 400; /* along each side */

function heightsOver(mesh: Mesh, outline: readonly XY[], finest: number): Heights {
  const [e, n] = [outline.map((p) => p[0]), outline.map((p) => p[1])];
  const [east, north] = [Math.min(...e), Math.min(...n)];
  const [wide, high] = [Math.max(...e) - east, Math.max(...n) - north];
  const cell = Math.max(finest, wide / CELLS_MAX, high / CELLS_MAX, 1e-4);
  const h: Heights = { east, north, cell, columns: Math.ceil(wide / cell), rows: Math.ceil(high / cell), level: new Float32Array(0) };
  h.level = new Float32Array(h.columns * h.rows).fill(NaN);
  const { vertices: v, triangles: t } = mesh;
  for (let i = 0; i < t.length; i += 3) layTriangle(h, v, 3 * t[i]!, 3 * t[i + 1]!, 3 * t[i + 2]!);
  return h;
}

/** Writes the levels of the cells whose middle lies in the triangle with corners at a, b, c of the flat list. */
function layTriangle(h: Heights, v: readonly number[], a: number, b: number, c: number): void {
  const ax = (v[a]! - h.east) / h.cell - 0.5;
  const bx = (v[b]! - h.east) / h.cell - 0.5;
  const cx = (v[c]! - h.east) / h.cell - 0.5;
  const x0 = Math.max(0, Math.ceil(Math.min(ax, bx, cx)));
  const x1 = Math.min(h.columns - 1, Math.floor(Math.max(ax, bx, cx)));
  if (x1 < x0) return;
  const ay = (v[a + 1]! - h.north) / h.cell - 0.5;
  const by = (v[b + 1]! - h.north) / h.cell - 0.5;
  const cy = (v[c + 1]! - h.north) / h.cell - 0.5;
  const y0 = Math.max(0, Math.ceil(Math.min(ay, by, cy)));
  const y1 = Math.min(h.rows - 1, Math.floor(Math.max(ay, by, cy)));
  const twice = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
  if (y1 < y0 || twice === 0) return;
  for (let y = y0; y <= y1; y++)
    for (let x = x0; x <= x1; x++) {
      const p = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / twice;
      const q = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / twice;
      if (p >= -1e-9 && q >= -1e-9 && p + q <= 1 + 1e-9) h.level[y * h.columns + x] = p * v[a + 2]! + q * v[b + 2]! + (1 - p - q) * v[c + 2]!;
    }
}

export interface GroundInk { origin: XY; mesh: Mesh; heights: Map<string, Heights>; triangles: Path2D | null }

/** Paths hold 32-bit numbers: everything counts from a place on the site. */
export const inkOf = (mesh: Mesh): GroundInk => ({ origin: [mesh.vertices[0] ?? 0, mesh.vertices[1] ?? 0], mesh, heights: new Map(), triangles: null });

export function trianglesOf(ink: GroundInk): Path2D {
  if (ink.triangles) return ink.triangles;
  const { vertices: v, triangles: t } = ink.mesh;
  const path = new Path2D();
  for (let i = 0; i < t.length; i += 3)
    for (let c = 0; c <= 3; c++) {
      const k = 3 * t[i + (c % 3)]!;
      if (c) path.lineTo(v[k]! - ink.origin[0], v[k + 1]! - ink.origin[1]);
      else path.moveTo(v[k]! - ink.origin[0], v[k + 1]! - ink.origin[1]);
    }
  return (ink.triangles = path);
}

export interface CutFill { cut: Path2D; fill: Path2D; clip: Path2D }

/** How far the stripped ground lies above the formation, as a + b column + c row + the cell's level. */
function planeOf(h: Heights, finish: Finish, strip: number): readonly [number, number, number] {
  if ("depth_m" in finish) return [0, 0, 0];
  const { at, fall_e, fall_n, level_m } = finish;
  const first = -strip - level_m + fall_e * (h.east + h.cell / 2 - at[0]) + fall_n * (h.north + h.cell / 2 - at[1]);
  return [first, fall_e * h.cell, fall_n * h.cell];
}

/** Runs of cells of one sign, each as one bar. */
function addRuns(h: Heights, sign: (index: number, column: number, row: number) => number, origin: XY, cut: Path2D, fill: Path2D): void {
  for (let row = 0; row < h.rows; row++) {
    let [begun, kind] = [0, 0];
    for (let column = 0; column <= h.columns; column++) {
      const here = column < h.columns ? sign(row * h.columns + column, column, row) : 0;
      if (here === kind) continue;
      if (kind) (kind > 0 ? cut : fill).rect(h.east - origin[0] + begun * h.cell, h.north - origin[1] + row * h.cell, (column - begun) * h.cell, h.cell);
      [begun, kind] = [column, here];
    }
  }
}

/** Where a work cuts and where it fills. @param finest how small a cell is worth drawing, in metres */
export function cutFillOf(ink: GroundInk, site: Site, work: Work, find: FindPoint, finest: number): CutFill | null {
  const path = site.features.find((f) => f.name === work.definition.in)?.paths[0];
  if (!path) return null;
  const outline = polylineOf(path);
  const finish = formationOf(work, outline, find);
  if (!finish) return null;
  const key = `${work.definition.in} ${finest} ${outline.length} ${outline[0]}`;
  const h = ink.heights.get(key) ?? heightsOver(ink.mesh, outline, finest);
  ink.heights.set(key, h);
  const result: CutFill = { cut: new Path2D(), fill: new Path2D(), clip: new Path2D() };
  outline.forEach((p, i) => (i ? result.clip.lineTo(p[0] - ink.origin[0], p[1] - ink.origin[1]) : result.clip.moveTo(p[0] - ink.origin[0], p[1] - ink.origin[1])));
  const [a, b, c] = planeOf(h, finish, metres(work.definition.strip));
  const depth = "depth_m" in finish ? Math.sign(finish.depth_m) : null;
  addRuns(h, (i, x, y) => (Number.isNaN(h.level[i]!) ? 0 : (depth ?? Math.sign(h.level[i]! + a + b * x + c * y))), ink.origin, result.cut, result.fill);
  return result;
}
