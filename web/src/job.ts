// The job as the page knows it: the site, what follows from it, what is on its way, and how it is looked at.
import { Away, Refused, call, saidOf, upload, type OperationName } from "./api/client";
import { historyLine, readKept, send, writeKept, type Kept, type Outcome, type TypedRow } from "./api/kept";
import type { Arguments, Change, Cloud, Drain, Failure, FinishedMesh, Gear, Grade, Level, Mesh, Operations, Preview, Shape, Site, Work, WorkDefinition } from "./api/types";
import { noteFigures } from "./moved";
import { makeStore } from "./store";
import type { Units } from "./units";

export const CHAPTERS = ["Field", "Trust", "Ground", "Levels", "Earth", "Price", "Stakes", "Proof"] as const;
export type Chapter = (typeof CHAPTERS)[number];
export type Light = "paper" | "night" | "sun";
export type View = "plan" | "section" | "relief";

/** A place that a figure or a sentence leads to. */
export type Place =
  | { type: "point"; name: string }
  | { type: "feature"; name: string }
  | { type: "between"; from: string; to: string }
  | { type: "at"; easting_m: number; northing_m: number; label: string; level?: Level };

/** Where stakes are set out from; "" lets the core choose. */
export interface Standing { at: string; backsight: string; from: string; to: string }
/** An element as it would be. `volume`: its own cut and fill; `shape`: of all works with it; `said`: why there are no
 * figures for it. */
export interface Live { work: string; definition: WorkDefinition; volume?: Preview; shape?: Shape; water?: Drain; waiting: boolean; said?: string }
/** An outline that is being drawn: corners are points of the site, or places that become points when it is kept. */
export interface Corner { name: string | null; at: [number, number] }
export interface Drawing { kind: "area" | "line"; corners: readonly Corner[] }
export interface Refusal { kept: Kept; failure: Failure }

export interface Job {
  site: Site | null;
  /** The ground's triangles, asked for when something draws them. */
  mesh: Mesh | null;
  /** The ground as it will be, for the 3-D view. */
  finished: FinishedMesh | null;
  /** What undo and redo would turn back, or nothing. */
  undo: string | null;
  redo: string | null;
  revision: number;
  results: Partial<Operations>;
  failures: Partial<Record<OperationName, Failure>>;
  /** Operations that have run for over half a second, for the chapters to say so. */
  slow: readonly OperationName[];
  away: boolean;
  kept: readonly Kept[];
  refusal: Refusal | null;
  /** What was done last, read back. */
  said: string;
  /** What was done to a page on its way in, to be seen once. */
  notes: readonly string[];
  chapter: Chapter | null;
  view: View;
  units: Units;
  light: Light;
  place: Place | null;
  why: string | null;
  live: Live | null;
  /** The works as they stand, for the sheet: asked for where some are more than pads. */
  shape: Shape | null;
  drawing: Drawing | null;
  /** Levels that were found for an area, to be looked at before any are kept. */
  graded: Grade | null;
  showWater: boolean;
  interval_m: number;
  standing: Standing;
  /** By how much ellipses are drawn larger; 0 until chosen or found fitting. */
  magnify: number;
  showTriangles: boolean;
  line: readonly [number, number][] | null;
  picking: "measure" | "section" | null;
}

const remembered = <T extends string>(key: string, allowed: readonly T[], otherwise: T): T => {
  const value = localStorage.getItem(`merestone.${key}`) as T | null;
  return value && allowed.includes(value) ? value : otherwise;
};

export const job = makeStore<Job>({
  site: null, mesh: null, finished: null, undo: null, redo: null, revision: -1, results: {}, failures: {}, slow: [], away: false, kept: readKept(), refusal: null, said: "", notes: [],
  chapter: null, view: "plan", units: "metric", light: remembered("light", ["paper", "night", "sun"] as const, "paper"),
  place: null, why: null, live: null, shape: null, drawing: null, graded: null, showWater: true, interval_m: 0, standing: { at: "", backsight: "", from: "", to: "" }, magnify: 0, showTriangles: false, line: null, picking: null,
});
job.listen(() => void needMesh());
job.listen(() => void needFinished());
job.listen(() => void needReadings());
job.listen(() => void needShape());

