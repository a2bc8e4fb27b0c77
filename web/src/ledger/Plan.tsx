// A visit before it is made: what it would be good for, and what to add to it.
import { useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { VisitPlan } from "../api/types";
import { plural } from "../figures";
import { job } from "../job";
import { useStore } from "../store";
import { readLength, say } from "../units";
import { Part } from "./Chapter";

const HEADER = "reading,from,to,easting (m),northing (m),elevation (m),gear,minutes";

function Expected({ plan }: { plan: VisitPlan }) {
  const units = useStore(job, (s) => s.units);
  const small = (v: number | null) => (v === null ? "\u2013" : say("small", v, units));
  return (
    <>
      {plan.points.length > 0 && (
        <table class="figures">
          <caption class="hidden">How well the planned points would be known</caption>
          <thead><tr><th scope="col">point</th><th scope="col">plan &plusmn;</th><th scope="col">level &plusmn;</th><th scope="col">readings</th></tr></thead>
          <tbody>{plan.points.map((p) => <tr key={p.point}><th scope="row">{p.point}</th><td>{small(p.within_95_m)}</td><td>{p.sd_elevation_m === null ? "\u2013" : small(1.96 * p.sd_elevation_m)}</td><td>{p.readings}</td></tr>)}</tbody>
        </table>
      )}
      {plan.added.length > 0 && <><p>Add, and every point is near enough:</p><ul class="plain-list">{plan.added.map((a) => <li key={`${a.reading} ${a.from} ${a.to}`}>{a.reading} {a.from}{a.to && ` to ${a.to}`}{a.gear && ` (${a.gear})`}</li>)}</ul></>}
      {plan.undetermined.length > 0 && <p class="fault">! {plural(plan.undetermined.length, "point")} would not be fixed: {plan.undetermined.map((n, i) => `${n} (${plan.undetermined_why[i]})`).join("; ")}</p>}
      {plan.reached === true && <p class="quiet">The aim is reached.</p>}
    </>
  );
}

export function PlanVisit() {
  const units = useStore(job, (s) => s.units);
  const [open, setOpen] = useState(false);
  const [text, setText] = useState(`${HEADER}\n`);
  const [aim, setAim] = useState("");
  const [plan, setPlan] = useState<VisitPlan | null>(null);
  const [said, setSaid] = useState("");
  const typed = aim.trim() ? readLength(aim, units === "imperial" ? "ft" : "mm") : null;
  const ask = (event: Event) => {
    event.preventDefault();
    setSaid("Working it out\u2026");
    setPlan(null);
    call("plan-visit", { text, name: "plan.csv", ...(typed && "metres" in typed ? { aim: typed.metres } : {}) }).then((p) => { setPlan(p); setSaid(""); }, (error: unknown) => setSaid(saidOf(error)));
  };
  return (
    <Part title="The next visit">
      <button class="plain" aria-expanded={open} onClick={() => setOpen(!open)}>plan it before you go</button>
      {open && (
        <form onSubmit={ask}>
          <label class="as-text">The readings that you mean to take, one a line <textarea rows={6} spellcheck={false} value={text} onInput={(e) => setText(e.currentTarget.value)} /></label>
          <p class="quiet">New points first, with the reading &ldquo;point&rdquo; and where they will be, about; then tape, bearing, sight, direction, level, place or leg between points.</p>
          <label class="wide">Every point within <input value={aim} placeholder="as it comes" aria-invalid={!!typed && "fault" in typed} onInput={(e) => setAim(e.currentTarget.value)} /></label>
          <button class="wide-key" disabled={text.trim().split("\n").length < 2 || (!!typed && "fault" in typed)}>What would it give?</button>
          {said && <p class={plan ? "quiet" : "fault"} role="status">{said}</p>}
          {plan && <Expected plan={plan} />}
        </form>
      )}
    </Part>
  );
}
