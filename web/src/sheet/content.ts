// What lies on the sheet, as map features: from the operations' results to lines, points and words.
import Feature from "ol/Feature";
import { LineString, Point, Polygon } from "ol/geom";
import type { AdjustedPoint, Adjustment, Path, Site } from "../api/types";
import { featureOf } from "../figures";
import { worksShown, type Job } from "../job";
import { readSlope, say, slopeSaid } from "../units";
import { edgesOf, lengthOf, polylineOf, type XY } from "./arcs";
import type { FindPoint } from "./ground";

export const pointAt = (p: AdjustedPoint): XY | null => (p.easting_m === null || p.northing_m === null ? null : [p.easting_m, p.northing_m]);

const places = new WeakMap<Adjustment, ReadonlyMap<string, XY | null>>();

/** Finds adjusted points by name; the index is made once for each adjustment. */
export function finderOf(job: Job): FindPoint {
  const { adjust } = job.results;
  if (!adjust) return () => null;
  const index = places.get(adjust) ?? new Map(adjust.points.map((p) => [p.point, pointAt(p)]));
  places.set(adjust, index);
  return (name) => index.get(name) ?? null;
}

export function areaFeatures(site: Site): Feature[] {
  return site.features.filter((f) => f.kind === "area" && f.paths.length).map((f) => {
    const rings = f.paths.map(polylineOf).filter((ring) => ring.length > 2);
    const polygon = new Polygon(rings);
    const [e0 = 0, n0 = 0, e1 = 0, n1 = 0] = polygon.getExtent();
    return new Feature({ geometry: polygon, name: f.name, code: f.code, role: f.role, kind: "feature", size: Math.min(e1 - e0, (n1 - n0) * 4) });
  });
}

/** Every edge by itself, so that its length can stand along it. An edge that two features share is written once. */
export function edgeFeatures(site: Site): Feature[] {
  const written = new Set<string>();
  const once = (edge: readonly XY[]): boolean => {
    const ends = [edge[0]!, edge[edge.length - 1]!].map((p) => p.map((v) => v.toFixed(3)).join(" ")).sort().join(" ");
    return !written.has(ends) && !!written.add(ends);
  };
  const order = [...site.features].sort((a, b) => Number(b.kind === "area") - Number(a.kind === "area"));
  return order.flatMap((f) => (f.kind === "spot" ? [] : f.paths.flatMap((path: Path) => edgesOf(path).map((edge) => new Feature({ geometry: new LineString(edge), name: f.name, code: f.code, role: f.role, kind: "feature", length: lengthOf(edge), first: once(edge) })))));
}

export function pointFeatures(job: Job): Feature[] {
  return (job.results.adjust?.points ?? []).flatMap((p) => {
    const at = pointAt(p);
        return at ? [new Feature({ geometry: new Point(at), name: p.point, level: p.elevation_m, held: p.held_plan || p.held_height, single: p.readings <= 1, kind: "point" })] : [];
  });
}

const TO_95 = 2.4477; /* standard ellipse to 95 % in two dimensions: root of the chi-square quantile, 2 degrees of freedom */

export function ellipseFeatures(job: Job, magnify: number): Feature[] {
  return (job.results.adjust?.points ?? []).flatMap((p) => {
    const at = pointAt(p);
    const e = p.ellipse;
    const [major, minor] = [e?.semi_major_m ?? 0, e?.semi_minor_m ?? 0];
    if (!at || !(major > 0)) return [];
    const turn = ((e?.bearing_deg ?? 0) * Math.PI) / 180;
    const ring = Array.from({ length: 41 }, (_, i): XY => {
      const t = (i / 40) * 2 * Math.PI;
      const [along, across] = [major * TO_95 * magnify * Math.cos(t), minor * TO_95 * magnify * Math.sin(t)];
      return [at[0] + along * Math.sin(turn) + across * Math.cos(turn), at[1] + along * Math.cos(turn) - across * Math.sin(turn)];
    });
    return [new Feature({ geometry: new LineString(ring), kind: "ellipse" })];
  });
}

