// Trust: does it close, what looks wrong, what is not fixed yet, and what to measure next.
import { useState } from "preact/hooks";
import type { AdjustedPoint, Suspect } from "../api/types";
import { plural } from "../figures";
import { TIMES, job, type Place } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { fixed, lengthSaid, say, type Units } from "../units";
import { Part } from "./Chapter";
import { SetAside } from "./Field";
import { ByHand } from "./Hand";
import { Next } from "./Next";
import { PlanVisit } from "./Plan";

/** What it would read without its slip; only where the diagnosis knows one. */
const correctedSaid = (s: Suspect, units: Units): string => (!s.slip || s.corrected === null ? "" : `Without the slip it reads ${s.unit === "m" ? lengthSaid(s.corrected, units) : `${fixed(s.corrected, 4)}\u00b0`}.`);

const placeOf = (s: Suspect): Place => (s.from && s.to ? { type: "between", from: s.from, to: s.to } : { type: "point", name: s.to || s.from });

function SuspectLine({ s }: { s: Suspect }) {
  const [asking, setAsking] = useState(false);
  const units = useStore(job, (state) => state.units);
  const corrected = correctedSaid(s, units);
  return (
    <li class="suspect">
      <p><b>!</b> {s.sentence} {corrected && <span class="corrected">{corrected} Measure it again to be sure.</span>} {!s.alone && <span class="aside">It cannot be told from its neighbours yet.</span>} {!s.sentence.includes(s.page) && <span class="aside">{s.page}, row {s.row}, {s.visit}</span>}</p>
      <div class="acts">
        <button class="plain" onClick={() => leadTo(placeOf(s))}>show it</button>
        <button class="plain" aria-expanded={asking} onClick={() => setAsking(!asking)}>set it aside</button>
      </div>
      {asking && <SetAside page={s.page} row={s.row} id={s.reading_id} onDone={() => setAsking(false)} />}
    </li>
  );
}

const Z95 = 1.959964;
const SHOWN = 12;
const worstOf = (p: AdjustedPoint) => Math.max(p.sd_easting_m ?? 0, p.sd_northing_m ?? 0);

function Points({ points }: { points: readonly AdjustedPoint[] }) {
  const units = useStore(job, (s) => s.units);
  const [all, setAll] = useState(false);
  const sorted = [...points].sort((a, b) => worstOf(b) - worstOf(a));
  const shown = all ? sorted.slice(0, 500) : sorted.slice(0, SHOWN);
  return (
    <>
      <table class="figures">
        <caption class="hidden">Points, the weakest first</caption>
        <thead><tr><th scope="col">point</th><th scope="col">plan &plusmn;</th><th scope="col">level &plusmn;</th><th scope="col">readings</th></tr></thead>
        <tbody>
          {shown.map((p) => (
            <tr key={p.point}>
              <th scope="row"><button class="place" onClick={() => leadTo({ type: "point", name: p.point })}>{p.point}</button></th>
              <td>{p.easting_m === null ? "\u2013" : say("small", Z95 * worstOf(p), units)}</td>
              <td>{p.sd_elevation_m === null ? "\u2013" : say("small", Z95 * p.sd_elevation_m, units)}</td>
              <td>{p.readings <= 1 ? "1, unproven" : p.readings}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {sorted.length > shown.length && !all && <button class="plain" onClick={() => setAll(true)}>all {sorted.length} points</button>}
    </>
  );
}

export function Trust() {
  const a = useStore(job, (s) => s.results.adjust);
  const magnify = useStore(job, (s) => s.magnify);
  if (!a) return null;
  const t = a.global_test;
  return (
    <>
      {a.unit_doubt && <p class="fault" role="alert">! {a.unit_doubt}</p>}
      {a.suspects.length > 0 && <Part title="Looks wrong"><ul class="list">{a.suspects.map((s) => <SuspectLine key={`${s.page} ${s.row} ${s.kind}`} s={s} />)}</ul></Part>}
      {a.undetermined.length > 0 && <Part title="Not fixed yet"><ul class="plain-list">{a.undetermined.slice(0, 40).map((name, i) => <li key={name}><b>{name}</b> {a.undetermined_why[i]}</li>)}</ul></Part>}
      <Next />
      <Part title="How well it agrees">
        <p>{plural(a.observation_count, "reading")}, {a.degrees_of_freedom} more than needed. Misfit {fixed(a.sigma0, 2)} times what the gear should give; {t.passed ? "inside" : "outside"} what chance allows ({fixed(t.statistic ?? 0, 1)}, allowed {fixed(t.lower ?? 0, 1)} to {fixed(t.upper ?? 0, 1)}).</p>
        {a.datum && <p class="quiet">{a.datum}</p>}
        {a.gear_factors.filter((f) => f.sentence).map((f) => <p class="quiet" key={f.sentence}>{f.sentence}</p>)}
        {a.left_out.length > 0 && <ul class="plain-list">{a.left_out.slice(0, 40).map((l) => <li key={l.sentence}>{l.sentence}</li>)}</ul>}
      </Part>
      <Part title="Points, the weakest first">
        <label class="wide">Ellipses on the sheet, at 95 %, drawn <select value={magnify} onChange={(e) => job.set({ magnify: Number(e.currentTarget.value) })}>{TIMES.map((n) => <option key={n} value={n}>{n === 1 ? "true size" : `${n} times`}</option>)}</select></label>
        <Points points={a.points} />
      </Part>
      <PlanVisit />
      <ByHand />
    </>
  );
}
