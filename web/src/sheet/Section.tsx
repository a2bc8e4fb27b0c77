// A cut along a line: the ground as it is and, where there are works, as it will be; its own strip of paper below the plan.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { SectionPoint, Sections } from "../api/types";
import { job, offeredOperations } from "../job";
import { saveAs } from "../ledger/save";
import { useStore } from "../store";
import { fixed, say, slopeSaid, write, type Units } from "../units";
import { finderOf } from "./content";
import { roundStep } from "./frame";

interface Asked { along?: string; from?: [number, number]; to?: [number, number] }

/** With works, their surfaces; without, the ground alone in the same words. */
async function cut(asked: Asked): Promise<Sections> {
  if (job.get().site?.works.length && (await offeredOperations()).has("sections")) return call("sections", asked);
  const { points } = await call("profile", asked);
  const ground = points.map((p): SectionPoint => ({ chainage_m: p.chainage_m, easting_m: p.easting_m, northing_m: p.northing_m, existing_m: p.elevation_m, stripped_m: p.elevation_m, formation_m: p.elevation_m, finished_m: p.elevation_m, element: null }));
  return { along: asked.along ?? "", long_section: { points: ground, cut_m2: 0, fill_m2: 0 }, stations: [] };
}

function useSections(asked: Asked | null): { sections: Sections | null; said: string } {
  const revision = useStore(job, (s) => s.revision);
  const [answer, setAnswer] = useState<{ sections: Sections | null; said: string }>({ sections: null, said: "" });
  const key = JSON.stringify(asked);
  useEffect(() => {
    if (!asked) return;
    let current = true;
    cut(asked).then(
      (sections) => current && setAnswer({ sections, said: "" }),
      (error: unknown) => current && setAnswer({ sections: null, said: saidOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [key, revision]);
  return asked ? answer : { sections: null, said: "" };
}

const WIDTH = 1000;
const HEIGHT = 230;
const EDGE = { left: 62, right: 22, top: 22, bottom: 40 };

type LevelKey = "existing_m" | "stripped_m" | "formation_m" | "finished_m";
type XY = readonly [number, number];

/** Runs of known levels: a gap in the model is a gap in the line. */
function runsOf(points: readonly SectionPoint[], key: LevelKey, here: (p: SectionPoint) => boolean = () => true): XY[][] {
  const runs: XY[][] = [[]];
  for (const p of points) {
    const z = p[key];
    if (z === null || !here(p)) runs.push([]);
    else runs[runs.length - 1]!.push([p.chainage_m, z]);
  }
  return runs.filter((run) => run.length > 1);
}

/** Between two surfaces, piece by piece: where the first lies above the second, and where below. */
function between(points: readonly SectionPoint[], upper: LevelKey, lower: LevelKey): { over: XY[][]; under: XY[][] } {
  const result: { over: XY[][]; under: XY[][] } = { over: [], under: [] };
  for (let i = 1; i < points.length; i++) {
    const [p, q] = [points[i - 1]!, points[i]!];
    const [a, b, c, d] = [p[upper], q[upper], p[lower], q[lower]];
    if (a === null || b === null || c === null || d === null || q.chainage_m <= p.chainage_m) continue;
    const [s, t] = [a - c, b - d];
    if (Math.abs(s) + Math.abs(t) < 1e-4) continue;
    const [x, y] = [p.chainage_m, q.chainage_m];
    if (s * t >= 0) (s + t > 0 ? result.over : result.under).push([[x, a], [y, b], [y, d], [x, c]]);
    else {
      const k = s / (s - t);
      const cross: XY = [x + k * (y - x), a + k * (b - a)];
      (s > 0 ? result.over : result.under).push([[x, a], cross, [x, c]]);
      (t > 0 ? result.over : result.under).push([[y, b], cross, [y, d]]);
    }
  }
  return result;
}

const KEYS: readonly LevelKey[] = ["existing_m", "formation_m", "finished_m"];

function Drawing({ points, times, units }: { points: readonly SectionPoint[]; times: number; units: Units }) {
  const levelsOf = points.flatMap((p) => KEYS.flatMap((key) => p[key] ?? []));
  if (!levelsOf.length) return <p class="quiet">There is no ground along this line.</p>;
  const [first, last] = [points[0]!.chainage_m, points[points.length - 1]!.chainage_m];
  const long = last - first || 1;
  const [low, high] = [Math.min(...levelsOf), Math.max(...levelsOf)];
  const [width, height] = [WIDTH - EDGE.left - EDGE.right, HEIGHT - EDGE.top - EDGE.bottom];
  const along = width / long;
  const up = times ? along * times : height / Math.max(high - low, 0.05) / 1.15;
  const middle = (low + high) / 2;
  const x = (m: number) => EDGE.left + (m - first) * along;
  const y = (z: number) => EDGE.top + height / 2 - (z - middle) * up;
  const path = (line: readonly XY[]) => `M${line.map(([m, z]) => `${x(m).toFixed(1)},${y(z).toFixed(1)}`).join(" L")}`;
  const step = roundStep(Math.max((high - low) / 4, 0.02));
  const levels = Array.from({ length: 12 }, (_, i) => (Math.floor(low / step) + i) * step).filter((z) => y(z) > EDGE.top - 8 && y(z) < EDGE.top + height + 8);
  const unit = units === "imperial" ? 0.3048 : 1;
  const part = roundStep(long / unit / 7) * unit;
  const stations = Array.from({ length: Math.floor(last / part) - Math.ceil(first / part) + 1 }, (_, i) => (Math.ceil(first / part) + i) * part);
  const ground = runsOf(points, "existing_m");
  const owned = (p: SectionPoint) => p.element !== null;
  const earth = between(points, "stripped_m", "formation_m");
  const bottom = HEIGHT - EDGE.bottom + 4;
  return (
    <svg class="profile" viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={`Section ${fixed(long, 2)} m long, levels from ${fixed(low, 2)} to ${fixed(high, 2)}`}>
      <defs>
        <pattern id="soil" width="12" height="12" patternUnits="userSpaceOnUse"><path d="M0 12 L12 0" class="soil" /></pattern>
        <pattern id="section-cut" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="cut-line" x1="0" y1="0" x2="0" y2="7" /></pattern>
        <pattern id="section-fill" width="7" height="7" patternUnits="userSpaceOnUse"><circle class="fill-dot" cx="1.75" cy="1.75" r="1.3" /><circle class="fill-dot" cx="5.25" cy="5.25" r="1.3" /></pattern>
      </defs>
      {levels.map((z) => (
        <g key={z}>
          <line class="level" x1={EDGE.left} x2={WIDTH - EDGE.right} y1={y(z)} y2={y(z)} />
          <text x={EDGE.left - 8} y={y(z) + 4} text-anchor="end">{write("level", z, units).text.replace(/(\.\d\d)0$/, "$1")}</text>
        </g>
      ))}
      {ground.map((run, i) => <path key={i} d={`${path(run)} L${x(run[run.length - 1]![0])},${bottom} L${x(run[0]![0])},${bottom}Z`} fill="url(#soil)" />)}
      {earth.over.map((piece, i) => <path key={i} class="dug" d={`${path(piece)}Z`} fill="url(#section-cut)" />)}
      {earth.under.map((piece, i) => <path key={i} class="filled" d={`${path(piece)}Z`} fill="url(#section-fill)" />)}
      {ground.map((run, i) => <path key={i} class="surface" d={path(run)} />)}
      {runsOf(points, "formation_m", owned).map((run, i) => <path key={i} class="formation" d={path(run)} />)}
      {runsOf(points, "finished_m", owned).map((run, i) => <path key={i} class="finished" d={path(run)} />)}
      {stations.map((m) => <text key={m} x={x(m)} y={HEIGHT - 16} text-anchor="middle">{write("length", m, units).text.replace(/\.?0+$/, "") || "0"}</text>)}
      <text x={WIDTH - EDGE.right} y={14} text-anchor="end">heights drawn {fixed(up / along, 1)} times</text>
    </svg>
  );
}

/** Told by line, pattern and word; left out where there are no works. */
function Legend({ cut_m2, fill_m2, units }: { cut_m2: number; fill_m2: number; units: Units }) {
  const sample = (kind: string) => <svg viewBox="0 0 34 12" aria-hidden="true">{kind === "dug" || kind === "filled" ? <rect class={kind} x="1" y="1" width="32" height="10" fill={`url(#section-${kind === "dug" ? "cut" : "fill"})`} /> : <path class={kind} d="M1 6 H33" />}</svg>;
  return (
    <p class="legend">
      <span>{sample("surface")}ground as it is</span><span>{sample("finished")}finished</span><span>{sample("formation")}formation</span>
      <span>{sample("dug")}&minus; cut {say("area", cut_m2, units)}</span><span>{sample("filled")}+ fill {say("area", fill_m2, units)}</span>
    </p>
  );
}

function sectionCsv(points: readonly SectionPoint[]): string {
  const cells = (p: SectionPoint) => [p.chainage_m, p.easting_m, p.northing_m, p.existing_m, p.stripped_m, p.formation_m, p.finished_m].map((v) => (v === null ? "" : v.toFixed(4)));
  const head = "chainage (m),easting (m),northing (m),existing (m),stripped (m),formation (m),finished (m),element";
  return [head, ...points.map((p) => [...cells(p), p.element === null ? "" : `"${p.element.replace(/"/g, '""')}"`].join(","))].join("\r\n") + "\r\n";
}

export function Section() {
  const line = useStore(job, (s) => s.line);
  const units = useStore(job, (s) => s.units);
  const features = useStore(job, (s) => s.site?.features);
  const [feature, setFeature] = useState("");
  const [typed, setTyped] = useState("");
  const [times, setTimes] = useState(0);
  const asked: Asked | null = feature ? { along: feature } : line && line.length === 2 ? { from: line[0]!, to: line[1]! } : null;
  const { sections, said } = useSections(asked);
  const [at, setAt] = useState(-1);
  const station = at >= 0 ? sections?.stations[at] : undefined;
  const shown = station ?? sections?.long_section;
  const works = shown?.points.some((p) => p.element !== null) ?? false;
  const ends = shown?.points.filter((p) => p.existing_m !== null) ?? [];
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
        <label>Along <select value={feature} onChange={(e) => { setFeature(e.currentTarget.value); setAt(-1); job.set({ picking: null, line: null }); }}>
          <option value="">the picked line</option>
          {features?.filter((f) => f.kind !== "spot").map((f) => <option key={f.name}>{f.name}</option>)}
        </select></label>
        <label>or between <input value={typed} placeholder="H1 to G3" size={9} onInput={(e) => setTyped(e.currentTarget.value)} /></label>
        <label>heights <select value={times} onChange={(e) => setTimes(Number(e.currentTarget.value))}><option value="0">as they fit</option>{[1, 2, 5, 10].map((n) => <option key={n} value={n}>{n} times</option>)}</select></label>
        {sections && sections.stations.length > 0 && <label>across at <select value={at} onChange={(e) => setAt(Number(e.currentTarget.value))}><option value={-1}>nowhere: the whole line</option>{sections.stations.map((t, i) => <option key={i} value={i}>{say("length", t.chainage_m, units)}</option>)}</select></label>}
        {a && b && b.chainage_m > a.chainage_m && <span class="aside">ground {(b.existing_m ?? 0) < (a.existing_m ?? 0) ? "falls" : "rises"} {slopeSaid(((b.existing_m ?? 0) - (a.existing_m ?? 0)) / (b.chainage_m - a.chainage_m), units)} from end to end</span>}
        {shown && <button type="button" onClick={() => saveAs("section.csv", new Blob([sectionCsv(shown.points)], { type: "text/csv" }))}>As CSV</button>}
      </form>
      {said ? <p class="quiet">{said}</p> : shown ? <><Drawing points={shown.points} times={times} units={units} />{works && <Legend cut_m2={shown.cut_m2} fill_m2={shown.fill_m2} units={units} />}</> : <p class="quiet">Tap the two ends of a line on the plan, choose a feature, or type two points.</p>}
    </section>
  );
}
