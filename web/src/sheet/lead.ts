// How the ledger reaches the sheet: the plan while it is there, and leading to a place on it.
import { goTo, type Place } from "../job";
import type { Plan } from "./map";

export const sheet: { plan: Plan | null; flying: boolean } = { plan: null, flying: false };

/** A place named in the ledger is brought into view; one that was tapped is in view already. */
export function leadTo(place: Place): void {
  sheet.flying = true;
  goTo(place);
  sheet.flying = false;
}