const SLOW_MS = 500;
async function timed<T>(name: OperationName, work: Promise<T>): Promise<T> {
  const timer = setTimeout(() => job.set({ slow: [...job.get().slow, name] }), SLOW_MS);
  try {
    return await work;
  } finally {
    clearTimeout(timer);
    if (job.get().slow.includes(name)) job.set({ slow: job.get().slow.filter((n) => n !== name) });
  }
}

/* ---- reading ---- */

const DERIVED: readonly OperationName[] = ["adjust", "ground", "contours", "volume", "estimate", "setout", "verify", "drain"];
/** What hangs on readings and features alone; kept while these stay as they were. */
const OF_THE_SURVEY: readonly OperationName[] = ["adjust", "ground", "contours"];
let newest = 0;
let offered: Promise<ReadonlySet<string>> | null = null;

/** The operations that this server has: a page may be newer or older than its program. */
export function offeredOperations(): Promise<ReadonlySet<string>> {
  offered ??= fetch("/api/operations").then(
    async (r) => new Set(((await r.json()) as { operations: { name: string }[] }).operations.map((o) => o.name)),
    () => {
      offered = null;
      throw new Away();
    },
  );
  return offered;
}

function argumentsOf(name: OperationName): object {
  const { interval_m, standing, site } = job.get();
  if (name === "adjust") return { "without-observations": true };
  if (name === "ground") return { "without-mean": true };
  if (name === "drain") return { drawn: true, ...(site?.works.length ? { finished: true } : {}) };
  if (name === "setout") return Object.fromEntries(Object.entries(standing).filter(([, point]) => point));
  return name === "contours" && interval_m ? { interval: interval_m } : {};
}

function keep(name: OperationName, value: unknown, failure: Failure | undefined): void {
  const { results, failures } = job.get();
  job.set({ results: { ...results, [name]: value }, failures: { ...failures, [name]: failure } });
}

/** Asks one operation and keeps its answer, or the sentence why there is none. */
export async function derive(name: OperationName, asked = newest): Promise<void> {
  const survey = surveyed;
  const kept = (value: unknown, failure: Failure | undefined) => {
    if (asked !== newest) return; /* a newer question is on its way */
    madeFor.set(name, survey);
    keep(name, value, failure);
  };
  try {
    if (!(await offeredOperations()).has(name)) return;
    kept(await timed(name, call(name, argumentsOf(name))), undefined);
  } catch (error) {
    if (error instanceof Away) job.set({ away: true });
    else if (error instanceof Refused) kept(undefined, error.failure);
    else throw error;
  }
}

/** Readings and features as far as the survey and the ground hang on them. */
function surveyOf(site: Site, gear: readonly Gear[]): string {
  const own = gear.filter((g) => !g.preset);
  const pages = site.pages.filter((p) => !/stakes|built|prices/.test(p.kind)).map((p) => [p.id, p.visit, p.gear, p.rows.length, p.rows.filter((r) => r.set_aside !== null).map((r) => r.id)]);
  return JSON.stringify([pages, site.features.map((f) => [f.name, f.role, f.points.map((v) => v.point + v.edge)]), Object.entries(site.settings).filter(([key]) => !/^(title|units|currency|load|client|owner|creator|approved|soil\..*|stem\..*|tolerance .*)$/.test(key)), own]);
}
let surveyed = "";
/** Of which survey an answer speaks: one that came too late for its question is not taken for an answer. */
const madeFor = new Map<OperationName, string>();

/** What has nothing to work on is not asked for. */
function hasInputs(site: Site, name: OperationName): boolean {
  const has = (kind: string) => site.pages.some((p) => p.kind === kind);
  if (!site.pages.length) return false;
  if (name === "volume") return site.works.length > 0;
  if (name === "drain") return !isHeavy(job.get()); /* on a scan it is asked for by hand: it holds everything else up */
  if (name === "estimate") return has("prices");
  if (name === "setout") return has("stakes");
  return name === "verify" ? has("stakes") && has("built") : true;
}

function forget(names: readonly OperationName[]): void {
  const { results, failures } = job.get();
  const rest = <T extends object>(kept: T) => Object.fromEntries(Object.entries(kept).filter(([name]) => !names.includes(name as OperationName))) as T;
  if (names.some((name) => results[name] || failures[name])) job.set({ results: rest(results), failures: rest(failures) });
}

