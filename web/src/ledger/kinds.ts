// The kinds of works: which have keys and a slider, and what the text of each begins with (docs/works.md).
import type { WorkDefinition } from "../api/types";

/** Where an element lies: in an area, along a line, at a point. */
export type Lies = "in" | "along" | "at" | "of";
export interface WorkKind { kind: string; word: string; lies: Lies; begins: (level: string) => Record<string, unknown> }

/** Kinds with a form of their own; the others are written as text. */
export const hasForm = (kind: string): boolean => /^(pad|falling pad|depth)$/.test(kind);

export const KINDS: readonly WorkKind[] = [
  { kind: "pad", word: "level pad", lies: "in", begins: (level) => ({ level }) },
  { kind: "falling pad", word: "pad with a fall", lies: "in", begins: (level) => ({ level, fall: "1:60", towards: 180 }) },
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
  const name = hasForm(kind.kind) ? where : `${where} ${kind.kind}`;
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