export function readingFeatures(job: Job): Feature[] {
  const find = finderOf(job);
  const a = job.results.adjust;
  const wrong = new Set((a?.suspects ?? []).map((s) => `${s.page} ${s.row}`));
  return (a?.observations ?? []).flatMap((o) => {
    const from = o.from ? find(o.from) : null;
    const to = o.to ? find(o.to) : null;
    return from && to ? [new Feature({ geometry: new LineString([from, to]), kind: "reading", wrong: wrong.has(`${o.page} ${o.row}`) })] : [];
  });
}

export function contourFeatures(job: Job): Feature[] {
  return (job.results.contours?.features ?? []).map((f) => new Feature({ geometry: new LineString(f.geometry.coordinates.map((p) => [p[0]!, p[1]!])), level: f.properties.elevation_m, index: f.properties.index, kind: "contour" }));
}

export function stakeFeatures(job: Job): Feature[] {
  const find = finderOf(job);
  const stakes = (job.results.setout?.stakes ?? []).map((s) => new Feature({ geometry: new Point([s.easting_m, s.northing_m]), name: s.stake, kind: "stake", shared: find(s.stake) !== null }));
  const known = new Set(stakes.map((s) => s.get("name") as string));
  const others = (job.results.verify?.checks ?? []).filter((c) => !known.has(c.point)).flatMap((c) => {
    const at = find(c.point);
    return at ? [new Feature({ geometry: new Point(at), name: c.point, kind: "stake" })] : [];
  });
  return [...stakes, ...others];
}

/** Where water stands, and where the ground falls to a building. */
export function findingFeatures(job: Job): Feature[] {
  const drain = job.live?.water ?? job.results.drain;
  if (!job.showWater || !drain) return [];
  return drain.low_spots.slice(0, 40).map((s) => new Feature({ geometry: new Point([s.easting_m, s.northing_m]), kind: "finding", name: `${Math.round(s.depth_m * 1000)} mm deep`, depth: s.depth_m, proven: s.proven }));
}

/** A work as it is drawn over the map: outline, label, and which way it falls. */
export interface WorkMark { outline: XY[]; middle: XY; words: string[]; arrow: XY[] | null; slope: string }

function slopeArrow(at: XY, towards: number, size: number): XY[] {
  const half = size * 0.22;
  return [[at[0] - half * Math.sin(towards), at[1] - half * Math.cos(towards)], [at[0] + half * Math.sin(towards), at[1] + half * Math.cos(towards)]];
}

export function workMarks(job: Job): WorkMark[] {
  const find = finderOf(job);
  return worksShown(job).flatMap((work) => {
    if (work.definition.kind === "bank") return []; /* its pad is named there */
    const path = job.site?.features.find((f) => f.name === featureOf(work.definition))?.paths[0];
    if (!path) return [];
    const outline = polylineOf(path);
    const polygon = new Polygon([outline]);
    const inside = path.closed ? (polygon.getInteriorPoint().getCoordinates() as number[]) : new LineString(outline).getCoordinateAt(0.5);
    const middle: XY = [inside[0]!, inside[1]!];
    const live = job.live?.work === work.name ? job.live.volume : undefined;
    const volume = live ?? job.results.volume?.elements?.find((e) => e.element === work.name);
    const told = volume ? [volume.cut_m3 > 0.05 ? `cut ${say("volume", volume.cut_m3, job.units)}` : "", volume.fill_m3 > 0.05 ? `fill ${say("volume", volume.fill_m3, job.units)}` : ""].filter(Boolean) : [];
    if (!path.closed && outline.length < 2) return [];
    const slope = work.definition.kind === "falling pad" ? readSlope(String(work.definition.fall ?? "")) : null;
    const [e0 = 0, n0 = 0, e1 = 0, n1 = 0] = polygon.getExtent();
    const target = typeof work.definition.towards === "string" ? find(work.definition.towards) : null;
    const bearing = target ? Math.atan2(target[0] - middle[0], target[1] - middle[1]) : (Number(work.definition.towards ?? 0) * Math.PI) / 180;
    const arrow = slope ? slopeArrow([middle[0], middle[1] - (n1 - n0) * 0.28], bearing, Math.min(e1 - e0, n1 - n0) || 1) : null;
    return [{ outline, middle, words: [work.name, ...told], arrow, slope: slope ? (slopeSaid(slope, job.units).split(" = ")[0] ?? "") : "" }];
  });
}
