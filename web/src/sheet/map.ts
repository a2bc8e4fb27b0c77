// The plan: a cartesian map in site metres, its layers from the ground up.
import Feature from "ol/Feature";
import OlMap from "ol/Map";
import View from "ol/View";
import { boundingExtent, getCenter, isEmpty, type Extent } from "ol/extent";
import { Circle as CircleGeometry, LineString, MultiLineString, Point } from "ol/geom";
import { defaults as defaultInteractions } from "ol/interaction/defaults";
import VectorLayer from "ol/layer/Vector";
import Projection from "ol/proj/Projection";
import VectorSource from "ol/source/Vector";
import { isPlain, worksShown, type Drawing, type Job, type Place } from "../job";
import { polylineOf, type XY } from "./arcs";
import * as content from "./content";
import { cutFillOf, inkOf, trianglesOf, type CutFill, type GroundInk } from "./ground";
import { cutPattern, fillPattern, readInks, waterPattern, type Inks } from "./ink";
import { elementInks, gradeInk, waterInk, type ElementInk } from "./shape";
import * as styles from "./styles";

const SITE = new Projection({ code: "SITE", units: "m", global: false, getPointResolution: (r) => r });

type Maker = (job: Job) => Feature[];
interface Sheaf { source: VectorSource; make: Maker; from: (job: Job) => unknown[]; last: unknown[] }

const NEVER: unknown[] = [];

export class Plan {
  readonly map: OlMap;
  readonly look: styles.Look;
  private readonly sheaves: Sheaf[] = [];
  private readonly marks = new VectorSource();
  private readonly ground: GroundSheet;
  private marked: unknown[] = NEVER;
  private fitted = false;

  constructor(target: HTMLElement) {
    this.look = { inks: readInks(), units: "metric", chapter: null, magnify: 100, spacing_m: 1, suspects: new Set(), verdicts: new Map() };
    this.ground = new GroundSheet(() => this.look.inks);
    target.append(this.ground.canvas);
    const look = () => this.look;
    const site = (job: Job) => [job.site];
    const adjusted = (job: Job) => [job.results.adjust];
    const layers = [
      this.sheaf((j) => (j.site ? content.areaFeatures(j.site) : []), site, styles.areaStyle(look)),
      this.sheaf(content.contourFeatures, (j) => [j.results.contours], styles.contourStyle(look), true),
      this.sheaf(content.readingFeatures, adjusted, styles.readingStyle(look)),
      this.sheaf((j) => (j.site ? content.edgeFeatures(j.site) : []), site, styles.edgeStyle(look), true),
      this.sheaf((j) => (j.site ? content.areaFeatures(j.site) : []), site, styles.areaNameStyle(look), true),
      this.sheaf((j) => content.ellipseFeatures(j, j.magnify), (j) => [j.results.adjust, j.magnify], styles.ellipseStyle(look)),
      this.sheaf(content.pointFeatures, adjusted, styles.pointStyle(look), true),
      this.sheaf(content.findingFeatures, (j) => [j.live?.water ?? j.results.drain, j.showWater], styles.findingStyle(look)),
      this.sheaf(content.stakeFeatures, (j) => [j.results.setout, j.results.verify], styles.stakeStyle(look), true),
      new VectorLayer({ source: this.marks, style: styles.highlightStyle(look) }),
    ];
    this.map = new OlMap({
      target, layers, controls: [], interactions: defaultInteractions({ altShiftDragRotate: false, pinchRotate: false }),
      view: new View({ projection: SITE, center: [0, 0], resolution: 0.05, constrainResolution: false, minResolution: 0.0004, maxResolution: 40, enableRotation: false }),
    });
  }

  private sheaf(make: Maker, from: (job: Job) => unknown[], style: styles.StyleOf, declutter = false) {
    const source = new VectorSource();
    this.sheaves.push({ source, make, from, last: NEVER });
    return new VectorLayer({ source, style, declutter, updateWhileAnimating: false, updateWhileInteracting: false });
  }

