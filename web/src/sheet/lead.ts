// How the ledger reaches the sheet: the plan while it is there, and leading to a place on it.
import { goTo, type Place } from "../job";
import type { Plan } from "./map";

/** Whatever way of looking is shown, it can be drawn larger and smaller, and shown whole. */
export interface Zooms { zoomBy(factor: number): void; fit(): void }

export const sheet: { plan: Plan | null; relief: Zooms | null; flying: boolean } = { plan: null, relief: null, flying: false };
export const shown = (): Zooms | null => sheet.relief ?? sheet.plan;

/** A place named in the ledger is brought into view; one that was tapped is in view already. */
export function leadTo(place: Place): void {
  sheet.flying = true;
  goTo(place);
}
