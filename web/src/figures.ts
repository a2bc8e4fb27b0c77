// The ledger's headline figures and the one sentence on each chapter's state, from the operations' results. Nothing is
// computed here that the core answers; this only picks and words.
import type { AdjustedPoint, Check, Interval, Observation, Page, Stake, WorkDefinition } from "./api/types";
import { CHAPTERS, job as store, type Chapter, type Job, type Place } from "./job";
import type { Kind } from "./units";

export interface Figure {
  key: string;
  chapter: Chapter;
  label: string;
  kind: Kind;
  value: number | null;
  interval?: Interval | undefined;
  /** Said under the value: "of 15". */
  words?: string;
  /** The sign as a word, before the value: "dig", "raise", "over", "short". */
  sign?: string;
  places?: Place[];
  /** Made when it is asked for: a chain looks through every reading. */
  why?: () => Step[];
}

/** One link of the chain behind a figure: from what was read to what follows. */
export interface Step {
  stage: "reading" | "adjusted" | "decided" | "derived";
  text: string;
  kind?: Kind;
  value?: number;
  interval?: Interval | undefined;
  place?: Place;
}

const Z95 = 1.959964;
export const about = (value: number, sd: number | null | undefined): Interval | undefined =>
  sd === null || sd === undefined ? undefined : [value - Z95 * sd, value + Z95 * sd];

export const plural = (count: number, one: string, many = `${one}s`): string => `${count} ${count === 1 ? one : many}`;

/* ---- chains ---- */

export function readingSteps(job: Job, point: string, most = 3): Step[] {
  const touching = (job.results.adjust?.observations ?? []).filter((o) => o.from === point || o.to === point);
  const shown = touching.sort((a, b) => Math.abs(b.standardized) - Math.abs(a.standardized)).slice(0, most);
  return shown.map((o) => readingStep(o));
}

export function readingStep(o: Observation): Step {
  const ends = [o.from, o.to].filter(Boolean).join(" to ");
  const place: Place | undefined = o.from && o.to ? { type: "between", from: o.from, to: o.to } : o.from || o.to ? { type: "point", name: o.to || o.from } : undefined;
  const step: Step = { stage: "reading", text: `${o.kind} ${ends}, ${o.page} row ${o.row}` };
  if (!/direction|bearing|zenith/.test(o.kind)) Object.assign(step, { kind: "length", value: o.observed, interval: about(o.observed, o.sd) });
  return place ? { ...step, place } : step;
}

export function pointSteps(job: Job, p: AdjustedPoint): Step[] {
  const place: Place = { type: "point", name: p.point };
  const steps = readingSteps(job, p.point);
  if (p.elevation_m !== null) steps.push({ stage: "adjusted", text: `Level of ${p.point}`, kind: "level", value: p.elevation_m, interval: about(p.elevation_m, p.sd_elevation_m), place });
  return steps;
}

const NEIGHBOURS = 3;

/** A level on the ground, from the measured points nearest to it. */
export function levelSteps(job: Job, place: Extract<Place, { type: "at" }>): Step[] {
  const far = (p: AdjustedPoint) => Math.hypot((p.easting_m ?? 1e12) - place.easting_m, (p.northing_m ?? 1e12) - place.northing_m);
  const near = (job.results.adjust?.points ?? []).filter(inHeight).sort((a, b) => far(a) - far(b)).slice(0, NEIGHBOURS);
  const steps = near.map((p): Step => ({ stage: "adjusted", text: `Level of ${p.point}`, kind: "level", value: p.elevation_m ?? 0, interval: about(p.elevation_m ?? 0, p.sd_elevation_m), place: { type: "point", name: p.point } }));
  return [...steps, { stage: "derived", text: "Between measured points the ground is taken as flat; the interval is that of the points alone" }];
}

const weakness = (p: AdjustedPoint): number => Math.max(p.sd_easting_m ?? 0, p.sd_northing_m ?? 0, p.sd_elevation_m ?? 0);
const inHeight = (p: AdjustedPoint): boolean => p.elevation_m !== null && p.sd_elevation_m !== null;

function groundSteps(job: Job, feature?: string): Step[] {
  const names = new Set(job.site?.features.find((f) => f.name === feature)?.points.map((v) => v.point) ?? []);
  const points = (job.results.adjust?.points ?? []).filter(inHeight);
  const near = names.size ? points.filter((p) => names.has(p.point)) : points;
  const weakest = [...near].sort((a, b) => weakness(b) - weakness(a))[0];
  const steps: Step[] = weakest ? pointSteps(job, weakest) : [];
  const ground = job.results.ground;
  if (ground) steps.push({ stage: "derived", text: `Ground on ${plural(ground.points, "point")} and ${plural(ground.triangles, "triangle")}; between them nobody measured, and the interval allows for it` });
  return steps;
}

