// The kinds of works: which have keys and a slider, and what the text of each begins with (docs/works.md).
import type { WorkDefinition } from "../api/types";

/** Where an element lies: in an area, along a line, at a point. */
export type Lies = "in" | "along" | "at" | "of";
export interface WorkKind { kind: string; word: string; lies: Lies; begins: (level: string) => Record<string, unknown> }

/** One thing that is asked of an element, on a line of its own. `hint`: how it is written. */
export interface Ask { key: string; word: string; hint: string; choose?: readonly string[] }
const ask = (key: string, word: string, hint = "", choose?: readonly string[]): Ask => ({ key, word, hint, ...(choose ? { choose } : {}) });
const BATTERS = [ask("cut", "bank in cut", "1:1.5"), ask("fill", "bank in fill", "1:2")];

/** What each kind is asked beside its level or depth, its build and its place; the rest of it is written as text. */
export const ASKED: Record<string, readonly Ask[]> = {
  "falling pad": [ask("fall", "fall", "1:60"), ask("towards", "towards", "bearing, or a point"), ask("at", "level at", "a point")],
  bank: [ask("batter", "batter", "1:2"), ...BATTERS],
  path: [ask("width", "width", "1.2"), ask("from", "level at its start", "99.800"), ask("to", "level at its end", "99.600"), ask("crossfall", "crossfall", "2%"), ask("crown", "or crown", "2.5%"), ask("batter", "banks", "1:2")],
  ramp: [ask("width", "width", "1.2"), ask("from", "level at its start", "99.600"), ask("to", "level at its end", "99.900"), ask("batter", "banks", "1:2")],
  steps: [ask("width", "width", "1.5"), ask("from", "level at the foot", "99.150"), ask("to", "level at the top", "99.750"), ask("risers", "risers", "4"), ask("riser", "or highest riser", "150mm")],
  swale: [ask("shape", "shape", "", ["V", "trapezoid", "parabola"]), ask("from", "bottom at its start", "99.400"), ask("to", "bottom at its end", "99.200"), ask("side", "sides", "1:3"), ask("bottom", "bottom width", "0.5"), ask("top", "top width", "1.2"), ask("depth", "depth", "0.2")],
  trench: [ask("from", "invert at its start", "99.100"), ask("fall", "fall", "1:80"), ask("to", "or invert at its end", "98.900"), ask("bottom", "width", "450mm"), ask("side", "sides", "upright"), ask("bedding", "bedding", "100mm"), ask("pipe", "pipe, outside", "110mm")],
  pond: [ask("depth", "depth", "0.8"), ask("side", "sides", "1:2")],
  mound: [ask("radius", "flat top, radius", "1.0"), ask("batter", "batter", "1:3")],
  strip: [],
};

/** Numbers go as numbers where the core counts, all else as it was typed. */
export const asTyped = (key: string, text: string): string | number | undefined => {
  const t = text.trim();
  if (!t) return undefined;
  return (key === "risers" || key === "towards") && /^-?\d+(\.\d+)?$/.test(t) ? Number(t) : t;
};

/** The keys that the slider moves: a level, a depth, or both ends of a line together. */
export function leversOf(d: WorkDefinition): readonly string[] {
  const has = (key: string) => (d as unknown as Record<string, unknown>)[key] !== undefined;
  if (d.kind === "depth" || d.kind === "strip") return ["depth"];
  if (d.kind === "pad through levels") return [];
  if (has("level")) return ["level"];
  return ["from", "to"].filter(has);
}

/** What a kind has under its surface: none where the core allows none. */
export const hasBuild = (kind: string): boolean => !/^(wall|strip)$/.test(kind);

export const KINDS: readonly WorkKind[] = [
  { kind: "pad", word: "level pad", lies: "in", begins: (level) => ({ level }) },
  { kind: "falling pad", word: "pad with a fall", lies: "in", begins: (level) => ({ level, fall: "1:60", towards: 180 }) },
  { kind: "pad through levels", word: "pad through three levels", lies: "in", begins: () => ({ levels: [] }) },
  { kind: "depth", word: "dig to a depth", lies: "in", begins: () => ({ depth: "0.30" }) },
  { kind: "bank", word: "bank from a pad to daylight", lies: "of", begins: () => ({ cut: "1:1.5", fill: "1:2" }) },
  { kind: "path", word: "path or drive", lies: "along", begins: (level) => ({ width: "1.2", crossfall: "2%", from: level, to: level }) },
  { kind: "ramp", word: "ramp", lies: "along", begins: (level) => ({ width: "1.2", from: level, to: level }) },
  { kind: "steps", word: "steps", lies: "along", begins: (level) => ({ width: "1.5", from: level, to: (Number(level) + 0.6).toFixed(3), risers: 4 }) },
  { kind: "swale", word: "swale", lies: "along", begins: (level) => ({ shape: "V", side: "1:3", from: level, to: level }) },
  { kind: "trench", word: "trench", lies: "along", begins: (level) => ({ bottom: "450mm", from: (Number(level) - 0.6).toFixed(3), fall: "1:80", bedding: "100mm", pipe: "110mm" }) },
  { kind: "pond", word: "pond", lies: "in", begins: (level) => ({ level, depth: "0.8", side: "1:2" }) },
  { kind: "mound", word: "mound", lies: "at", begins: (level) => ({ level: (Number(level) + 1).toFixed(3), radius: "1.0", batter: "1:3" }) },
  { kind: "wall", word: "wall that stops banks", lies: "along", begins: () => ({}) },
  { kind: "strip", word: "strip topsoil", lies: "in", begins: () => ({ depth: "150mm" }) },
  { kind: "layers", word: "layers under a surface", lies: "in", begins: () => ({ layers: [{ material: "mulch", thickness: "75mm" }] }) },
];

export function beginWork(kind: WorkKind, where: string, level: string): WorkDefinition {
  const name = /pad|depth/.test(kind.kind) ? where : `${where} ${kind.kind}`;
  return { name, kind: kind.kind, [kind.lies]: where, ...kind.begins(level) };
}

/** Two spaces deep, short lists and records on one line, as docs/works.md writes them. */
export function workText(d: WorkDefinition): string {
  const { name: _, ...rest } = d;
  const lines = Object.entries(rest).map(([key, value]) => {
    if (Array.isArray(value) && value.some((v) => typeof v === "object")) return `  "${key}": [\n${value.map((v) => `    ${JSON.stringify(v)}`).join(",\n")}\n  ]`;
    return `  "${key}": ${JSON.stringify(value)}`;
  });
  return `{\n${lines.join(",\n")}\n}`;
}

/** Line and column of the character at `index`, from 1. */
function placeIn(text: string, index: number): string {
  const before = text.slice(0, index).split("\n");
  return `line ${before.length}, column ${(before[before.length - 1] ?? "").length + 1}`;
}

/** @return the definition, or one sentence on why it is none. */
export function readWork(name: string, text: string): WorkDefinition | string {
  try {
    const read = JSON.parse(text) as unknown;
    if (typeof read !== "object" || read === null || Array.isArray(read)) return "An element is written in braces: { \"kind\": \"pad\", \u2026 }.";
    return { ...(read as Omit<WorkDefinition, "name">), name };
  } catch (error) {
    const said = error instanceof Error ? error.message : "";
    const at = /position (\d+)/.exec(said);
    return `This is not JSON yet${at ? ` at ${placeIn(text, Number(at[1]))}` : ", at its end"}. Keys and words stand in quotes, with a comma between two keys.`;
  }
}