const wantsMesh = ({ chapter, view }: Job) => view === "relief" || chapter === "Ground" || chapter === "Levels" || chapter === "Earth";
let meshFor = "";

/** Fetches the triangles once something draws them, once for each state of the survey. */
export async function needMesh(): Promise<void> {
  if (!wantsMesh(job.get()) || meshFor === surveyed || !job.get().site) return;
  const asked = surveyed;
  meshFor = asked;
  try {
    const site = await call("site", { "with-ground": true });
    if (asked === surveyed) job.set({ mesh: site.ground ?? null });
  } catch {
    meshFor = "";
  }
}

const READINGS_MOST = 20000; /* more are no chain that anybody reads, and no lines on a sheet */
let readingsFor = "";

/** Fetches the readings once something tells of them: a chain, the lines on the sheet. */
export async function needReadings(): Promise<void> {
  const { chapter, why, place, results } = job.get();
  const count = results.adjust?.observation_count ?? 0;
  const wanted = why !== null || chapter === "Trust" || chapter === "Field" || place?.type === "point" || place?.type === "at";
  if (!wanted || !count || count > READINGS_MOST || readingsFor === surveyed || madeFor.get("adjust") !== surveyed) return;
  const asked = surveyed;
  readingsFor = asked;
  try {
    const { observations } = await call("adjust");
    const { results: now } = job.get();
    if (asked === surveyed && now.adjust) job.set({ results: { ...now, adjust: { ...now.adjust, observations } } });
  } catch {
    readingsFor = "";
  }
}

/** Kinds whose cut and fill the page can draw from the ground by itself. */
export const isPlain = (kind: string): boolean => /^(pad|falling pad|depth)$/.test(kind);
let shapeFor = -1;

/** Fetches the works' shape for the sheet where the page cannot draw it by itself. */
export async function needShape(): Promise<void> {
  const { site, chapter, revision } = job.get();
  if (!site || shapeFor === revision || !(chapter === "Levels" || chapter === "Earth")) return;
  shapeFor = revision;
  if (site.works.every((w) => isPlain(w.definition.kind))) {
    if (job.get().shape) job.set({ shape: null });
    return;
  }
  try {
    const { shape } = await call("preview-volume", { whole: true, "with-faces": true });
    if (shapeFor === revision) job.set({ shape: shape ?? null });
  } catch (error) {
    if (error instanceof Away) shapeFor = -1;
    else job.set({ shape: null });
  }
}

let finishedFor = -1;

/** Fetches the finished surface once the 3-D view draws it, once for each revision. */
export async function needFinished(): Promise<void> {
  const { view, site, revision } = job.get();
  if (view !== "relief" || !site || finishedFor === revision) return;
  finishedFor = revision;
  try {
    const { finished } = site.works.length ? await timed("site", call("site", { "with-finished": true })) : { finished: null };
    if (finishedFor === revision) job.set({ finished: finished ?? null });
  } catch {
    finishedFor = -1;
  }
}

function turnsOf(changes: readonly Change[]): { undo: string | null; redo: string | null } {
  const isStep = (c: Change) => /^(Undo|Redo)/.test(c.why);
  const standing = [...changes].reverse().find((c) => !c.undone && !isStep(c));
  const undone = [...changes].reverse().find((c) => c.undone);
  return { undo: standing?.why ?? null, redo: undone?.why ?? null };
}

export const TIMES = [1, 10, 25, 50, 100, 250, 500] as const;

/** The magnification at which the largest ellipse takes about a thirtieth of the site. */
function fittingTimes({ results }: Job): number {
  const points = results.adjust?.points ?? [];
  const largest = points.reduce((most, p) => Math.max(most, p.ellipse?.semi_major_m ?? 0), 0);
  const span = (pick: (p: (typeof points)[number]) => number | null) => {
    const all = points.map(pick).filter((v) => v !== null);
    return all.reduce((a, b) => Math.max(a, b), -Infinity) - all.reduce((a, b) => Math.min(a, b), Infinity);
  };
  const room = Math.max(span((p) => p.easting_m), span((p) => p.northing_m)) / 30;
  return largest > 0 ? (TIMES.findLast((n) => n * largest * 2.45 <= room) ?? 1) : 0;
}

