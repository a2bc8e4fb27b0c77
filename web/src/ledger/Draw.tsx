// An outline drawn on the sheet, corner by corner: tapped, or typed as a point's name or a place. What is not a point of
// the site yet becomes one when the outline is kept: a place that was decided, without a level, so that it leaves the
// ground as it was measured.
import { useState } from "preact/hooks";
import type { WorkDefinition } from "../api/types";
import { call } from "../api/client";
import { addCorner, change, job, type Corner, type Drawing } from "../job";
import { finderOf } from "../sheet/content";
import { useStore } from "../store";
import { fixed, readLength, say } from "../units";
import { csvField } from "./records";

const LEAST = { area: 3, line: 2 } as const;
const DRAWN_SD_M = 0.001; /* decided, not measured: a millimetre keeps the adjustment well behaved */

/** "H1", or "112.5, 213.2" in the units that are read. */
export function readCorner(text: string, find: (name: string) => readonly number[] | null, bare: "m" | "ft"): Corner | null {
  const name = text.trim();
  const known = find(name) ?? find(name.toUpperCase());
  if (known) return { name: find(name) ? name : name.toUpperCase(), at: [known[0]!, known[1]!] };
  const parts = name.split(/\s*[,;]\s*|\s+/).map((p) => readLength(p, bare));
  const [e, n] = parts;
  return parts.length === 2 && e && n && "metres" in e && "metres" in n ? { name: null, at: [e.metres, n.metres] } : null;
}

/** Names that no point has yet. */
export function namesFor(stem: string, count: number, taken: ReadonlySet<string>): string[] {
  const names: string[] = [];
  for (let i = 1; names.length < count; i++) if (!taken.has(`${stem}.${i}`)) names.push(`${stem}.${i}`);
  return names;
}

function pageOf(names: readonly string[], corners: readonly Corner[]): string {
  const rows = corners.map((c, i) => `${csvField(names[i]!)},${c.at[0].toFixed(4)},${c.at[1].toFixed(4)},${DRAWN_SD_M}`);
  return `point,easting (m),northing (m),sd plan (m)\n${rows.join("\n")}\n`;
}

/** Two changes: the places that are new, then the outline through them. */
async function keepOutline(drawing: Drawing, name: string, code: string): Promise<boolean> {
  const fresh = drawing.corners.filter((c) => c.name === null);
  const taken = new Set(job.get().results.adjust?.points.map((p) => p.point));
  const names = namesFor(name, fresh.length, taken);
  if (fresh.length) {
    const page = `${name.replace(/[^\p{L}\p{N}-]+/gu, "-")}-outline-${job.get().revision + 1}.csv`;
    if (!(await change("import", { page: "points", name: page, visit: "drawn", frame: "site", text: pageOf(names, fresh) }, `Corners of ${name}`, true, false))) return false;
  }
  let next = 0;
  const points = drawing.corners.map((c) => ({ point: c.name ?? names[next++]!, edge: "straight" }));
  return change("put-feature", { name, code: code || name, kind: drawing.kind, role: "none", points }, `Drew ${name}, ${points.length} corners`, true);
}

const middleOf = (corners: readonly Corner[]): [number, number] => [0, 1].map((k) => corners.reduce((sum, c) => sum + c.at[k]!, 0) / corners.length) as [number, number];

/** A level to begin with: the ground's in the middle of the outline, to the centimetre. */
async function levelIn(corners: readonly Corner[]): Promise<string> {
  const [easting, northing] = middleOf(corners);
  try {
    return (await call("elevation", { easting, northing })).elevation_m.toFixed(2) + "0";
  } catch {
    const g = job.get().results.ground;
    return (g ? (g.lowest_m + g.highest_m) / 2 : 100).toFixed(3);
  }
}

export function Draw({ onPad }: { onPad(definition: WorkDefinition): void }) {
  const drawing = useStore(job, (s) => s.drawing);
  const units = useStore(job, (s) => s.units);
  const features = useStore(job, (s) => s.site?.features) ?? [];
  const [name, setName] = useState("");
  const [code, setCode] = useState("");
  const [typed, setTyped] = useState("");
  const [missed, setMissed] = useState(false);
  if (!drawing) return (
    <div class="acts">
      {(["area", "line"] as const).map((kind) => <button key={kind} onClick={() => job.set({ drawing: { kind, corners: [] }, picking: null, line: null, view: "plan", place: null })}>Draw {kind === "area" ? "an area" : "a line"}</button>)}
    </div>
  );
  const { corners, kind } = drawing;
  const used = features.some((f) => f.name === name.trim());
  const ready = corners.length >= LEAST[kind] && !!name.trim() && !used;
  const add = (event: Event) => {
    event.preventDefault();
    const corner = readCorner(typed, finderOf(job.get()), units === "imperial" ? "ft" : "m");
    setMissed(!corner);
    if (!corner) return;
    addCorner(corner);
    setTyped("");
  };
  const keep = async () => {
    const outline = name.trim();
    const level = kind === "area" ? await levelIn(corners) : "";
    if (!(await keepOutline(drawing, outline, code.trim()))) return;
    job.set({ drawing: null });
    setName("");
    setCode("");
    if (kind === "area") onPad({ name: outline, kind: "pad", in: outline, level });
  };
  const last = corners[corners.length - 1];
  const said = corners.length ? `${corners.length} ${corners.length === 1 ? "corner" : "corners"}; the last ${last!.name ?? `${fixed(last!.at[0], 2)} E, ${fixed(last!.at[1], 2)} N`}` : "Tap the first corner on the sheet.";
  return (
    <div class="drawing">
      <p role="status">{said}</p>
      <form class="reason" onSubmit={add}>
        <label>Next corner <input value={typed} autocomplete="off" placeholder={`H1, or ${say("length", 112.5, units).split(" ")[0]}, ${say("length", 213.2, units).split(" ")[0]}`} aria-invalid={missed} onInput={(e) => { setTyped(e.currentTarget.value); setMissed(false); }} /></label>
        <button disabled={!typed.trim()}>Add</button>
      </form>
      {missed && <p class="fault" role="alert">That is neither a point nor a place; write its name, or easting and northing.</p>}
      <div class="pair">
        <label>Name <input value={name} autocomplete="off" placeholder="new terrace" onInput={(e) => setName(e.currentTarget.value)} /></label>
        <label>What it is <input value={code} autocomplete="off" placeholder="terrace" onInput={(e) => setCode(e.currentTarget.value)} /></label>
      </div>
      {used && <p class="fault" role="alert">There is a feature of that name already.</p>}
      <div class="acts">
        <button class="strong" disabled={!ready} onClick={() => void keep()}>Keep the outline</button>
        <button disabled={!corners.length} onClick={() => job.set({ drawing: { ...drawing, corners: corners.slice(0, -1) } })}>Take the last back</button>
        <button onClick={() => job.set({ drawing: null })}>Leave it</button>
      </div>
    </div>
  );
}
