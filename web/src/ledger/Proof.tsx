// Proof: what was built against what was designed. A verdict that the gear cannot carry is not given.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Check, FallProof, Interval } from "../api/types";
import { about, hasPage, placeOfCheck, stakeSteps, type Step } from "../figures";
import { change, job } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { lengthSaid, readLength, say, type Units } from "../units";
import { Part } from "./Chapter";
import { Why } from "./Figure";

const SIGN: Record<Check["verdict"], string> = { pass: "\u2713", fail: "\u2715", "cannot tell": "?" };

function shownLength(kept: string, units: Units): string {
  const read = readLength(kept, "m");
  return "metres" in read ? (units === "imperial" ? lengthSaid(read.metres, units) : say("small", read.metres, units)) : kept;
}

function Tolerance({ setting, word, usual }: { setting: string; word: string; usual: number }) {
  const kept = useStore(job, (s) => s.site?.settings[`tolerance ${setting}`] ?? "");
  const units = useStore(job, (s) => s.units);
  const shown = kept ? shownLength(kept, units) : "";
  const [text, setText] = useState(shown);
  useEffect(() => setText(shown), [shown]);
  const typed = text.trim() ? readLength(text, units === "imperial" ? "ft" : "mm") : null; /* nobody allows 20 m */
  const fault = typed && "fault" in typed ? typed.fault : typed && typed.metres <= 0 ? "A tolerance is more than nothing." : "";
  const keep = () => {
    if (!fault && text.trim() !== shown) void change("put-setting", { key: `tolerance ${setting}`, value: typed && "metres" in typed ? typed.metres.toFixed(4) : "" }, `Allowed ${word}: ${typed && "metres" in typed ? lengthSaid(typed.metres, units) : "as usual"}`);
  };
  return (
    <label>{word} <input value={text} placeholder={say("small", usual, units)} aria-invalid={!!fault} onInput={(e) => setText(e.currentTarget.value)} onBlur={keep} onKeyDown={(e) => { if (e.key === "Enter") keep(); }} />{fault && <span class="fault">{fault}</span>}</label>
  );
}

const USUAL_M = { plan: 0.025, height: 0.01 } as const; /* what the core takes when nothing is said */

function Tolerances() {
  return (
    <Part title="How near is near enough">
      <div class="pair">
        <Tolerance setting="plan" word={"in\u00a0plan"} usual={USUAL_M.plan} />
        <Tolerance setting="height" word={"in\u00a0level"} usual={USUAL_M.height} />
      </div>
      <p class="quiet">Take them from the contract or the local code. A verdict stands only where the measuring is fine enough to carry it at 95 %.</p>
    </Part>
  );
}

const SIGN_OF_FALL: Record<FallProof["verdict"], string> = { proven: "\u2713", "likely, not proven": "\u2248", "cannot tell": "?", "proven to miss": "\u2715" };

/** Between two built points, else two of the survey: is the fall what it must be, as far as the gear can tell? */
function ProveFall() {
  const revision = useStore(job, (s) => s.revision);
  const checks = useStore(job, (s) => s.results.verify?.checks) ?? [];
  const points = useStore(job, (s) => s.results.adjust?.points) ?? [];
  const [ends, setEnds] = useState({ from: "", to: "", least: "" });
  const [told, setTold] = useState<FallProof | string>("");
  useEffect(() => setTold(""), [revision]);
  const set = (patch: Partial<typeof ends>) => { setEnds({ ...ends, ...patch }); setTold(""); };
  const ask = (event: Event) => {
    event.preventDefault();
    const { from, to, least } = ends;
    call("fall", { from: from.trim(), to: to.trim(), ...(least.trim() ? { least: least.trim() } : {}) }).then(setTold, (error: unknown) => setTold(saidOf(error)));
  };
  const names = [...new Set([...checks.map((c) => c.point), ...points.filter((p) => p.elevation_m !== null).map((p) => p.point)])];
  return (
    <Part title="Is a fall proven?">
      <form class="pair" onSubmit={ask}>
        <label>from <input list="fall-ends" value={ends.from} onInput={(e) => set({ from: e.currentTarget.value })} /></label>
        <label>down to <input list="fall-ends" value={ends.to} onInput={(e) => set({ to: e.currentTarget.value })} /></label>
        <label>at least <input value={ends.least} placeholder="1:80" onInput={(e) => set({ least: e.currentTarget.value })} /></label>
        <button disabled={!ends.from.trim() || !ends.to.trim()}>Prove it</button>
        <datalist id="fall-ends">{names.map((n) => <option key={n} value={n} />)}</datalist>
      </form>
      {typeof told === "string" ? told && <p class="fault" role="alert">! {told}</p> : (
        <p role="status"><span class="verdict"><b aria-hidden="true">{SIGN_OF_FALL[told.verdict]}</b> {told.verdict}</span> <button class="place" onClick={() => leadTo({ type: "between", from: told.from, to: told.to })}>{told.sentence}</button></p>
      )}
    </Part>
  );
}