/** Reads the site and all that follows from it; the newest call wins. */
export async function refresh(): Promise<void> {
  const asked = ++newest;
  try {
    const [site, gear] = await Promise.all([timed("site", call("site")), call("gear")]);
    if (asked !== newest) return;
    job.set({ site, results: { ...job.get().results, gear }, revision: site.revision, units: site.units, away: false });
    document.title = site.title ? `${site.title} \u2013 Merestone` : "Merestone";
  } catch (error) {
    job.set(error instanceof Away ? { away: true } : { said: saidOf(error) });
    return;
  }
  surveyed = surveyOf(job.get().site!, job.get().results.gear?.gear ?? []);
  const names = DERIVED.filter((name) => hasInputs(job.get().site!, name) && !(OF_THE_SURVEY.includes(name) && madeFor.get(name) === surveyed));
  forget(DERIVED.filter((name) => !hasInputs(job.get().site!, name)));
  await Promise.all([derive("history", asked).then(() => job.set(turnsOf(job.get().results.history?.changes ?? []))), ...names.map((name) => derive(name, asked))]);
  if (asked !== newest) return;
  if (!job.get().interval_m && job.get().results.contours) job.set({ interval_m: job.get().results.contours!.interval_m });
  if (!job.get().magnify) job.set({ magnify: fittingTimes(job.get()) });
  noteFigures(job.get());
  void needMesh();
}

/* ---- changing ---- */

let sending: Promise<void> | null = null;

function setKept(kept: readonly Kept[]): void {
  writeKept([...kept]);
  job.set({ kept });
}

const awayOr = (error: unknown): Outcome => {
  if (error instanceof Away) return { done: false, away: true };
  throw error;
};

async function sendAll(): Promise<void> {
  for (let next = job.get().kept[0]; next; next = job.get().kept[0]) {
    const outcome = await timed(next.operation, resolved(next).then((edit) => send(edit, job.get().revision), awayOr));
    const rest = job.get().kept.filter((k) => k.id !== next.id);
    if (outcome.done) {
      setKept(rest);
      if (outcome.notes) job.set({ notes: [...job.get().notes, `${next.said}. ${outcome.notes}`] });
      job.set({ away: false, said: next.said, revision: Math.max(job.get().revision, outcome.revision) });
    } else if (outcome.away) {
      setKept([{ ...next, tried: true, expected: next.tried ? next.expected : job.get().revision }, ...rest]);
      job.set({ away: true });
      return;
    } else {
      setKept(rest);
      if (outcome.failure) job.set({ refusal: { kept: next, failure: outcome.failure } });
    }
  }
}

/** Sends what is kept, one after the other; a second call joins the first. */
export function sendKept(): Promise<void> {
  sending ??= sendAll().finally(() => {
    sending = null;
  });
  return sending;
}

/** Makes a change: kept first, then sent. @return true when the site has it. Several in a row leave the reading to the last. */
export function change<K extends OperationName>(operation: K, args: Arguments[K], said: string, adds = false, read = true): Promise<boolean> {
  return put({ id: historyLine(said, new Date()), operation, args: args as Record<string, unknown>, said, expected: job.get().revision, adds, tried: false }, read);
}

/** Adds a typed row to its page, or begins that page with it. */
export function addRow(row: TypedRow, said: string): Promise<boolean> {
  return put({ id: historyLine(said, new Date()), operation: "add-reading", args: {}, said, expected: job.get().revision, adds: true, tried: false, row }, true);
}

async function resolved(kept: Kept): Promise<Kept> {
  const { row } = kept;
  if (!row) return kept;
  const known = job.get().site;
  const site = known && known.revision === job.get().revision && !job.get().away ? known : await call("site");
  const page = site.pages.find((p) => p.name === row.name && p.kind === row.kind && p.visit === row.visit);
  if (page) return { ...kept, operation: "add-reading", args: { page_id: page.id, record: row.record } };
  return { ...kept, operation: "import", args: { page: row.kind, name: row.name, visit: row.visit, text: `${row.header}\n${row.record}\n` } };
}

