// True arcs as short straight pieces, for drawing only.
import type { Path } from "../api/types";

export type XY = [number, number];
const SAGITTA_M = 0.002; /* under a line's own width at any zoom that a plan is read at */

/** The way from a to b with bulge = tan(sweep / 4), counter-clockwise positive; without a itself. */
export function arcPieces(a: XY, b: XY, bulge: number): XY[] {
  const sweep = 4 * Math.atan(bulge);
  const chord = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (Math.abs(bulge) < 1e-9 || chord === 0) return [b];
  const radius = chord / (2 * Math.sin(sweep / 2));
  const k = (radius * Math.cos(sweep / 2)) / chord;
  const centre: XY = [(a[0] + b[0]) / 2 - (b[1] - a[1]) * k, (a[1] + b[1]) / 2 + (b[0] - a[0]) * k];
  const start = Math.atan2(a[1] - centre[1], a[0] - centre[0]);
  const size = Math.abs(radius);
  const count = Math.max(2, Math.ceil(Math.abs(sweep) / (2 * Math.acos(1 - Math.min(1, SAGITTA_M / size)))));
  return Array.from({ length: count }, (_, i): XY => {
    if (i === count - 1) return b;
    const angle = start + (sweep * (i + 1)) / count;
    return [centre[0] + size * Math.cos(angle), centre[1] + size * Math.sin(angle)];
  });
}

/** Each edge of a path as its own polyline. */
export function edgesOf(path: Path): XY[][] {
  const v = path.vertices;
  const last = path.closed ? v.length : v.length - 1;
  return Array.from({ length: Math.max(0, last) }, (_, i) => {
    const from = v[i]!;
    const to = v[(i + 1) % v.length]!;
    const a: XY = [from[0], from[1]];
    return [a, ...arcPieces(a, [to[0], to[1]], from[3])];
  });
}

/** The whole path as one polyline, closed onto its first point where the path is closed. */
export function polylineOf(path: Path): XY[] {
  const edges = edgesOf(path);
  if (!edges.length) return path.vertices.map((v): XY => [v[0], v[1]]);
  return [edges[0]![0]!, ...edges.flatMap((edge) => edge.slice(1))];
}

export const lengthOf = (line: readonly XY[]): number => line.slice(1).reduce((sum, p, i) => sum + Math.hypot(p[0] - line[i]![0], p[1] - line[i]![1]), 0);
