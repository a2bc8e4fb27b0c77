// Proof: what was built against what was designed. A verdict that the gear cannot carry is not given.
import type { Check } from "../api/types";
import { hasPage } from "../figures";
import { job } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { say } from "../units";
import { Part } from "./Chapter";

const SIGN: Record<Check["verdict"], string> = { pass: "\u2713", fail: "\u2715", "cannot tell": "?" };

function placeOf(check: Check): { type: "point"; name: string } | { type: "at"; easting_m: number; northing_m: number; label: string } {
  const stake = job.get().results.setout?.stakes.find((s) => s.stake === check.stake);
  return stake ? { type: "at", easting_m: stake.easting_m, northing_m: stake.northing_m, label: `${check.point} ${check.verdict}` } : { type: "point", name: check.point };
}

const RANK = { fail: 0, "cannot tell": 1, pass: 2 } as const;

export function Proof() {
  const checks = useStore(job, (s) => s.results.verify?.checks) ?? [];
  const failure = useStore(job, (s) => s.failures.verify);
  const units = useStore(job, (s) => s.units);
  if (!checks.length) return <p class="quiet">{(hasPage(job.get(), "built") && failure?.sentence) || "Take in a built page under Field; each point is held against the stake of its name."}</p>;
  return (
    <Part title="Built against design">
      <ul class="checks">
        {[...checks].sort((a, b) => RANK[a.verdict] - RANK[b.verdict]).map((c) => (
          <li key={c.point} class={c.verdict.replace(" ", "-")}>
            <span class="verdict"><b aria-hidden="true">{SIGN[c.verdict]}</b> {c.verdict}</span>
            <span class="about">
              <b class="point">{c.point}</b>
              <button class="place" onClick={() => leadTo(placeOf(c))}>{c.sentence}</button>
              <small>{c.distance_m !== null && `off by ${say("small", c.distance_m, units)}`}{c.dz_m !== null ? `, level ${c.dz_m >= 0 ? "high" : "low"} by ${say("small", Math.abs(c.dz_m), units)}` : ""}{c.tolerance_m !== null && `; allowed ${say("small", c.tolerance_m, units)}`}</small>
            </span>
          </li>
        ))}
      </ul>
    </Part>
  );
}
