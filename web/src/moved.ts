// Figures that moved since they were last seen, and by how much.
import { headlineFigures, type Figure } from "./figures";
import type { Job } from "./job";
import { makeStore } from "./store";

export interface Moved { from: number; to: number }
interface Marks { seen: Readonly<Record<string, number>>; moved: Readonly<Record<string, Moved>> }

export const marks = makeStore<Marks>({ seen: {}, moved: {} });

/** What counts as moved: more than a hundredth of what the interval spans, or a millionth of the value. */
function hasMoved(before: number, figure: Figure): boolean {
  const value = figure.value ?? 0;
  const span = figure.interval ? figure.interval[1] - figure.interval[0] : 0;
  return Math.abs(value - before) > Math.max(span / 100, Math.abs(value) * 1e-6, 1e-9);
}

/** Compares the headline figures with those last seen. The first look sees everything. */
export function noteFigures(job: Job): void {
  const seen = { ...marks.get().seen };
  const moved: Record<string, Moved> = {};
  for (const figure of headlineFigures(job)) {
    if (figure.value === null) continue;
    const before = seen[figure.key];
    if (before === undefined) seen[figure.key] = figure.value;
    else if (hasMoved(before, figure)) moved[figure.key] = { from: before, to: figure.value };
  }
  marks.set({ seen, moved });
}

export function seeFigure(key: string): void {
  const { seen, moved } = marks.get();
  const mark = moved[key];
  if (!mark) return;
  const rest = Object.fromEntries(Object.entries(moved).filter(([k]) => k !== key));
  marks.set({ seen: { ...seen, [key]: mark.to }, moved: rest });
}

export function seeAll(): void {
  const { seen, moved } = marks.get();
  marks.set({ seen: { ...seen, ...Object.fromEntries(Object.entries(moved).map(([k, m]) => [k, m.to])) }, moved: {} });
}