function checkSteps(c: Check): Step[] {
  const stake = job.get().results.setout?.stakes.find((s) => s.stake === c.stake);
  return [
    { stage: "reading", text: `${c.point} as it was measured when built`, ...(c.sd_m === null ? {} : { kind: "small" as const, value: Z95 * c.sd_m }), place: { type: "point", name: c.point } },
    ...(stake ? stakeSteps(job.get(), stake) : []),
    ...(c.distance_m === null ? [] : [{ stage: "derived" as const, text: "Off in plan", kind: "length" as const, value: c.distance_m, interval: fromZero(c.distance_m, c.sd_m) }]),
    ...(c.dz_m === null ? [] : [{ stage: "derived" as const, text: "Off in level", kind: "length" as const, value: c.dz_m, interval: about(c.dz_m, c.height_sd_m) }]),
    ...(c.tolerance_m === null ? [] : [{ stage: "decided" as const, text: "Allowed in plan", kind: "length" as const, value: c.tolerance_m }]),
    ...(c.height_tolerance_m === null ? [] : [{ stage: "decided" as const, text: "Allowed in level", kind: "length" as const, value: c.height_tolerance_m }]),
  ];
}

const Z95 = 1.959964;
/** A distance is never under nothing. */
const fromZero = (value: number, sd: number | null): Interval | undefined => { const band = about(value, sd); return band && [Math.max(0, band[0]), band[1]]; };

function Off({ c }: { c: Check }) {
  const units = useStore(job, (s) => s.units);
  const give = (sd: number | null) => (sd === null ? "" : ` \u00b1 ${say("small", Z95 * sd, units)}`);
  const parts = [
    ...(c.distance_m === null ? [] : [`off in plan by ${say("small", c.distance_m, units)}${give(c.sd_m)}${c.tolerance_m === null ? "" : `, allowed ${say("small", c.tolerance_m, units)}`}`]),
    ...(c.dz_m === null ? [] : [`level ${c.dz_m >= 0 ? "high" : "low"} by ${say("small", Math.abs(c.dz_m), units)}${give(c.height_sd_m)}${c.height_tolerance_m === null ? "" : `, allowed ${say("small", c.height_tolerance_m, units)}`}`]),
  ];
  return <small>{parts.join("; ")}</small>;
}

const RANK = { fail: 0, "cannot tell": 1, pass: 2 } as const;

export function Proof() {
  const checks = useStore(job, (s) => s.results.verify?.checks) ?? [];
  const failure = useStore(job, (s) => s.failures.verify);
  if (!checks.length) return <><p class="quiet">{(hasPage(job.get(), "built") && failure?.sentence) || "Take in a built page under Field; each point is held against the stake of its name."}</p>{hasPage(job.get(), "built") && <Tolerances />}<ProveFall /></>;
  return (
    <>
      <Tolerances />
      <Part title="Built against design">
        <ul class="checks">
          {[...checks].sort((a, b) => RANK[a.verdict] - RANK[b.verdict]).map((c) => (
            <li key={c.point} class={c.verdict.replace(" ", "-")}>
              <span class="verdict"><b aria-hidden="true">{SIGN[c.verdict]}</b> {c.verdict}</span>
              <span class="about">
                <b class="point">{c.point}</b>
                <button class="place" onClick={() => leadTo(placeOfCheck(job.get(), c))}>{c.sentence}</button>
                <Off c={c} />
                <Why of={c.point} steps={() => checkSteps(c)} />
              </span>
            </li>
          ))}
        </ul>
      </Part>
      <ProveFall />
    </>
  );
}
