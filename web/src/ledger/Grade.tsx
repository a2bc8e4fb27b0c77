// Levels found rather than tried: the cheapest that meet the wishes, shown before any are kept.
import { useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Grade as Found, GradeLevel, WorkDefinition } from "../api/types";
import { job } from "../job";
import { useStore } from "../store";
import { fixed, money, readSlope, say, slopeSaid } from "../units";
import { Beam } from "./Beam";
import { csvField } from "./records";
import { saveAs } from "./save";

/** The plane nearest to the levels (least squares), as a falling pad. `off_m`: how far the levels lie from it at most. */
export function planeThrough(levels: readonly GradeLevel[]): { level_m: number; at: [number, number]; slope: number; bearing_deg: number; off_m: number } {
  const mean = (pick: (l: GradeLevel) => number) => levels.reduce((sum, l) => sum + pick(l), 0) / levels.length;
  const [e0, n0, z0] = [mean((l) => l.easting_m), mean((l) => l.northing_m), mean((l) => l.level_m)];
  let [ee, en, nn, ez, nz] = [0, 0, 0, 0, 0];
  for (const l of levels) {
    const [e, n, z] = [l.easting_m - e0, l.northing_m - n0, l.level_m - z0];
    [ee, en, nn, ez, nz] = [ee + e * e, en + e * n, nn + n * n, ez + e * z, nz + n * z];
  }
  const d = ee * nn - en * en || 1;
  const [a, b] = [(ez * nn - nz * en) / d, (nz * ee - ez * en) / d];
  const off_m = levels.reduce((most, l) => Math.max(most, Math.abs(l.level_m - z0 - a * (l.easting_m - e0) - b * (l.northing_m - n0))), 0);
  return { level_m: z0, at: [e0, n0], slope: Math.hypot(a, b), bearing_deg: ((Math.atan2(-a, -b) * 180) / Math.PI + 360) % 360, off_m };
}

export function padOf(name: string, where: string, levels: readonly GradeLevel[]): WorkDefinition {
  const p = planeThrough(levels);
  if (p.slope < 1e-6) return { name, kind: "pad", in: where, level: p.level_m.toFixed(3) };
  return { name, kind: "falling pad", in: where, level: p.level_m.toFixed(4), at: p.at.map((v) => Number(v.toFixed(3))), fall: `${fixed(p.slope * 100, 4)}%`, towards: Number(p.bearing_deg.toFixed(3)) };
}

/** The levels themselves, as an element: as grade with apply keeps them. */
export function surfaceOf(where: string, found: Found): WorkDefinition {
  const points = (found.levels ?? []).map((l) => [l.easting_m, l.northing_m, l.level_m]);
  return { name: `${where} levels`, kind: "surface", in: where, points, triangles: found.triangles ?? [] };
}

const levelsCsv = (levels: readonly GradeLevel[]): string => ["stake,easting (m),northing (m),elevation (m)", ...levels.map((l, i) => [csvField(`L${i + 1}`), l.easting_m.toFixed(3), l.northing_m.toFixed(3), l.level_m.toFixed(3)].join(","))].join("\r\n") + "\r\n";

interface Wishes { towards: string; least: string; most: string; steepest: string; spacing: string; cut: string; fill: string; cart: string; bring: string }
const BEGIN: Wishes = { towards: "", least: "1:80", most: "1:20", steepest: "", spacing: "2", cut: "9", fill: "7", cart: "30", bring: "38" };

function definitionOf(where: string, w: Wishes): Record<string, unknown> {
  const number = (text: string) => Number(text) || 0;
  return {
    in: where, spacing: w.spacing,
    ...(w.towards.trim() ? { falls: [{ towards: Number(w.towards), least: w.least, most: w.most }] } : {}),
    ...(w.steepest.trim() ? { steepest: w.steepest } : {}),
    prices: { cut: number(w.cut), fill: number(w.fill), "cart away": number(w.cart), import: number(w.bring) },
  };
}