const placed = (place: Place | undefined): { place?: Place } => (place ? { place } : {});

/** The feature that an element lies in, runs along or belongs to. */
export function featureOf(d: WorkDefinition): string | undefined {
  const pad = d.of === undefined ? undefined : store.get().site?.works.find((w) => w.name === d.of);
  return d.in ?? d.along ?? pad?.definition.in;
}

export function placeOfDefinition(d: WorkDefinition): Place | undefined {
  const feature = featureOf(d);
  if (feature) return { type: "feature", name: feature };
  if (typeof d.at === "string") return { type: "point", name: d.at };
  return Array.isArray(d.at) ? { type: "at", easting_m: Number(d.at[0]), northing_m: Number(d.at[1]), label: d.name } : undefined;
}

/** What was decided about an element, in the words of its definition. */
export function workSaid(d: WorkDefinition): string {
  const told = ["level", "fall", "depth", "width", "from", "to", "cut", "fill", "batter"];
  const of = (key: string) => (d as unknown as Record<string, unknown>)[key];
  const said = told.flatMap((key) => (typeof of(key) === "string" || typeof of(key) === "number" ? [`${key} ${String(of(key))}`] : [])).slice(0, 4);
  const feature = featureOf(d);
  return said.length ? said.join(", ") : feature ? `${d.along ? "along" : "in"} ${feature}` : d.kind;
}

export function volumeSteps(job: Job): Step[] {
  const works = job.site?.works ?? [];
  const decided: Step[] = works.map((w) => ({ stage: "decided", text: `${w.name}: ${w.definition.kind}, ${workSaid(w.definition)}`, ...placed(placeOfDefinition(w.definition)) }));
  const each: Step[] = (job.results.volume?.elements ?? []).flatMap((e) => [
    { stage: "derived", text: `Cut in ${e.element}`, kind: "volume", value: e.cut_m3, interval: e.cut_interval_m3 } as Step,
    { stage: "derived", text: `Fill in ${e.element}`, kind: "volume", value: e.fill_m3, interval: e.fill_interval_m3 } as Step,
  ]);
  return [...groundSteps(job, works[0] ? featureOf(works[0].definition) : undefined), ...decided, ...each];
}

/* ---- headline figures, chapter by chapter ---- */

type FigureMaker = (job: Job) => Figure[];
type Draft = Omit<Figure, "chapter">;

function fieldFigures(job: Job): Draft[] {
  const pages = job.site?.pages ?? [];
  const rows = pages.reduce((sum, page) => sum + page.rows.length, 0);
  const asideSteps = (): Step[] => pages.flatMap((p) => p.rows.filter((r) => r.set_aside).map((r): Step => ({ stage: "reading", text: `${p.name} row ${r.line}: ${r.set_aside}`, ...placed(placeOfRow(p, r.cells)) })));
  const aside = pages.reduce((sum, page) => sum + page.rows.filter((r) => r.set_aside).length, 0);
  return [
    { key: "field.readings", label: "Readings", kind: "count", value: rows, words: `on ${plural(pages.length, "page")}`, why: () => pages.map((p): Step => ({ stage: "reading", text: `${p.name}: ${plural(p.rows.length, "row")} of ${p.kind}${p.visit && `, ${p.visit}`}`, ...placed(placeOfRow(p, p.rows[0]?.cells ?? [])) })) },
    ...(aside ? [{ key: "field.aside", label: "Set aside", kind: "count" as const, value: aside, words: "kept, not counted", why: asideSteps }] : []),
  ];
}

/** Where a row of a page was read: between its two points, or at its one. */
export function placeOfRow(page: Page, cells: readonly string[]): Place | undefined {
  const cell = (column: string) => cells[page.columns.indexOf(column)] ?? "";
  const [from, to] = [cell("from") || cell("at"), cell("to")];
  if (from && to) return { type: "between", from, to };
  const name = cell("point") || cell("stake") || from || to;
  return name ? { type: "point", name } : undefined;
}

