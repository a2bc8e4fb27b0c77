// The job as the page knows it: the site, what follows from it, what is on its way, and how it is looked at.
import { Away, Refused, call, saidOf, type OperationName } from "./api/client";
import { historyLine, readKept, send, writeKept, type Kept } from "./api/kept";
import type { Failure, Operations, Site, Volume, Work, WorkDefinition } from "./api/types";
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
  | { type: "at"; easting_m: number; northing_m: number; label: string };

export interface Live { work: string; definition: WorkDefinition; volume?: Volume; waiting: boolean }
export interface Refusal { kept: Kept; failure: Failure }

export interface Job {
  site: Site | null;
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
  chapter: Chapter | null;
  view: View;
  units: Units;
  light: Light;
  place: Place | null;
  why: string | null;
  live: Live | null;
  interval_m: number;
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
  site: null, revision: -1, results: {}, failures: {}, slow: [], away: false, kept: readKept(), refusal: null, said: "",
  chapter: null, view: "plan", units: "metric", light: remembered("light", ["paper", "night", "sun"] as const, "paper"),
  place: null, why: null, live: null, interval_m: 0.1, magnify: 100, showTriangles: false, line: null, picking: null,
});

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

const DERIVED: readonly OperationName[] = ["adjust", "ground", "contours", "mesh", "volume", "estimate", "setout", "verify", "drain"];
let newest = 0;

function argumentsOf(name: OperationName): object {
  return name === "contours" ? { interval_m: job.get().interval_m } : {};
}

function keep(name: OperationName, value: unknown, failure: Failure | undefined): void {
  const { results, failures } = job.get();
  job.set({ results: { ...results, [name]: value }, failures: { ...failures, [name]: failure } });
}

/** Asks one operation and keeps its answer, or the sentence why there is none. */
export async function derive(name: OperationName, asked = newest): Promise<void> {
  try {
    const value = await timed(name, call(name, argumentsOf(name)));
    if (asked === newest) keep(name, value, undefined);
  } catch (error) {
    if (error instanceof Away) job.set({ away: true });
    else if (error instanceof Refused) asked === newest && keep(name, undefined, error.failure);
    else throw error;
  }
}

/** Reads the site and all that follows from it; the newest call wins. */
export async function refresh(): Promise<void> {
  const asked = ++newest;
  try {
    const site = await timed("site", call("site"));
    if (asked !== newest) return;
    job.set({ site, revision: site.revision, units: site.units, away: false });
    document.title = site.title ? `${site.title} \u2013 Merestone` : "Merestone";
  } catch (error) {
    job.set(error instanceof Away ? { away: true } : { said: saidOf(error) });
    return;
  }
  await Promise.all(DERIVED.map((name) => derive(name, asked)));
  if (asked === newest) noteFigures(job.get());
}

/* ---- changing ---- */

let sending: Promise<void> | null = null;

function setKept(kept: readonly Kept[]): void {
  writeKept([...kept]);
  job.set({ kept });
}

async function sendAll(): Promise<void> {
  for (let next = job.get().kept[0]; next; next = job.get().kept[0]) {
    const outcome = await timed(next.operation, send(next, job.get().revision));
    const rest = job.get().kept.filter((k) => k.id !== next.id);
    if (outcome.done) {
      setKept(rest);
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

/** Makes a change: kept first, then sent. @return true when the site has it. */
export async function change(operation: OperationName, args: Record<string, unknown>, said: string, adds = false): Promise<boolean> {
  const kept: Kept = { id: historyLine(said, new Date()), operation, args, said, expected: job.get().revision, adds, tried: false };
  job.set({ refusal: null });
  setKept([...job.get().kept, kept]);
  await sendKept();
  const made = !job.get().kept.some((k) => k.id === kept.id) && job.get().refusal?.kept.id !== kept.id;
  if (made) await refresh();
  return made;
}

export async function turnBack(way: "undo" | "redo"): Promise<void> {
  await change(way, {}, way === "undo" ? "Undone" : "Done again");
}

/* ---- live levels: the newest definition wins, one question at a time ---- */

let asking = false;

async function previewNext(): Promise<void> {
  const live = job.get().live;
  if (asking || !live?.waiting) return;
  asking = true;
  job.set({ live: { ...live, waiting: false } });
  try {
    const volume = await call("preview-volume", { name: live.work, definition: live.definition });
    const now = job.get().live;
    if (now && now.work === live.work) job.set({ live: { ...now, volume } });
  } catch (error) {
    if (error instanceof Away) job.set({ away: true });
  }
  asking = false;
  void previewNext();
}

/** Shows what an element would be, without changing the site. */
export function preview(work: string, definition: WorkDefinition): void {
  const before = job.get().live;
  job.set({ live: { work, definition, waiting: true, ...(before?.work === work && before.volume ? { volume: before.volume } : {}) } });
  void previewNext();
}

export function worksShown(state: Job): Work[] {
  const works = state.site?.works ?? [];
  const { live } = state;
  if (!live) return works;
  const rest = works.map((w) => (w.name === live.work ? { ...w, definition: live.definition } : w));
  return rest.some((w) => w.name === live.work) ? rest : [...rest, { name: live.work, definition: live.definition }];
}

/* ---- looking ---- */

export function setLight(light: Light): void {
  localStorage.setItem("merestone.light", light);
  document.documentElement.dataset.light = light;
  job.set({ light });
}

export function openChapter(chapter: Chapter | null): void {
  job.set({ chapter, why: null, live: null });
}

/** Leads to a place on the sheet. */
export function goTo(place: Place): void {
  job.set({ place, ...(job.get().view === "relief" ? { view: "plan" as const } : {}) });
}

/* ---- the server's voice ---- */

export function listenToServer(): void {
  const events = new EventSource("/api/events");
  events.addEventListener("revision", (event) => {
    const { revision } = JSON.parse((event as MessageEvent<string>).data) as { revision: number };
    const wasAway = job.get().away;
    if (wasAway) job.set({ away: false });
    if (job.get().kept.length) void sendKept().then(refresh);
    else if (wasAway || revision !== job.get().revision) void refresh();
  });
  events.addEventListener("error", () => {
    job.set({ away: true });
    // A browser gives up after some kinds of failure; a new listener starts over.
    if (events.readyState === EventSource.CLOSED) setTimeout(listenToServer, 1500);
  });
}
