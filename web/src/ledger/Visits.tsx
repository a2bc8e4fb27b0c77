// Visits and gear: when the readings were taken, how each visit lies on the site, and how far its gear is trusted.
import { useState } from "preact/hooks";
import type { Frame, Gear } from "../api/types";
import { plural } from "../figures";
import { change, job } from "../job";
import { useStore } from "../store";
import { fixed, readLength, say, type Units } from "../units";

const Z95 = 1.959964;
const SECONDS = (180 * 3600) / Math.PI;

function frameSaid(f: Frame | undefined, units: Units): string {
  if (!f) return "in the site\u2019s own frame";
  if (!f.determined) return "not tied to the site yet; it needs two points that another visit has too";
  const turn = f.turn_deg === null ? "" : `, turned ${fixed(f.turn_deg, 3)}\u00b0${f.sd_turn_deg === null ? "" : ` \u00b1 ${fixed(Z95 * f.sd_turn_deg, 3)}\u00b0`}`;
  return f.shift_e_m === null || f.shift_n_m === null ? "tied" : `shifted ${say("length", f.shift_e_m, units)} east, ${say("length", f.shift_n_m, units)} north${turn}`;
}

/** What a gear may be trusted with, in the units in which it is spoken of. */
const FIGURES = [
  { key: "distance_m", word: "a distance", as: "length" }, { key: "distance_ppm", word: "and of it", as: "ppm" }, { key: "angle_rad", word: "an angle", as: "seconds" },
  { key: "zenith_rad", word: "a zenith angle", as: "seconds" }, { key: "centring_m", word: "centring", as: "length" }, { key: "plan_m", word: "a place", as: "length" },
  { key: "height_m", word: "a height", as: "length" }, { key: "staff_m", word: "a staff reading", as: "length" }, { key: "levelled_km_m", word: "a km levelled", as: "length" }, { key: "leg_m", word: "a leg", as: "length" },
] as const;
type GearFigure = (typeof FIGURES)[number];

function figureSaid(f: GearFigure, value: number, units: Units): string {
  if (f.as === "seconds") return `${fixed(value * SECONDS, 1)}\u2033`;
  return f.as === "ppm" ? `${fixed(value, 1)} ppm` : units === "imperial" ? say("small", value, units) : `${fixed(value * 1000, 1)} mm`;
}

function gearSaid(g: Gear, units: Units): string {
  return FIGURES.filter((f) => g[f.key] > 0).map((f) => `${f.word} ${figureSaid(f, g[f.key], units)}`).join(", ");
}

function readFigure(f: GearFigure, text: string): number | null {
  if (f.as !== "length") {
    const value = Number(text.replace(/[\u2033"]|ppm/g, "").trim());
    return text.trim() && value >= 0 ? (f.as === "seconds" ? value / SECONDS : value) : null;
  }
  const read = readLength(text, "mm");
  return "metres" in read && read.metres >= 0 ? read.metres : null;
}

function OwnGear({ list, onDone }: { list: readonly Gear[]; onDone(): void }) {
  const units = useStore(job, (s) => s.units);
  const [like, setLike] = useState(list[0]?.name ?? "");
  const [name, setName] = useState("");
  const [typed, setTyped] = useState<Record<string, string>>({});
  const base = list.find((g) => g.name === like);
  const asked = FIGURES.filter((f) => base && base[f.key] > 0);
  const read = asked.flatMap((f) => (typed[f.key]?.trim() ? [[f.key, readFigure(f, typed[f.key]!)] as const] : []));
  const ready = !!name.trim() && read.every(([, value]) => value !== null);
  const keep = (event: Event) => {
    event.preventDefault();
    void change("put-gear", { name: name.trim(), like, ...Object.fromEntries(read) }, `Gear ${name.trim()}, like ${like}`, true).then((done) => done && onDone());
  };
  return (
    <form onSubmit={keep}>
      <div class="pair">
        <label>Name <input value={name} placeholder="the old tape" onInput={(e) => setName(e.currentTarget.value)} /></label>
        <label>like <select value={like} onChange={(e) => setLike(e.currentTarget.value)}>{list.map((g) => <option key={g.name}>{g.name}</option>)}</select></label>
        {asked.map((f) => <label key={f.key}>{f.word} &plusmn; <input value={typed[f.key] ?? ""} placeholder={figureSaid(f, base![f.key], units)} aria-invalid={!!typed[f.key]?.trim() && readFigure(f, typed[f.key]!) === null} onInput={(e) => setTyped({ ...typed, [f.key]: e.currentTarget.value })} /></label>)}
        <button disabled={!ready}>Keep this gear</button>
      </div>
      <p class="quiet">One standard deviation: two of three readings are nearer than that. A bare length is in millimetres.</p>
    </form>
  );
}

export function Visits() {
  const site = useStore(job, (s) => s.site);
  const frames = useStore(job, (s) => s.results.adjust?.frames) ?? [];
  const gear = useStore(job, (s) => s.results.gear?.gear) ?? [];
  const units = useStore(job, (s) => s.units);
  const [asking, setAsking] = useState(false);
  const used = new Set(site?.pages.map((p) => p.gear));
  return (
    <>
      <ul class="plain-list">
        {(site?.visits ?? []).filter(Boolean).map((v) => {
          const pages = site?.pages.filter((p) => p.visit === v) ?? [];
          return <li key={v}><b>{v}</b>: {plural(pages.length, "page")}, {frameSaid(frames.find((f) => f.visit === v), units)}</li>;
        })}
      </ul>
      <ul class="plain-list">{gear.filter((g) => used.has(g.name) || !g.preset).map((g) => <li key={g.name}><b>{g.name}</b> &plusmn; {gearSaid(g, units) || "as its page says"} <span class="aside">{g.source}</span></li>)}</ul>
      <button class="plain" aria-expanded={asking} onClick={() => setAsking(!asking)}>name a gear of your own</button>
      {asking && gear.length > 0 && <OwnGear list={gear} onDone={() => setAsking(false)} />}
    </>
  );
}