const ASKS: readonly [keyof Wishes, string, string][] = [["towards", "fall towards, degrees", "none"], ["least", "at least", "1:80"], ["most", "at most", "1:20"], ["steepest", "nowhere steeper than", "any"], ["spacing", "a level every (m)", "2"], ["cut", "to dig, a m\u00b3", "9"], ["fill", "to fill, a m\u00b3", "7"], ["cart", "to cart away, a m\u00b3", "30"], ["bring", "to bring in, a m\u00b3", "38"]];

function Answer({ found, where, onPad }: { found: Found; where: string; onPad(d: WorkDefinition): void }) {
  const units = useStore(job, (s) => s.units);
  const currency = useStore(job, (s) => s.site?.settings["currency"] ?? "");
  if (!found.met) return <p class="fault" role="alert">! These wishes cannot be met together: {found.conflict?.join("; ")}. Give one of them up.</p>;
  const levels = found.levels ?? [];
  const plane = planeThrough(levels);
  const save = () => job.set({ said: saveAs(`levels-${where.replace(/\s+/g, "-")}.csv`, new Blob([levelsCsv(levels)], { type: "text/csv" })) });
  return (
    <>
      <Beam cut_m3={found.exact_cut_m3 ?? 0} fill_m3={found.exact_fill_m3 ?? 0} />
      <p role="status">{levels.length} levels for {money((found.cost ?? 0) * 100, currency)} at these prices. The nearest plane falls {slopeSaid(plane.slope, units)} towards {fixed(plane.bearing_deg, 0)}&deg;; no level lies more than {say("small", plane.off_m, units)} from it.</p>
      <div class="acts">
        <button class="strong" onClick={() => onPad(padOf(where, where, levels))}>Lay that plane</button>
        <button onClick={() => onPad(surfaceOf(where, found))}>Lay these levels</button>
        <button onClick={save}>Levels as stakes, CSV</button>
        <button onClick={() => job.set({ graded: null })}>Leave it</button>
      </div>
    </>
  );
}

export function Grade({ onPad }: { onPad(definition: WorkDefinition): void }) {
  const features = useStore(job, (s) => s.site?.features) ?? [];
  const found = useStore(job, (s) => s.graded);
  const [open, setOpen] = useState(false);
  const [where, setWhere] = useState("");
  const [wishes, setWishes] = useState(BEGIN);
  const [said, setSaid] = useState("");
  const bad = (["least", "most", "steepest"] as const).find((k) => wishes[k].trim() && readSlope(wishes[k]) === null);
  const ask = (event: Event) => {
    event.preventDefault();
    setSaid("Finding the cheapest levels\u2026");
    job.set({ graded: null });
    call("grade", { definition: definitionOf(where, wishes) }).then((graded) => { job.set({ graded }); setSaid(""); }, (error: unknown) => setSaid(saidOf(error)));
  };
  if (!open) return <div class="acts"><button onClick={() => setOpen(true)}>Grade it for me</button></div>;
  return (
    <form onSubmit={ask}>
      <label class="wide">The cheapest levels in <select value={where} onChange={(e) => { setWhere(e.currentTarget.value); job.set({ graded: null }); }}><option value="">choose an area</option>{features.filter((f) => f.kind === "area" && f.role !== "hole").map((f) => <option key={f.name}>{f.name}</option>)}</select></label>
      <div class="pair">{ASKS.map(([key, word, hint]) => <label key={key}>{word} <input value={wishes[key]} placeholder={hint} onInput={(e) => setWishes({ ...wishes, [key]: e.currentTarget.value })} /></label>)}</div>
      <div class="acts"><button class="strong" disabled={!where || !!bad}>Find them</button><button type="button" onClick={() => { setOpen(false); job.set({ graded: null }); }}>Leave it</button></div>
      {said && <p class={/Finding/.test(said) ? "quiet" : "fault"} role="status">{said}</p>}
      {found && <Answer found={found} where={where} onPad={(d) => { onPad(d); setOpen(false); job.set({ graded: null }); }} />}
      <p class="quiet">Layers and strip are not counted: levels are set against the ground as it is.</p>
    </form>
  );
}
