// The same readings reduced by hand's methods, for the file and for who wants to see the misclosure that they know.
import { useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { LevelBook, Rounds, Traverse, TwoPeg, VisitFit } from "../api/types";
import { job } from "../job";
import { useStore } from "../store";
import { fixed, lengthSaid, readLength, say, type Units } from "../units";
import { Part } from "./Chapter";

const SECONDS = 3600;
type Told = readonly string[];

function levelsTold(b: LevelBook, units: Units): Told {
  const mm = (v: number | null) => (v === null ? "not known" : say("small", v, units));
  return [`${b.page}: misses by ${mm(b.misclosure_m)}, ${mm(b.allowable_m)} allowed over ${b.set_ups} set-ups.`, `Backsights ${fixed(b.sum_backsight_m, 3)} less foresights ${fixed(b.sum_foresight_m, 3)}; rises ${fixed(b.sum_rise_m, 3)} less falls ${fixed(b.sum_fall_m, 3)}: the arithmetic ${b.arithmetic_ok ? "agrees" : "does not agree"}.`];
}
function traverseTold(t: Traverse, units: Units): Told {
  const angles = t.angular_misclosure_deg === undefined ? [] : [`Angles miss by ${fixed(t.angular_misclosure_deg * SECONDS, 0)}\u2033, ${fixed((t.angular_allowable_deg ?? 0) * SECONDS, 0)}\u2033 allowed.`];
  return [...angles, `${t.page}: misses by ${t.linear_misclosure_m === null ? "an unknown length" : lengthSaid(t.linear_misclosure_m, units)} in ${t.length_m === null ? "" : lengthSaid(t.length_m, units)}${t.ratio ? `, 1:${fixed(t.ratio, 0)}` : ""}, shared out by the ${t.rule} rule.`];
}
function roundsTold(r: Rounds): Told {
  const worst = [...r.means].sort((a, b) => (b.spread_deg ?? 0) - (a.spread_deg ?? 0))[0];
  const faces = r.means.filter((m) => m.two_c_deg !== null);
  return [`${r.page}: ${r.means.length} directions${worst ? `; the widest spread, ${fixed((worst.spread_deg ?? 0) * SECONDS, 0)}\u2033, at ${worst.at} to ${worst.to}` : ""}.`, faces.length ? `Twice the collimation error is ${faces.map((m) => fixed((m.two_c_deg ?? 0) * SECONDS, 0)).join(", ")}\u2033.` : "Read on one face only: collimation and index error stay in."];
}
function fitTold(f: VisitFit, units: Units): Told {
  return [`${f.from} on ${f.to}: turned ${fixed(f.turn_deg, 4)}\u00b0, ${say("small", f.rms_m, units)} left on the whole.`, f.residuals.map((r) => `${r.point} ${say("small", Math.hypot(r.de_m, r.dn_m), units)} off`).join(", "), ...f.warnings];
}

interface Method { word: string; kinds: readonly string[]; ask(units: Units): Promise<Told> }
const METHODS: readonly Method[] = [
  { word: "Level book", kinds: ["levels"], ask: async (u) => levelsTold(await call("levels"), u) },
  { word: "Traverse", kinds: ["angles", "bearings"], ask: async (u) => traverseTold(await call("traverse"), u) },
  { word: "Rounds", kinds: ["angles"], ask: async () => roundsTold(await call("rounds")) },
];

const PEGS = [["mid-a", "From midway, on A"], ["mid-b", "on B"], ["near-a", "From near A, on A"], ["near-b", "on B"], ["to-a", "Distance to A"], ["to-b", "to B"]] as const;

function pegsTold(t: TwoPeg): Told {
  return [`The line of sight runs ${t.error_mm_per_30_m > 0 ? "up" : "down"} by ${fixed(Math.abs(t.error_mm_per_30_m), 1)} mm in 30 m; from the second place true readings are ${fixed(t.true_a_m, 3)} and ${fixed(t.true_b_m, 3)} m.`];
}

function TwoPegs({ onTold }: { onTold(told: Told): void }) {
  const units = useStore(job, (s) => s.units);
  const [typed, setTyped] = useState<Record<string, string>>({});
  const read = PEGS.map(([key]) => [key, readLength(typed[key] ?? "", units === "imperial" ? "ft" : "m")] as const);
  const ready = read.every(([, r]) => "metres" in r);
  const ask = (event: Event) => {
    event.preventDefault();
    call("two-peg", Object.fromEntries(read.map(([key, r]) => [key, "metres" in r ? r.metres : 0]))).then((t) => onTold(pegsTold(t)), (error: unknown) => onTold([saidOf(error)]));
  };
  return (
    <form class="pair" onSubmit={ask}>
      {PEGS.map(([key, word]) => <label key={key}>{word} <input inputMode="decimal" value={typed[key] ?? ""} onInput={(e) => setTyped({ ...typed, [key]: e.currentTarget.value })} /></label>)}
      <button disabled={!ready}>Try the level</button>
    </form>
  );
}

function FitVisits({ onTold }: { onTold(told: Told): void }) {
  const units = useStore(job, (s) => s.units);
  const pages = useStore(job, (s) => s.site?.pages) ?? [];
  const visits = [...new Set(pages.filter((p) => p.kind === "points").map((p) => p.visit))];
  const [from, setFrom] = useState("");
  const [to, setTo] = useState("");
  if (visits.length < 2) return <p class="quiet">Laying one visit on another needs points pages of two visits.</p>;
  const ask = (event: Event) => {
    event.preventDefault();
    call("fit-visits", { from, to }).then((f) => onTold(fitTold(f, units)), (error: unknown) => onTold([saidOf(error)]));
  };
  const choice = (word: string, value: string, set: (v: string) => void) => <label>{word} <select value={value} onChange={(e) => set(e.currentTarget.value)}><option value="">choose</option>{visits.map((v) => <option key={v}>{v}</option>)}</select></label>;
  return <form class="pair" onSubmit={ask}>{choice("Lay", from, setFrom)}{choice("on", to, setTo)}<button disabled={!from || !to || from === to}>Fit</button></form>;
}

export function ByHand() {
  const pages = useStore(job, (s) => s.site?.pages) ?? [];
  const units = useStore(job, (s) => s.units);
  const [open, setOpen] = useState("");
  const [told, setTold] = useState<Told>([]);
  const run = (m: Method) => {
    setOpen(m.word);
    setTold(["Working it out\u2026"]);
    m.ask(units).then(setTold, (error: unknown) => setTold([saidOf(error)]));
  };
  const turn = (word: string) => { setOpen(open === word ? "" : word); setTold([]); };
  const offered = METHODS.filter((m) => pages.some((p) => m.kinds.includes(p.kind)));
  return (
    <Part title="By hand's methods, for the file">
      <div class="acts">
        {offered.map((m) => <button key={m.word} aria-pressed={open === m.word} onClick={() => run(m)}>{m.word}</button>)}
        <button aria-expanded={open === "pegs"} onClick={() => turn("pegs")}>Two pegs</button>
        <button aria-expanded={open === "fit"} onClick={() => turn("fit")}>Visit on visit</button>
      </div>
      {open === "pegs" && <TwoPegs onTold={setTold} />}
      {open === "fit" && <FitVisits onTold={setTold} />}
      <div role="status">{told.map((line) => <p key={line}>{line}</p>)}</div>
    </Part>
  );
}
