// What to measure next: the level that would tighten the ground most, and the reading that would tighten one figure most.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Advice, Next as Answer, WhereNext } from "../api/types";
import { job, type Place } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { lengthSaid, say, type Units } from "../units";
import { Part } from "./Chapter";

const LEVELS = 3;
const READINGS = 4;

/** Asks once for each revision, and says so while it is asked. */
function useAsked<T>(key: string, ask: (() => Promise<T>) | null): { answer: T | null; said: string } {
  const [state, setState] = useState<{ answer: T | null; said: string }>({ answer: null, said: "" });
  useEffect(() => {
    if (!ask) return setState({ answer: null, said: "" });
    let current = true;
    setState({ answer: null, said: "Working it out\u2026" });
    ask().then((answer) => current && setState({ answer, said: "" }), (error: unknown) => current && setState({ answer: null, said: saidOf(error) }));
    return () => {
      current = false;
    };
  }, [key]);
  return state;
}

const WORDS: Record<string, string> = { tape: "Tape", bearing: "Bearing", sight: "Sight", direction: "Direction", level: "Level", place: "Rover on", leg: "Walk" };

/** The figure is a length or an area, either way at 95 %. */
const halfSaid = (figure: string, half: number | null, units: Units) => (half === null ? "\u2013" : `\u00b1${figure.startsWith("area") ? say("area", half, units) : lengthSaid(half, units)}`);

function adviceSaid(a: Advice, n: Answer, units: Units): string {
  const what = `${WORDS[a.reading] ?? a.reading} ${a.from}${a.to ? ` to ${a.to}` : ""}`;
  const gear = [a.gear, a.minutes === null ? "" : `${a.minutes} min`].filter(Boolean).join(", ");
  return `${what}${gear ? ` (${gear})` : ""}: ${halfSaid(n.figure, a.before, units)} becomes ${halfSaid(n.figure, a.after, units)}`;
}

const placeOfAdvice = (a: Advice): Place => (a.to ? { type: "between", from: a.from, to: a.to } : { type: "point", name: a.from });

function ForFeature() {
  const revision = useStore(job, (s) => s.revision);
  const units = useStore(job, (s) => s.units);
  const features = useStore(job, (s) => s.site?.features) ?? [];
  const [name, setName] = useState("");
  const { answer, said } = useAsked(`${name} ${revision}`, name ? () => call("next", { for: name }) : null);
  return (
    <>
      <label class="wide">To know better <select value={name} onChange={(e) => setName(e.currentTarget.value)}><option value="">choose a feature</option>{features.filter((f) => f.kind !== "spot").map((f) => <option key={f.name}>{f.name}</option>)}</select></label>
      {said && <p class="quiet" role="status">{said}</p>}
      {answer && (
        <>
          <p>Its {answer.figure.startsWith("area") ? "area" : "length"} is known to {halfSaid(answer.figure, answer.now, units)}.{answer.readings.length ? " The readings that tighten it most for their time:" : " No single reading would tighten it."}</p>
          <ul class="plain-list">{answer.readings.slice(0, READINGS).map((a) => <li key={`${a.reading} ${a.from} ${a.to}`}><button class="place" onClick={() => leadTo(placeOfAdvice(a))}>{adviceSaid(a, answer, units)}</button></li>)}</ul>
        </>
      )}
    </>
  );
}

const placeOfLevel = (w: WhereNext): Place => ({ type: "at", easting_m: w.easting_m, northing_m: w.northing_m, label: "measure here" });

export function Next() {
  const revision = useStore(job, (s) => s.revision);
  const ground = useStore(job, (s) => s.results.ground !== undefined);
  const { answer, said } = useAsked(`${ground} ${revision}`, ground ? () => call("ground", { next: LEVELS, "without-mean": true }) : null);
  return (
    <Part title="What to measure next">
      {said && <p class="quiet" role="status">{said}</p>}
      {answer?.where_next && answer.where_next.length > 0 && <ul class="plain-list">{answer.where_next.map((w) => <li key={w.sentence}><button class="place" onClick={() => leadTo(placeOfLevel(w))}>{w.sentence}</button></li>)}</ul>}
      <ForFeature />
    </Part>
  );
}