  /** Redraws what changed since the last call. */
  show(job: Job): void {
    const { look } = this;
    const before = [look.chapter, look.units, look.inks];
    Object.assign(look, { chapter: job.chapter, units: job.units, magnify: job.magnify, verdicts: new Map((job.results.verify?.checks ?? []).map((c) => [c.point, c.verdict])) });
    for (const sheaf of this.sheaves) this.refill(sheaf, job);
    this.ground.show(job);
    if ([look.chapter, look.units, look.inks].some((v, i) => v !== before[i])) this.redraw();
    if (!this.fitted && this.fit(false)) this.fitted = true;
    if (!job.site?.pages.length) this.fitted = false;
  }

  private refill(sheaf: Sheaf, job: Job): void {
    const from = sheaf.from(job);
    if (from.length === sheaf.last.length && from.every((v, i) => v === sheaf.last[i])) return;
    sheaf.last = from;
    const features = sheaf.make(job);
    if (sheaf.make === content.pointFeatures) this.look.spacing_m = spacingOf(features);
    sheaf.source.clear(true);
    sheaf.source.addFeatures(features);
  }

  /** Draws the ground's own canvas where the map lies now. */
  paintGround(): void {
    const view = this.map.getView();
    this.ground.paint((view.getCenter() ?? [0, 0]) as XY, view.getResolution() ?? 1);
  }

  /** Reads the inks anew after the light was changed. */
  relight(): void {
    this.look.inks = readInks();
    this.redraw();
  }

  private redraw(): void {
    for (const layer of this.map.getAllLayers()) layer.changed();
  }

  extent(): Extent | null {
    const all = this.sheaves.map((s) => s.source.getExtent()).filter((e): e is Extent => !!e && !isEmpty(e) && e.every(Number.isFinite));
    return all.length ? boundingExtent(all.flatMap((e) => [[e[0]!, e[1]!], [e[2]!, e[3]!]])) : null;
  }

  fit(animate = true): boolean {
    const extent = this.extent();
    if (!extent) return false;
    this.map.getView().fit(extent, { padding: (this.map.getSize()?.[0] ?? 0) < 500 ? [16, 16, 40, 16] : [30, 56, 44, 30], minResolution: 0.004, duration: animate ? 250 : 0 });
    return true;
  }

  zoomBy(factor: number): void {
    const view = this.map.getView();
    view.animate({ resolution: (view.getResolution() ?? 0.05) / factor, duration: 150 });
  }

  /** Marks a place and, when asked, brings it into view. */
  mark(job: Job, place: Place | null, line: readonly XY[] | null, fly: boolean): void {
    const from = [place, line, job.site, job.results.adjust, job.drawing];
    if (from.every((v, i) => v === this.marked[i])) return;
    this.marked = from;
    this.marks.clear();
    if (line && line.length) this.marks.addFeature(new Feature({ geometry: line.length > 1 ? new LineString([...line]) : new Point([...line[0]!]) }));
    if (job.drawing) this.marks.addFeatures(drawnMarks(job.drawing));
    const found = place ? markOf(job, place) : null;
    if (found) this.marks.addFeature(found);
    const extent = found?.getGeometry()?.getExtent();
    if (extent && fly) this.flyTo(extent);
  }

  private flyTo(extent: Extent): void {
    const view = this.map.getView();
    const size = Math.max(extent[2]! - extent[0]!, extent[3]! - extent[1]!);
    const now = view.calculateExtent();
    const room = Math.min(now[2]! - now[0]!, now[3]! - now[1]!);
    if (size > room * 0.7 || size * 12 < room) view.fit(new CircleGeometry(getCenter(extent), Math.max(size * 0.75, 3)).getExtent(), { duration: 300 });
    else view.animate({ center: getCenter(extent), duration: 300 });
  }

  /** The thing under a finger: points before lines before areas. */
  placeAt(pixel: number[]): Place | null {
    const hits = new Map<string, Place>();
    this.map.forEachFeatureAtPixel(pixel, (f) => {
      const kind = String(f.get("kind"));
      const name = String(f.get("name"));
      const at = f.getGeometry();
      if (kind === "point") hits.set(kind, { type: "point", name });
      else if ((kind === "stake" || kind === "finding") && at instanceof Point) hits.set(kind, { type: "at", easting_m: at.getCoordinates()[0]!, northing_m: at.getCoordinates()[1]!, label: kind === "finding" ? "" : name });
      else if (kind === "feature" && !hits.has(kind)) hits.set(kind, { type: "feature", name });
      return undefined;
    }, { hitTolerance: 10 });
    return hits.get("stake") ?? hits.get("finding") ?? hits.get("point") ?? hits.get("feature") ?? null;
  }