function trustFigures(job: Job): Draft[] {
  const a = job.results.adjust;
  if (!a) return [];
  const weakest = [...a.points].sort((p, q) => weakness(q) - weakness(p))[0];
  const figures: Draft[] = [];
  if (weakest) {
    const half = Z95 * weakness(weakest);
    figures.push({ key: "trust.weakest", label: `Weakest point, ${weakest.point}`, kind: "small", value: half, words: "either way", places: [{ type: "point", name: weakest.point }], why: () => [...readingSteps(job, weakest.point), { stage: "adjusted", text: `${weakest.point} by least squares over every visit`, place: { type: "point", name: weakest.point } }] });
  }
  figures.push({ key: "trust.suspects", label: "Readings that look wrong", kind: "count", value: a.suspects.length, places: a.suspects.slice(0, 1).map((s) => (s.from && s.to ? { type: "between", from: s.from, to: s.to } : { type: "point", name: s.to || s.from })), why: () => a.suspects.map((s) => ({ stage: "reading", text: s.sentence, ...(s.from && s.to ? { place: { type: "between", from: s.from, to: s.to } as Place } : {}) })) });
  return figures;
}

function groundFigures(job: Job): Draft[] {
  const g = job.results.ground;
  if (!g) return [];
  const points = (job.results.adjust?.points ?? []).filter(inHeight);
  const at = (level: number) => points.reduce<AdjustedPoint | undefined>((best, p) => (!best || Math.abs((p.elevation_m ?? 0) - level) < Math.abs((best.elevation_m ?? 0) - level) ? p : best), undefined);
  const extreme = (key: string, label: string, level: number): Draft => {
    const p = at(level);
    return { key, label, kind: "level", value: level, ...(p ? { interval: about(level, p.sd_elevation_m), places: [{ type: "point", name: p.point }], why: () => pointSteps(job, p) } : {}) };
  };
  return [extreme("ground.lowest", "Lowest ground", g.lowest_m), extreme("ground.highest", "Highest ground", g.highest_m), { key: "ground.area", label: "Plan area", kind: "area", value: g.plan_area_m2, interval: g.plan_area_m2_interval ?? undefined, places: boundaryPlaces(job), why: () => groundSteps(job) }];
}

function boundaryPlaces(job: Job): Place[] {
  const edge = job.site?.features.find((f) => f.role === "boundary") ?? job.site?.features[0];
  return edge ? [{ type: "feature", name: edge.name }] : [];
}

function levelFigures(job: Job): Draft[] {
  const v = job.results.volume;
  return (v?.elements ?? []).slice(0, 3).map((e) => ({
    key: `levels.${e.element}`, label: `${e.element}, cut less fill`, kind: "volume", value: e.net_m3, interval: e.net_interval_m3,
    sign: e.net_m3 < 0 ? "short" : "over", places: placesOfWork(job, e.element), why: () => volumeSteps(job).filter((s) => s.stage !== "derived" || s.text.includes(e.element) || s.text.startsWith("Ground")),
  }));
}

export function placesOfWork(job: Job, name: string): Place[] {
  const work = job.site?.works.find((w) => w.name === name);
  const place = work && placeOfDefinition(work.definition);
  return place ? [place] : [];
}

function earthFigures(job: Job): Draft[] {
  const v = job.results.volume;
  if (!v) return [];
  const places = (job.site?.works ?? []).flatMap((w) => placeOfDefinition(w.definition) ?? []);
  const why = () => volumeSteps(job);
  return [
    { key: "earth.cut", label: "Cut, in the bank", kind: "volume", value: v.cut_m3, interval: v.cut_interval_m3, sign: "dig", places, why },
    { key: "earth.fill", label: "Fill, in place", kind: "volume", value: v.fill_m3, interval: v.fill_interval_m3, sign: "raise", places, why },
    { key: "earth.net", label: "Cut less fill", kind: "volume", value: v.net_m3, interval: v.net_interval_m3, sign: v.net_m3 < 0 ? "short" : "over", places, why },
  ];
}

/** The feature or element that a quantity was taken from. */
export function placeOfSource(job: Job, name: string): Place | undefined {
  if (job.site?.features.some((f) => f.name === name)) return { type: "feature", name };
  const work = job.site?.works.find((w) => w.name === name);
  return work && placeOfDefinition(work.definition);
}

function priceFigures(job: Job): Draft[] {
  const e = job.results.estimate;
  if (!e || e.total === undefined || e.total === null) return [];
  const why = (): Step[] => [...volumeSteps(job).slice(0, 2), ...e.lines.filter((l) => l.amount !== null && l.amount !== undefined).map((l): Step => ({ stage: "derived", text: l.item, kind: "money", value: l.amount ?? 0, interval: l.amount_interval, ...placed(placeOfSource(job, l.source[0] ?? "")) }))];
  const places = e.lines.flatMap((l) => l.source.flatMap((s) => placeOfSource(job, s) ?? [])).slice(0, 1);
  return [{ key: "price.total", label: "Cost at your rates", kind: "money", value: e.total, interval: e.total_interval, places, why }];
}

