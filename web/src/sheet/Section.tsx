// A cut through the ground along a line: its own strip of paper below the plan.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Profile, ProfilePoint } from "../api/types";
import { job } from "../job";
import { useStore } from "../store";
import { fixed, slopeSaid, write, type Units } from "../units";
import { finderOf } from "./content";
import { roundStep } from "./frame";

interface Asked { along?: string; from?: [number, number]; to?: [number, number] }

function useProfile(asked: Asked | null): { profile: Profile | null; said: string } {
  const revision = useStore(job, (s) => s.revision);
  const [answer, setAnswer] = useState<{ profile: Profile | null; said: string }>({ profile: null, said: "" });
  const key = JSON.stringify(asked);
  useEffect(() => {
    if (!asked) return;
    let current = true;
    call("profile", asked).then(
      (profile) => current && setAnswer({ profile, said: "" }),
      (error: unknown) => current && setAnswer({ profile: null, said: saidOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [key, revision]);
  return asked ? answer : { profile: null, said: "" };
}

const WIDTH = 1000;
const HEIGHT = 230;
const EDGE = { left: 62, right: 22, top: 22, bottom: 40 };

type Known = ProfilePoint & { elevation_m: number };
/** Runs of known ground: a gap in the model is a gap in the line. */
function runsOf(points: readonly ProfilePoint[]): Known[][] {
  const runs: Known[][] = [[]];
  for (const p of points) {
    if (p.elevation_m === null) runs.push([]);
    else runs[runs.length - 1]!.push(p as Known);
  }
  return runs.filter((run) => run.length > 1);
}

function Drawing({ profile, times, units }: { profile: Profile; times: number; units: Units }) {
  const runs = runsOf(profile.points);
  const all = runs.flat();
  if (!all.length) return <p class="quiet">There is no ground along this line.</p>;
  const last = profile.points[profile.points.length - 1]!.chainage_m || 1;
  const [low, high] = [Math.min(...all.map((p) => p.elevation_m)), Math.max(...all.map((p) => p.elevation_m))];
  const [width, height] = [WIDTH - EDGE.left - EDGE.right, HEIGHT - EDGE.top - EDGE.bottom];
  const along = width / last;
  const up = times ? along * times : height / Math.max(high - low, 0.05) / 1.15;
  const shownTimes = up / along;
  const middle = (low + high) / 2;
  const x = (m: number) => EDGE.left + m * along;
  const y = (z: number) => EDGE.top + height / 2 - (z - middle) * up;
  const step = roundStep(Math.max((high - low) / 4, 0.02));
  const levels = Array.from({ length: 12 }, (_, i) => (Math.floor(low / step) + i) * step).filter((z) => y(z) > EDGE.top - 8 && y(z) < EDGE.top + height + 8);
  const unit = units === "imperial" ? 0.3048 : 1;
  const part = roundStep(last / unit / 7) * unit;
  const stations = Array.from({ length: Math.floor(last / part) + 1 }, (_, i) => i * part);
  return (
    <svg class="profile" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={`Section ${fixed(last, 2)} m long, ground from ${fixed(low, 2)} to ${fixed(high, 2)}`}>
      <defs>
        <pattern id="soil" width="12" height="12" patternUnits="userSpaceOnUse"><path d="M0 12 L12 0" class="soil" /></pattern>
      </defs>
      {levels.map((z) => (
        <g key={z}>
          <line class="level" x1={EDGE.left} x2={WIDTH - EDGE.right} y1={y(z)} y2={y(z)} />
          <text x={EDGE.left - 8} y={y(z) + 4} text-anchor="end">{write("level", z, units).text.replace(/(\.\d\d)0$/, "$1")}</text>
        </g>
      ))}
      {runs.map((run, i) => {
        const line = run.map((p) => `${x(p.chainage_m).toFixed(1)},${y(p.elevation_m).toFixed(1)}`).join(" L");
        return (
          <g key={i}>
            <path d={`M${line} L${x(run[run.length - 1]!.chainage_m)},${HEIGHT - EDGE.bottom + 4} L${x(run[0]!.chainage_m)},${HEIGHT - EDGE.bottom + 4}Z`} fill="url(#soil)" />
            <path class="surface" d={`M${line}`} />
          </g>
        );
      })}
      {stations.map((m) => <text key={m} x={x(m)} y={HEIGHT - 16} text-anchor="middle">{write("length", m, units).text.replace(/\.?0+$/, "") || "0"}</text>)}
      <text x={WIDTH - EDGE.right} y={14} text-anchor="end">heights drawn {fixed(shownTimes, 1)} times</text>
    </svg>
  );
}

export function Section() {
  const line = useStore(job, (s) => s.line);
  const units = useStore(job, (s) => s.units);
  const features = useStore(job, (s) => s.site?.features);
  const [feature, setFeature] = useState("");
  const [typed, setTyped] = useState("");
  const [times, setTimes] = useState(0);
  const asked: Asked | null = feature ? { along: feature } : line && line.length === 2 ? { from: line[0]!, to: line[1]! } : null;
  const { profile, said } = useProfile(asked);
  const ends = profile?.points.filter((p) => p.elevation_m !== null) ?? [];
  const [a, b] = [ends[0], ends[ends.length - 1]];
  const pick = () => { setFeature(""); job.set({ picking: "section", line: [] }); };
  const typeEnds = (event: Event) => {
    event.preventDefault();
    const find = finderOf(job.get());
    const found = typed.trim().split(/\s+(?:to\s+)?/).map((word) => find(word) ?? find(word.toUpperCase()));
    if (found.length === 2 && found[0] && found[1]) { setFeature(""); job.set({ line: [found[0], found[1]], picking: null }); }
  };
  return (
    <section class="section" aria-label="Section">
      <form class="along" onSubmit={typeEnds}>
        <button type="button" onClick={pick}>Pick a line</button>
        <label>Along <select value={feature} onChange={(e) => { setFeature(e.currentTarget.value); job.set({ picking: null, line: null }); }}>
          <option value="">the picked line</option>
          {features?.filter((f) => f.kind !== "spot").map((f) => <option key={f.name}>{f.name}</option>)}
        </select></label>
        <label>or between <input value={typed} placeholder="H1 to G3" size={9} onInput={(e) => setTyped(e.currentTarget.value)} /></label>
        <label>heights <select value={times} onChange={(e) => setTimes(Number(e.currentTarget.value))}><option value="0">as they fit</option>{[1, 2, 5, 10].map((n) => <option key={n} value={n}>{n} times</option>)}</select></label>
        {a && b && b.chainage_m > a.chainage_m && <span class="aside">{(b.elevation_m ?? 0) < (a.elevation_m ?? 0) ? "falls" : "rises"} {slopeSaid(((b.elevation_m ?? 0) - (a.elevation_m ?? 0)) / (b.chainage_m - a.chainage_m), units)} from end to end</span>}
      </form>
      {said ? <p class="quiet">{said}</p> : profile ? <Drawing profile={profile} times={times} units={units} /> : <p class="quiet">Tap the two ends of a line on the plan, choose a feature, or type two points.</p>}
    </section>
  );
}
