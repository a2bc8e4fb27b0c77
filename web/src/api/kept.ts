// Edits on their way. What was typed is kept in the browser until the server has it, so that a server that dies in the
// middle loses nothing; each carries a line for the history by which a lost answer is recognised, so that nothing is
// stored twice.
import { Away, Refused, call, type OperationName } from "./client";
import type { Failure } from "./types";

/** A typed row of a page that may not be there yet; which operation stores it is found when it is sent. */
export interface TypedRow { kind: string; name: string; visit: string; header: string; record: string }

export interface Kept {
  id: string;
  operation: OperationName;
  args: Record<string, unknown>;
  said: string;
  expected: number;
  /** Adds something of its own, so that it holds whatever others changed meanwhile. */
  adds: boolean;
  tried: boolean;
  row?: TypedRow;
}
export type Outcome = { done: true; revision: number; notes?: string } | { done: false; away: boolean; failure?: Failure };

const PLACE = "merestone.kept";

export function readKept(): Kept[] {
  try {
    return JSON.parse(localStorage.getItem(PLACE) ?? "[]") as Kept[];
  } catch {
    return [];
  }
}
export function writeKept(kept: Kept[]): void {
  try {
    localStorage.setItem(PLACE, JSON.stringify(kept));
  } catch {
    localStorage.removeItem(PLACE); /* a page larger than a browser keeps: it is held in memory alone */
  }
}

/** The line for the history: what it is, and when it was typed to the thousandth, which makes it the only one. */
export function historyLine(said: string, at: Date): string {
  return `${said} (typed ${at.toISOString().slice(11, 23)})`;
}

/** Sends one edit. An addition that meets a newer site is sent again on top of it; another edit is refused to its maker. */
export async function send(kept: Kept, revision: number): Promise<Outcome> {
  let expected = kept.tried ? kept.expected : revision;
  for (let attempt = 0; attempt < 20; attempt++) {
    try {
      const done = await call(kept.operation, { ...kept.args, why: kept.id, expected_revision: expected });
      const { revision: made, notes } = done as { revision: number; notes?: string };
      return { done: true, revision: made, ...(notes ? { notes } : {}) };
    } catch (error) {
      if (error instanceof Away) return { done: false, away: true };
      if (!(error instanceof Refused)) throw error;
      const newer = error.failure.changes ?? [];
      const mine = newer.find((change) => change.why === kept.id);
      if (error.code === 409 && mine) return { done: true, revision: mine.revision };
      const newest = Math.max(0, ...newer.map((change) => change.revision));
      if (error.code !== 409 || !kept.adds || newest <= expected) return { done: false, away: false, failure: error.failure };
      expected = newest;
    }
  }
  return { done: false, away: true };
}