async function put(kept: Kept, read: boolean): Promise<boolean> {
  job.set({ refusal: null });
  setKept([...job.get().kept, kept]);
  await sendKept();
  const made = !job.get().kept.some((k) => k.id === kept.id) && job.get().refusal?.kept.id !== kept.id;
  if (made && read) await refresh();
  return made;
}

/** Undo and redo are not kept for later: what they would turn back is only known now. */
export async function turnBack(way: "undo" | "redo"): Promise<void> {
  try {
    const done = await timed(way, call(way, { expected_revision: job.get().revision }));
    job.set({ said: done.undone ? `undone: ${plainLine(done.undone)}` : `done again: ${plainLine(done.redone ?? "")}`, refusal: null });
  } catch (error) {
    job.set(error instanceof Away ? { away: true } : { said: saidOf(error) });
    return;
  }
  await refresh();
}

/** A scan is not kept for later either: only its file has it. @return what it came to, or why not */
export async function takeScan(file: File, args: Arguments["cloud"], sent: (share: number) => void): Promise<{ taken: Cloud } | { fault: string }> {
  try {
    const taken = await upload("cloud", file, { ...args, why: historyLine(`Took in the scan ${file.name}`, new Date()) } as Arguments["cloud"], sent);
    await refresh();
    return { taken };
  } catch (error) {
    if (error instanceof Away) job.set({ away: true });
    return { fault: saidOf(error) };
  }
}

/** A line of the history without the mark that makes it the only one. */
export const plainLine = (why: string): string => why.replace(/ \(typed [\d:.]+\)/, "");

/* ---- live levels: the newest definition wins, one question at a time ---- */

const RESTS_MS = 220; /* a thumb that has not moved for so long looks at the figures */
const EVERY_MS = 90; /* what answers within this is asked at every step */
const now = () => performance.now();
let asking = false;
let restTimer = 0;
let wholeTook = Infinity;
let waterTook = Infinity;
const HEAVY = 40_000; /* triangles: over more the interval and the water take seconds, which a thumb does not wait for */

/** On a scan a pad's cut and fill follow the thumb, and the rest comes when the level is kept. */
export const isHeavy = (state: Job): boolean => (state.results.ground?.triangles ?? 2 * (state.site?.pages ?? []).reduce((sum, p) => sum + p.rows.length, 0)) > HEAVY;

const isLive = (work: string) => job.get().live?.work === work;
const setLive = (work: string, patch: Partial<Live>) => {
  const { live } = job.get();
  if (live && live.work === work) job.set({ live: { ...live, ...patch } });
};

/** Elements beside one that is changed may hang on it: a bank on its pad, a later one on an earlier. */
const needsWhole = (d: WorkDefinition) => !isPlain(d.kind) || (job.get().site?.works ?? []).some((w) => !isPlain(w.definition.kind));

async function previewWhole(work: string, definition: WorkDefinition): Promise<void> {
  const started = now();
  const all = await call("preview-volume", { definition: { ...definition, name: work }, whole: true, "with-faces": true });
  wholeTook = now() - started;
  const own = all.elements?.find((e) => e.element === work);
  setLive(work, { ...(own ? { volume: own } : {}), ...(all.shape ? { shape: all.shape } : {}) });
}

async function previewOne(work: string, definition: WorkDefinition, quick: boolean): Promise<void> {
  const volume = await call("preview-volume", { definition: { ...definition, name: work }, ...(quick ? { quick } : {}) });
  setLive(work, { volume });
}

async function previewWater(work: string, definition: WorkDefinition): Promise<void> {
  if (!job.get().showWater || isHeavy(job.get())) return;
  const started = now();
  const water = await call("drain", { definition: { ...definition, name: work }, finished: true, drawn: true });
  waterTook = now() - started;
  setLive(work, { water });
}

/** The figures at once; what takes its time, when the thumb rests. */
async function previewStep(work: string, definition: WorkDefinition, rested: boolean): Promise<void> {
  const whole = needsWhole(definition);
  if (rested && isHeavy(job.get()) && /pad$/.test(definition.kind)) return;
  if (whole && (rested || wholeTook < EVERY_MS || !/pad$/.test(definition.kind))) await previewWhole(work, definition);
  else await previewOne(work, definition, !rested && /pad$/.test(definition.kind));
  if (rested || waterTook < EVERY_MS) await previewWater(work, definition);
}