export const placeOfStake = (s: Stake): Place => ({ type: "at", easting_m: s.easting_m, northing_m: s.northing_m, label: s.stake });

/** From the points that it is measured from to the place in the ground. */
export function stakeSteps(job: Job, s: Stake): Step[] {
  const points = job.results.adjust?.points ?? [];
  const from = [...(s.methods.ties ?? []).map((t) => t.from), s.methods.polar?.at ?? ""].slice(0, 2);
  const stations = points.filter((p) => from.includes(p.point));
  return [
    ...stations.map((p): Step => ({ stage: "adjusted", text: `${p.point}, from which it is measured`, kind: "small", value: Z95 * weakness(p), place: { type: "point", name: p.point } })),
    { stage: "decided", text: `${s.stake} on the design${s.code ? `, ${s.code}` : ""}` },
    { stage: "derived", text: job.results.setout?.fit.sentence || "The design was laid on the site" },
    { stage: "derived", text: `${s.stake} on the site, easting`, kind: "length", value: s.easting_m, interval: about(s.easting_m, s.sd_m), place: placeOfStake(s) },
    { stage: "derived", text: `${s.stake} on the site, northing`, kind: "length", value: s.northing_m, interval: about(s.northing_m, s.sd_m) },
  ];
}

function stakeFigures(job: Job): Draft[] {
  const s = job.results.setout;
  if (!s?.stakes.length) return [];
  const worst = [...s.stakes].sort((a, b) => (b.sd_m ?? 0) - (a.sd_m ?? 0))[0];
  const all = s.order.flatMap((name): Step[] => { const stake = s.stakes.find((x) => x.stake === name); return stake ? [{ stage: "decided", text: name, place: placeOfStake(stake) }] : []; });
  const draft: Draft[] = [{ key: "stakes.count", label: "Stakes to set", kind: "count", value: s.stakes.length, words: "in the order of the way", places: s.stakes.slice(0, 1).map(placeOfStake), why: () => all }];
  if (worst?.sd_m) draft.push({ key: "stakes.worst", label: `Least sure, ${worst.stake}`, kind: "small", value: Z95 * worst.sd_m, words: "either way", places: [placeOfStake(worst)], why: () => stakeSteps(job, worst) });
  return draft;
}

export function placeOfCheck(job: Job, check: Check): Place {
  const stake = job.results.setout?.stakes.find((s) => s.stake === check.stake);
  return stake ? { ...placeOfStake(stake), label: `${check.point} ${check.verdict}` } as Place : { type: "point", name: check.point };
}

function proofFigures(job: Job): Draft[] {
  const checks = job.results.verify?.checks ?? [];
  if (!checks.length) return [];
  const tally = (verdict: string) => checks.filter((c) => c.verdict === verdict);
  const why = (verdict: string): Step[] => tally(verdict).map((c) => ({ stage: "derived", text: c.sentence, place: placeOfCheck(job, c) }));
  return (["pass", "fail", "cannot tell"] as const).map((verdict) => ({ key: `proof.${verdict}`, label: { pass: "Pass", fail: "Fail", "cannot tell": "Cannot tell" }[verdict], kind: "count" as const, value: tally(verdict).length, words: `of ${checks.length}`, places: tally(verdict).slice(0, 1).map((c) => placeOfCheck(job, c)), why: () => why(verdict) }));
}

const MAKERS: Record<Chapter, (job: Job) => Draft[]> = {
  Field: fieldFigures, Trust: trustFigures, Ground: groundFigures, Levels: levelFigures, Earth: earthFigures, Price: priceFigures, Stakes: stakeFigures, Proof: proofFigures,
};

export const figuresOf: (chapter: Chapter) => FigureMaker = (chapter) => (job) => MAKERS[chapter](job).map((draft) => ({ ...draft, chapter }));
export const headlineFigures: FigureMaker = (job) => CHAPTERS.flatMap((chapter) => figuresOf(chapter)(job));

export const hasPage = (job: Job, kind: string): boolean => job.site?.pages.some((p) => p.kind === kind) ?? false;

/* ---- one sentence a chapter ---- */

/** `calm`: in order; `look`: wants a look; `empty`: nothing yet. Told by sign and sentence, never by tone alone. */
export interface State { mood: "calm" | "look" | "empty"; sentence: string }
const calm = (sentence: string): State => ({ mood: "calm", sentence });
const look = (sentence: string): State => ({ mood: "look", sentence });
const empty = (sentence: string): State => ({ mood: "empty", sentence });

