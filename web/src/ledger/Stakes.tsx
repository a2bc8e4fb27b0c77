// Stakes: how the design lies on the site, and how each stake is found with what is to hand.
import { useState } from "preact/hooks";
import type { Stake } from "../api/types";
import { hasPage, placeOfStake, stakeSteps } from "../figures";
import { derive, job, type Standing } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { fixed, lengthSaid, say, type Units } from "../units";
import { Part } from "./Chapter";
import { Why } from "./Figure";

type Method = "ties" | "polar" | "offsets";
const METHODS: readonly [Method, string][] = [["ties", "Tape ties"], ["polar", "Angle and distance"], ["offsets", "Along and off a line"]];

export function cutSaid(s: Stake, units: Units): string {
  if (s.cut_m === null || s.cut_m === undefined) return "";
  if (Math.abs(s.cut_m) < 0.0005) return "at grade";
  return s.cut_m > 0 ? `cut ${lengthSaid(s.cut_m, units)}` : `fill ${lengthSaid(-s.cut_m, units)}`;
}

function how(s: Stake, method: Method, units: Units): string {
  const { ties, polar, offsets } = s.methods;
  if (method === "ties" && ties?.length) return ties.map((t, i) => `${i === 2 ? "check " : ""}${lengthSaid(t.distance_m, units)} from ${t.from}`).join(", ");
  if (method === "polar" && polar) return `At ${polar.at}, zero on ${polar.backsight}: turn ${fixed(polar.circle_deg, 3)}\u00b0, ${lengthSaid(polar.distance_m, units)}`;
  if (method === "offsets" && offsets) return `${lengthSaid(offsets.chainage_m, units)} along ${offsets.from}\u2013${offsets.to}, ${lengthSaid(Math.abs(offsets.offset_m), units)} to the ${offsets.offset_m < 0 ? "left" : "right"}`;
  return "not to be had this way";
}

const ENDS: Record<Method, readonly [keyof Standing, string][]> = { ties: [], polar: [["at", "Stand at"], ["backsight", "zero on"]], offsets: [["from", "Line from"], ["to", "to"]] };

/** Where the gear stands; without a choice the core takes what serves best. */
function Stand({ method }: { method: Method }) {
  const standing = useStore(job, (s) => s.standing);
  const points = useStore(job, (s) => s.results.adjust?.points) ?? [];
  const names = points.filter((p) => p.easting_m !== null).map((p) => p.point);
  const set = (key: keyof Standing, name: string) => {
    job.set({ standing: { ...job.get().standing, [key]: name } });
    void derive("setout");
  };
  if (!ENDS[method].length) return null;
  return (
    <div class="pair">
      {ENDS[method].map(([key, word]) => <label key={key}>{word} <select value={standing[key]} onChange={(e) => set(key, e.currentTarget.value)}><option value="">what serves best</option>{names.map((n) => <option key={n}>{n}</option>)}</select></label>)}
    </div>
  );
}

export function Stakes() {
  const sheet = useStore(job, (s) => s.results.setout);
  const failure = useStore(job, (s) => s.failures.setout);
  const units = useStore(job, (s) => s.units);
  const [method, setMethod] = useState<Method>("ties");
  const standing = useStore(job, (s) => s.standing);
  const stood = Object.values(standing).some(Boolean);
  if (!sheet?.stakes.length && stood) return <><Stand method={method} /><p class="fault">! {failure?.sentence}</p></>;
  if (!sheet?.stakes.length) return <p class="quiet">{(hasPage(job.get(), "stakes") && failure?.sentence) || "Take in a stakes page under Field; its names that are points of the site too lay the design on the ground."}</p>;
  const order = new Map(sheet.order.map((name, i) => [name, i]));
  const stakes = [...sheet.stakes].sort((a, b) => (order.get(a.stake) ?? 1e9) - (order.get(b.stake) ?? 1e9));
  return (
    <>
      <Part title="How the design lies on the site">
        <p>{sheet.fit.sentence || `Turned ${fixed(sheet.fit.turn_deg, 3)}\u00b0.`}</p>
        {sheet.fit.residuals.length > 0 && <p class="quiet">{sheet.fit.residuals.map((r) => `${r.point} ${say("small", Math.hypot(r.de_m, r.dn_m), units)} off`).join(", ")}</p>}
      </Part>
      <Part title="Stakes, in walking order">
        <div class="choice" role="group" aria-label="Set out by">{METHODS.map(([key, word]) => <button key={key} aria-pressed={key === method} onClick={() => setMethod(key)}>{word}</button>)}</div>
        <Stand method={method} />
        {failure && <p class="fault">! {failure.sentence}</p>}
        <ol class="stakes">
          {stakes.map((s, i) => (
            <li key={s.stake}>
              <p class="top"><button class="place" onClick={() => leadTo(placeOfStake(s))}><span class="turn-number">{i + 1}</span> {s.stake}</button><span class="cut-word">{cutSaid(s, units)}</span></p>
              <p>{how(s, method, units)}</p>
              <p class="quiet">{s.elevation_m !== null && <>finished level {say("level", s.elevation_m, units)}; </>}{s.ground_m !== null && s.ground_m !== undefined && <>ground {say("level", s.ground_m, units)}; </>}{s.sd_m !== null && <>&plusmn;{say("small", 1.96 * s.sd_m, units)} at 95 %</>}</p>
              <Why of={s.stake} steps={() => stakeSteps(job.get(), s)} />
              {s.caution && <p class="fault">! {s.caution}</p>}
            </li>
          ))}
        </ol>
        <p class="quiet">Ask where services lie before driving a stake.</p>
      </Part>
    </>
  );
}