  dispose(): void {
    this.map.setTarget(undefined);
    this.map.dispose();
  }
}

function spacingOf(points: readonly Feature[]): number {
  if (points.length < 2) return 10;
  const extent = boundingExtent(points.map((f) => (f.getGeometry() as Point).getCoordinates()));
  return Math.sqrt(((extent[2]! - extent[0]!) * (extent[3]! - extent[1]!)) / points.length) || 1;
}

/** The outline as far as it is drawn; an area closes itself from its third corner on. */
function drawnMarks({ kind, corners }: Drawing): Feature[] {
  const way = corners.map((c) => [...c.at]);
  const closed = kind === "area" && way.length > 2 ? [...way, way[0]!] : way;
  const line = closed.length > 1 ? [new Feature({ geometry: new LineString(closed) })] : [];
  return [...line, ...corners.map((c, i) => new Feature({ geometry: new Point(c.at), label: c.name ?? String(i + 1) }))];
}

function markOf(job: Job, place: Place): Feature | null {
  const find = content.finderOf(job);
  if (place.type === "at") return new Feature({ geometry: new Point([place.easting_m, place.northing_m]), label: place.label });
  if (place.type === "point") {
    const at = find(place.name);
    const stake = job.results.setout?.stakes.find((s) => s.stake === place.name);
    const where = at ?? (stake ? [stake.easting_m, stake.northing_m] : null);
    return where ? new Feature({ geometry: new Point(where), label: at ? "" : place.name }) : null; /* a point bears its own name */
  }
  if (place.type === "between") {
    const [a, b] = [find(place.from), find(place.to)];
    return a && b ? new Feature({ geometry: new LineString([a, b]), label: `${place.from} \u2013 ${place.to}` }) : null;
  }
  const lines = job.site?.features.find((f) => f.name === place.name)?.paths.map(polylineOf).filter((l) => l.length) ?? [];
  const only = lines[0];
  if (!only) return null;
  if (only.length === 1) return new Feature({ geometry: new Point(only[0]!), label: place.name });
  return new Feature({ geometry: new MultiLineString(lines) });
}

/** Triangles, cut and fill: on a canvas of their own under the map, since a hundred thousand triangles are no map
 * features, and since a level that follows the thumb must not draw the whole map anew. */
class GroundSheet {
  readonly canvas = document.createElement("canvas");
  private ink: GroundInk | null = null;
  private patches: CutFill[] = [];
  private job: Job | null = null;
  private last: unknown[] = NEVER;

  constructor(private readonly inks: () => Inks) {
    Object.assign(this.canvas.style, { position: "absolute", inset: "0", width: "100%", height: "100%" });
  }

  show(job: Job): void {
    if (job.mesh !== this.job?.mesh) this.ink = job.mesh?.triangles.length ? inkOf(job.mesh) : null;
    this.job = job;
  }

  /** Cells of two pixels; while the zoom moves on smoothly, those of the nearest halving are kept. */
  private patchesAt(job: Job, resolution: number): CutFill[] {
    const finest = 2 ** Math.round(Math.log2(resolution * 2));
    const from = [this.ink, job.site, job.results.adjust, job.live?.definition, finest];
    if (from.every((v, i) => v === this.last[i])) return this.patches;
    this.last = from;
    const find = content.finderOf(job);
    return (this.patches = this.ink && job.site ? worksShown(job).filter((w) => isPlain(w.definition.kind)).flatMap((w) => cutFillOf(this.ink!, job.site!, w, find, finest) ?? []) : []);
  }