function fieldState(job: Job): State {
  const site = job.site;
  if (!site?.pages.length) return empty("No readings yet.");
  const visits = site.visits.length;
  return job.kept.length ? look(`${plural(job.kept.length, "entry", "entries")} kept here until the server is back.`) : calm(`${plural(visits, "visit")}, ${plural(site.features.length, "feature")}.`);
}

function trustState(job: Job): State {
  const a = job.results.adjust;
  if (!a) return empty(job.failures.adjust?.sentence ?? "Nothing to trust yet.");
  const wrong = a.suspects.length ? ` ${a.suspects.length === 1 ? "One reading looks" : `${a.suspects.length} readings look`} wrong.` : "";
  const loose = a.undetermined.length ? ` ${plural(a.undetermined.length, "point")} not yet fixed.` : "";
  if (a.degrees_of_freedom === 0) return look(`Nothing checks anything yet; measure one more tie.${loose}`);
  const agree = a.global_test.passed ? "The readings agree with their gear." : "The readings disagree more than their gear should.";
  return a.suspects.length || a.undetermined.length || !a.global_test.passed ? look(agree + wrong + loose) : calm(agree);
}

function groundState(job: Job): State {
  const g = job.results.ground;
  if (!g) return empty(job.failures.ground?.sentence ?? "No levels yet.");
  return g.warnings[0] ? look(g.warnings[0]) : calm(`${plural(g.points, "level")} make ${plural(g.triangles, "triangle")}.`);
}

function levelState(job: Job): State {
  const works = job.site?.works ?? [];
  if (!works.length) return empty("Nothing designed yet.");
  const drain = job.results.drain;
  const towards = drain?.buildings.find((b) => b.towards === "building");
  if (towards) return look(`${towards.feature}: the ground falls towards it.`);
  const wet = drain?.low_spots.filter((s) => s.proven) ?? [];
  if (wet[0]) return look(wet.length === 1 ? "Water stands in one place." : `Water stands in ${wet.length} places.`);
  return calm(works.length > 4 ? `${works.length} elements.` : `${works.map((w) => w.name).join(", ")}.`);
}

function earthState(job: Job): State {
  const v = job.results.volume;
  if (!job.site?.works.length) return empty("Nothing to dig yet.");
  if (!v) return job.failures.volume ? look(job.failures.volume.sentence) : empty("\u2026");
  if (v.uncovered_m2 > 0.05) return look(`${v.uncovered_m2.toFixed(1)} m\u00b2 of the works has no ground under it.`);
  const loads = v.materials.reduce((sum, m) => sum + m.loads, 0);
  return calm(`${plural(loads, "load")}, bulked.`);
}

function priceState(job: Job): State {
  const e = job.results.estimate;
  if (!hasPage(job, "prices")) return empty("No price list yet.");
  if (!e) return job.failures.estimate ? look(job.failures.estimate.sentence) : empty("\u2026");
  const missing = e.lines.filter((l) => l.rate === null || l.rate === undefined).length;
  if (missing) return look(`${plural(missing, "item has", "items have")} no rate; the total leaves ${missing === 1 ? "it" : "them"} out.`);
  const left = e.warnings.length;
  if (left > 1) return look(`${left} quantities have no item; the total leaves them out.`);
  return e.warnings[0] ? look(e.warnings[0]) : calm(`${plural(e.lines.length, "item")}, all priced.`);
}

function stakeState(job: Job): State {
  const s = job.results.setout;
  if (!hasPage(job, "stakes")) return empty("No stakes yet.");
  if (!s) return job.failures.setout ? look(job.failures.setout.sentence) : empty("\u2026");
  const cautions = s.stakes.filter((x) => x.caution).length;
  return cautions ? look(`${plural(cautions, "stake")} with a caution.`) : calm(s.fit.sentence || "Ready to set out.");
}

function proofState(job: Job): State {
  const checks = job.results.verify?.checks ?? [];
  if (!hasPage(job, "built")) return empty("Nothing built yet.");
  if (!checks.length) return job.failures.verify ? look(job.failures.verify.sentence) : empty("\u2026");
  const off = checks.filter((c) => c.verdict !== "pass").length;
  return off ? look(`${plural(off, "check")} not passed.`) : calm("All inside their tolerance.");
}

const STATES: Record<Chapter, (job: Job) => State> = {
  Field: fieldState, Trust: trustState, Ground: groundState, Levels: levelState, Earth: earthState, Price: priceState, Stakes: stakeState, Proof: proofState,
};
export const stateOf = (chapter: Chapter, job: Job): State => STATES[chapter](job);