async function previewNext(rested = false): Promise<void> {
  const { live } = job.get();
  if (asking || !live || (!live.waiting && !rested)) return;
  asking = true;
  setLive(live.work, { waiting: false });
  try {
    await previewStep(live.work, live.definition, rested);
    const { live: after } = job.get();
    if (after?.said && isLive(live.work)) job.set({ live: (({ said: _, ...rest }) => rest)(after) });
  } catch (error) {
    if (error instanceof Away) job.set({ away: true });
    else if (isLive(live.work)) {
      const { volume: _, ...rest } = job.get().live!;
      job.set({ live: { ...rest, said: saidOf(error) } });
    }
  }
  asking = false;
  if (job.get().live?.waiting) void previewNext();
}

function restLater(): void {
  clearTimeout(restTimer);
  restTimer = window.setTimeout(() => (asking ? restLater() : void previewNext(true)), RESTS_MS);
}

/** Shows what an element would be, without changing the site. */
export function preview(work: string, definition: WorkDefinition): void {
  const { live: before } = job.get();
  const kept = before?.work === work ? before : null;
  job.set({ live: { work, definition, waiting: true, ...(kept?.volume ? { volume: kept.volume } : {}), ...(kept?.shape ? { shape: kept.shape } : {}), ...(kept?.water ? { water: kept.water } : {}) } });
  restLater();
  void previewNext();
}

export function worksShown(state: Job): Work[] {
  const works = state.site?.works ?? [];
  const { live } = state;
  if (!live) return works;
  const rest = works.map((w) => (w.name === live.work ? { ...w, definition: live.definition } : w));
  return rest.some((w) => w.name === live.work) ? rest : [...rest, { name: live.work, position: 1e6, definition: live.definition }];
}

/* ---- looking ---- */

export function setLight(light: Light): void {
  localStorage.setItem("merestone.light", light);
  document.documentElement.dataset.light = light;
  job.set({ light });
}

export function openChapter(chapter: Chapter | null): void {
  job.set({ chapter, why: null, live: null, drawing: null, graded: null });
}

/** Takes a corner of the outline that is being drawn. */
export function addCorner(corner: Corner): void {
  const { drawing } = job.get();
  const last = drawing?.corners[drawing.corners.length - 1];
  if (!drawing || (last && Math.hypot(last.at[0] - corner.at[0], last.at[1] - corner.at[1]) < 1e-3)) return;
  job.set({ drawing: { ...drawing, corners: [...drawing.corners, corner] } });
}

/** Takes an end of the line that is being picked; the second one ends the picking. */
export function pickEnd(at: [number, number]): void {
  const { line: begun, picking } = job.get();
  const line: [number, number][] = [...(begun?.length === 1 ? begun : []), at];
  const whole = line.length === 2;
  job.set({ line, ...(whole ? { picking: null } : {}), ...(whole && picking === "section" ? { view: "section" as const } : {}) });
}

/** Leads to a place on the sheet. */
export function goTo(place: Place): void {
  job.set({ place, ...(job.get().view === "relief" ? { view: "plan" as const } : {}) });
}

/* ---- the server's voice ---- */

const OWN_ANSWER_MS = 150; /* the page's own change is heard here as well, often before its answer */

export function listenToServer(): void {
  const events = new EventSource("/api/events");
  events.addEventListener("revision", (event) => {
    const { revision } = JSON.parse((event as MessageEvent<string>).data) as { revision: number };
    const wasAway = job.get().away;
    if (wasAway) job.set({ away: false });
    if (job.get().kept.length) void sendKept().then(refresh);
    else if (wasAway) void refresh();
    else setTimeout(() => revision > job.get().revision && void refresh(), OWN_ANSWER_MS);
  });
  events.addEventListener("error", () => {
    job.set({ away: true });
    // A browser gives up after some kinds of failure; a new listener starts over.
    if (events.readyState === EventSource.CLOSED) setTimeout(listenToServer, 1500);
  });
}
