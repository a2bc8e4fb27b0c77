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

export interface CutFill { work: Work; outline: XY[]; cut: Path2D; fill: Path2D; clip: Path2D }

type Corner = [number, number, number];

/** The part of a triangle where the third value is above nought. */
function part(corners: readonly Corner[]): XY[] {
  const out: XY[] = [];
  for (let i = 0; i < 3; i++) {
    const a = corners[i]!;
    const b = corners[(i + 1) % 3]!;
    if (a[2] > 0) out.push([a[0], a[1]]);
    if (a[2] > 0 !== b[2] > 0) {
      const t = a[2] / (a[2] - b[2]);
      out.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
    }
  }
  return out;
}

function addTo(path: Path2D, polygon: readonly XY[]): void {
  polygon.forEach((p, i) => (i ? path.lineTo(p[0], p[1]) : path.moveTo(p[0], p[1])));
  if (polygon.length) path.closePath();
}

export interface GroundInk {
  origin: XY;
  mesh: Mesh;
  triangles: Path2D;
  /** Triangles (by their first index) whose box meets an outline's box, kept while the mesh is. */
  near: Map<string, number[]>;
}

/** Paths hold 32-bit numbers: everything counts from a place on the site. */
export function inkOf(mesh: Mesh): GroundInk {
  const { vertices: v, triangles: t } = mesh;
  const origin: XY = [v[0] ?? 0, v[1] ?? 0];
  const triangles = new Path2D();
  for (let i = 0; i < t.length; i += 3) addTo(triangles, [t[i]!, t[i + 1]!, t[i + 2]!].map((k): XY => [v[3 * k]! - origin[0], v[3 * k + 1]! - origin[1]]));
  return { origin, mesh, triangles, near: new Map() };
}

function facesNear(ink: GroundInk, name: string, outline: readonly XY[]): number[] {
  const key = `${name} ${outline.length} ${outline[0]}`;
  const known = ink.near.get(key);
  if (known) return known;
  const [e, n] = [outline.map((p) => p[0]), outline.map((p) => p[1])];
  const box = [Math.min(...e), Math.min(...n), Math.max(...e), Math.max(...n)] as const;
  const { vertices: v, triangles: t } = ink.mesh;
  const found: number[] = [];
  for (let i = 0; i < t.length; i += 3) {
    const corners = [t[i]!, t[i + 1]!, t[i + 2]!];
    const x = corners.map((k) => v[3 * k]!);
    const y = corners.map((k) => v[3 * k + 1]!);
    if (Math.max(...x) >= box[0] && Math.min(...x) <= box[2] && Math.max(...y) >= box[1] && Math.min(...y) <= box[3]) found.push(i);
  }
  ink.near.set(key, found);
  return found;
}

export function cutFillOf(ink: GroundInk, site: Site, work: Work, find: FindPoint): CutFill | null {
  const feature = site.features.find((f) => f.name === work.definition.in);
  const path = feature?.paths[0];
  if (!path) return null;
  const outline = polylineOf(path);
  const finish = formationOf(work, outline, find);
  if (!finish) return null;
  const [cut, fill, clip] = [new Path2D(), new Path2D(), new Path2D()];
  const local = (p: readonly number[]): XY => [p[0]! - ink.origin[0], p[1]! - ink.origin[1]];
  addTo(clip, outline.map(local));
  const strip = metres(work.definition.strip);
  const above = (p: readonly number[]): number =>
    "depth_m" in finish ? finish.depth_m : p[2]! - strip - (finish.level_m - finish.fall_e * (p[0]! - finish.at[0]) - finish.fall_n * (p[1]! - finish.at[1]));
  for (const index of facesNear(ink, work.name, outline)) {
    const corners = [0, 1, 2].map((c): Corner => {
      const k = 3 * ink.mesh.triangles[index + c]!;
      const p = ink.mesh.vertices.slice(k, k + 3);
      return [...local(p), above(p)];
    });
    addTo(cut, part(corners));
    addTo(fill, part(corners.map(([x, y, z]): Corner => [x, y, -z])));
  }
  return { work, outline, cut, fill, clip };
}