  paint(center: XY, resolution: number): void {
    const { canvas, job } = this;
    const ratio = devicePixelRatio || 1;
    const [width, height] = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
    if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
    const c = canvas.getContext("2d")!;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.clearRect(0, 0, width, height);
    const shown = this.ink !== null && job !== null && /^(Levels|Earth|Ground)$/.test(job.chapter ?? "");
    canvas.style.visibility = shown ? "visible" : "hidden"; /* an emptied canvas may linger on the screen */
    if (!this.ink || !job || !shown) return;
    const scale = ratio / resolution;
    const [e0, n0] = this.ink.origin;
    const place = new DOMMatrix([scale, 0, 0, -scale, width / 2 + (e0 - center[0]) * scale, height / 2 - (n0 - center[1]) * scale]);
    if (job.showTriangles && job.chapter === "Ground") {
      c.setTransform(place);
      c.lineWidth = (0.6 * ratio) / scale;
      c.strokeStyle = this.inks().faint;
      c.stroke(trianglesOf(this.ink));
    }
    if (job.chapter === "Levels" || job.chapter === "Earth") {
      for (const patch of this.patchesAt(job, resolution)) this.paintPatch(c, patch, place, ratio);
      this.paintShapes(c, job, place, ratio);
    }
    if (job.showWater && job.chapter !== "Earth") this.paintWater(c, job, place, ratio);
  }

  /** Elements that the core alone can lay out: banks, paths, ponds; and levels that it found. */
  private paintShapes(c: CanvasRenderingContext2D, job: Job, place: DOMMatrix, ratio: number): void {
    const { origin } = this.ink!;
    const shape = job.live?.shape ?? job.shape;
    const plain = new Set(worksShown(job).filter((w) => isPlain(w.definition.kind)).map((w) => w.name));
    const inks: ElementInk[] = shape ? [...elementInks(shape, origin)].filter(([name]) => !plain.has(name)).map(([, ink]) => ink) : [];
    const found = job.graded ? gradeInk(job.graded, origin) : null;
    for (const ink of found ? [...inks, found] : inks) {
      this.fillPatterns(c, ink, place, ratio);
      c.lineWidth = (1.4 * ratio * this.inks().weight) / place.a;
      c.strokeStyle = this.inks().accent;
      c.stroke(ink.rim);
    }
  }

  private fillPatterns(c: CanvasRenderingContext2D, ink: { cut: Path2D; fill: Path2D }, place: DOMMatrix, ratio: number): void {
    const inks = this.inks();
    const back = place.inverse(); /* patterns keep the screen's size whatever the scale */
    c.setTransform(place);
    for (const [path, pattern] of [[ink.cut, cutPattern(inks, ratio)], [ink.fill, fillPattern(inks, ratio)]] as const) {
      pattern.setTransform(back);
      c.fillStyle = pattern;
      c.fill(path);
    }
  }

  /** Ponds as waves within their shore, ways as lines with heads that point down. */
  private paintWater(c: CanvasRenderingContext2D, job: Job, place: DOMMatrix, ratio: number): void {
    const drain = job.live?.water ?? job.results.drain;
    if (!drain) return;
    const inks = this.inks();
    const water = waterInk(drain, this.ink!.origin);
    c.setTransform(place);
    const pattern = waterPattern(inks, ratio);
    pattern.setTransform(place.inverse());
    c.fillStyle = pattern;
    c.fill(water.wet);
    c.strokeStyle = c.fillStyle = inks.fill;
    c.lineWidth = (1.6 * ratio * inks.weight) / place.a;
    c.stroke(water.shore);
    c.lineWidth = (0.9 * ratio * inks.weight) / place.a;
    c.globalAlpha = 0.75;
    c.setLineDash([7, 3].map((px) => (px * ratio) / place.a)); /* no contour, no edge: told by its stroke */
    c.stroke(water.ways);
    c.setLineDash([]);
    const size = (4.2 * ratio) / place.a;
    for (const { at: [x, y], turn } of water.heads) {
      c.beginPath();
      for (const by of [0, 2.55, -2.55]) c.lineTo(x + size * Math.cos(turn + by), y + size * Math.sin(turn + by));
      c.fill();
    }
    c.globalAlpha = 1;
  }

  private paintPatch(c: CanvasRenderingContext2D, patch: CutFill, place: DOMMatrix, ratio: number): void {
    c.save();
    c.setTransform(place);
    c.clip(patch.clip);
    this.fillPatterns(c, patch, place, ratio);
    c.restore();
  }
}
