// One element of the works: the figures follow the thumb, the site changes on Keep.
import { useEffect, useRef, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Work, WorkDefinition } from "../api/types";
import { workSaid } from "../figures";
import { change, isHeavy, job, preview, withBanks } from "../job";
import { useStore } from "../store";
import { lengthElsewhere, readLength, readSlope, say, slopeSaid } from "../units";
import { Beam } from "./Beam";
import { ASKED, asTyped, hasBuild, leversOf, readWork, workText, type Ask } from "./kinds";

const REACH_M = 0.5;
const STEP_M = 0.005;

const metresOf = (text: unknown): number | null => {
  const typed = readLength(String(text ?? ""), "m");
  return "metres" in typed ? typed.metres : null;
};
const valueOf = (d: WorkDefinition, key: string): unknown => (d as unknown as Record<string, unknown>)[key];
const withKey = (d: WorkDefinition, key: string, value: unknown): WorkDefinition => {
  const { [key]: _, ...rest } = d as unknown as Record<string, unknown>;
  return (value === undefined ? rest : { ...d, [key]: value }) as unknown as WorkDefinition;
};

export const describe = (d: WorkDefinition): string => {
  if (d.kind === "depth") return `dig ${d.depth}`;
  return /^(falling )?pad$/.test(d.kind) ? [`level ${d.level}`, d.fall && `fall ${d.fall}`].filter(Boolean).join(", ") : `${d.kind}, ${workSaid(d)}`;
};

/* ---- the number that the slider moves ---- */

interface PartProps { work: Work; draft: WorkDefinition; onDraft(d: WorkDefinition): void }

const LEVER_WORDS: Record<string, string> = { level: "Finished level", depth: "Depth to dig", from: "Level at its start" };

function Lever({ work, draft, onDraft, keys }: PartProps & { keys: readonly string[] }) {
  const units = useStore(job, (s) => s.units);
  const key = keys[0]!;
  const kept = metresOf(valueOf(work.definition, key)) ?? 0;
  const now = metresOf(valueOf(draft, key));
  const [typed, setTyped] = useState(String(valueOf(draft, key) ?? ""));
  useEffect(() => setTyped(String(valueOf(draft, key) ?? "")), [valueOf(draft, key)]);
  /* Both ends of a line rise together. */
  const set = (metres: number) => onDraft(keys.reduce((d, k) => withKey(d, k, ((metresOf(valueOf(draft, k)) ?? 0) + metres - (now ?? kept)).toFixed(3)), draft));
  const type = (text: string) => {
    setTyped(text);
    if (metresOf(text) !== null) onDraft(withKey(draft, key, text));
  };
  const dug = key === "depth";
  const [low, high] = dug ? [draft.kind === "strip" ? 0 : Math.min(-REACH_M, kept - REACH_M), Math.max(1, kept + REACH_M)] : [kept - REACH_M, kept + REACH_M];
  const moved = now === null ? 0 : now - kept;
  const word = draft.kind === "strip" ? "Topsoil off" : LEVER_WORDS[key];
  return (
    <div class="lever">
      <label class="wide">{word} <input class="number" value={typed} aria-invalid={now === null} onInput={(e) => type(e.currentTarget.value)} /></label>
      <div class="slide">
        <button type="button" aria-label="5 mm lower" onClick={() => set((now ?? kept) - STEP_M)}>&minus;</button>
        <input type="range" min={low} max={high} step={STEP_M} value={now ?? kept} aria-label={`${work.name}: ${key}`} aria-valuetext={now === null ? "" : say("level", now, units)} onInput={(e) => set(Number(e.currentTarget.value))} />
        <button type="button" aria-label="5 mm higher" onClick={() => set((now ?? kept) + STEP_M)}>+</button>
      </div>
      <p class="aside">{now === null ? "Write a level such as 99.950 or 327'-11\"." : <>{say("level", now, units)}, that is {lengthElsewhere(now, units)}{Math.abs(moved) > 1e-6 && <>; {say("small", Math.abs(moved), units)} {moved > 0 ? (dug ? "deeper" : "higher") : dug ? "shallower" : "lower"} than kept</>}</>}</p>
    </div>
  );
}

/* ---- what else it is asked ---- */

/** A slope is told in all its forms; anything else stands as it was typed and is judged by the core. */
function Asked({ ask, draft, onDraft }: { ask: Ask; draft: WorkDefinition; onDraft(d: WorkDefinition): void }) {
  const units = useStore(job, (s) => s.units);
  const stands = String(valueOf(draft, ask.key) ?? "");
  const [text, setText] = useState(stands);
  useEffect(() => setText(stands), [stands]);
  const set = (t: string) => { setText(t); onDraft(withKey(draft, ask.key, asTyped(ask.key, t))); };
  if (ask.choose) return <label>{ask.word} <select value={stands} onChange={(e) => set(e.currentTarget.value)}>{ask.choose.map((c) => <option key={c}>{c}</option>)}</select></label>;
  const slope = /^(fall|crossfall|crown)$/.test(ask.key) && text ? readSlope(text) : null;
  return <label title={slope === null ? "" : slopeSaid(slope, units)}>{ask.word} <input value={text} placeholder={ask.hint} onInput={(e) => set(e.currentTarget.value)} /></label>;
}

function Questions({ draft, onDraft }: { draft: WorkDefinition; onDraft(d: WorkDefinition): void }) {
  const units = useStore(job, (s) => s.units);
  const slope = readSlope(String(draft.fall ?? ""));
  const asks = (ASKED[draft.kind] ?? []).filter((a) => !leversOf(draft).slice(0, 1).includes(a.key));
  if (!asks.length) return null;
  return (
    <div class="pair">
      {asks.map((a) => <Asked key={a.key} ask={a} draft={draft} onDraft={onDraft} />)}
      {slope !== null && <p class="aside">{slopeSaid(slope, units)}</p>}
    </div>
  );
}

const layersText = (d: WorkDefinition) => (d.layers ?? []).map((l) => `${l.material} ${l.thickness}`).join(", ");
const layersOf = (text: string) => text.split(",").map((part) => /^\s*(.+?)\s+(\S+)\s*$/.exec(part)).filter((m) => m !== null).map((m) => ({ material: m[1]!, thickness: m[2]! }));

function Build({ draft, onDraft }: { draft: WorkDefinition; onDraft(d: WorkDefinition): void }) {
  const [layers, setLayers] = useState(layersText(draft));
  const plain = draft.kind !== "depth";
  return (
    <>
      {plain && <label class="wide">Layers, from the top <input value={layers} placeholder="flags 40mm, bedding 30mm" onInput={(e) => { setLayers(e.currentTarget.value); const l = layersOf(e.currentTarget.value); onDraft(withKey(draft, "layers", l.length ? l : undefined)); }} /></label>}
      <div class="pair">
        <label>Topsoil strip <input value={draft.strip ?? ""} placeholder="150mm" onInput={(e) => onDraft(withKey(draft, "strip", asTyped("strip", e.currentTarget.value) ?? (plain ? "0" : undefined)))} /></label>
        <label>Soil <input value={draft.soil ?? ""} placeholder="clay" onInput={(e) => onDraft(withKey(draft, "soil", asTyped("soil", e.currentTarget.value)))} /></label>
      </div>
    </>
  );
}

/** The whole definition as its text, for profiles, shelves and edges; the core says what is wrong with it. */
function AsText({ work, draft, onDraft }: PartProps) {
  const stands = workText(draft);
  const [text, setText] = useState(stands);
  const own = useRef(stands);
  useEffect(() => { if (stands !== own.current) setText(stands); }, [stands]);
  const read = readWork(work.name, text);
  const type = (next: string) => {
    setText(next);
    const d = readWork(work.name, next);
    if (typeof d === "string") return;
    own.current = workText(d);
    onDraft(d);
  };
  return (
    <>
      <label class="as-text">{work.name}, as text <textarea rows={Math.min(14, text.split("\n").length + 1)} spellcheck={false} value={text} aria-invalid={typeof read === "string"} aria-describedby={`wrong-${work.position}`} onInput={(e) => type(e.currentTarget.value)} /></label>
      <p class="fault" role="status" id={`wrong-${work.position}`}>{typeof read === "string" ? read : ""}</p>
    </>
  );
}

/* ---- the form ---- */

/** What is begun on this page is not wiped under the thumb when another page, or the core, stores something else. */
function useDraft(work: Work, onMeanwhile: (said: string) => void) {
  const [draft, setDraft] = useState(work.definition);
  const stands = JSON.stringify(work.definition);
  const begun = useRef(stands);
  useEffect(() => {
    if (stands === begun.current) return;
    if (JSON.stringify(draft) === begun.current) setDraft(work.definition);
    else if (JSON.stringify(draft) !== stands) onMeanwhile(`Meanwhile this was set to ${describe(work.definition)} elsewhere; Keep puts yours in its place.`);
    begun.current = stands;
  }, [stands]);
  return { draft, setDraft, stands };
}

const keptLine = (name: string, d: WorkDefinition) => `${name}: ${[d.level && `level ${d.level}`, d.fall && `fall ${d.fall}`, d.depth && `depth ${d.depth}`].filter(Boolean).join(", ") || `${d.kind}, ${workSaid(d)}`}`;

export interface WorkFormProps { work: Work; fresh: boolean; onClose(): void }

export function WorkForm({ work, fresh, onClose }: WorkFormProps) {
  const live = useStore(job, (s) => (s.live?.work === work.name ? s.live : null));
  const elements = useStore(job, (s) => s.results.volume?.elements);
  const works = useStore(job, (s) => s.site?.works);
  const [said, setSaid] = useState("");
  const { draft, setDraft, stands } = useDraft(work, setSaid);
  const [written, setWritten] = useState(false);
  const changed = fresh || JSON.stringify(draft) !== stands;
  const stored = elements?.find((e) => e.element === work.name);
  const volume = live ? live.volume : stored;
  const together = live ? live.volume?.with_banks : withBanks(elements, works ?? [], work.name);
  const weighed = together ?? volume;
  const wrong = said || live?.said;
  const levers = leversOf(draft);
  const heavy = useStore(job, isHeavy) && live !== null && /pad$/.test(draft.kind);
  const take = (d: WorkDefinition) => {
    setDraft(d);
    setSaid("");
    preview(work.name, d);
  };
  const balance = () => {
    call("balance", { definition: { ...draft, name: work.name } }).then(
      (b) => take({ ...draft, level: (b.with_banks ?? b).level_m.toFixed(3) }),
      (error: unknown) => setSaid(saidOf(error)),
    );
  };
  const keep = async () => {
    if (!(await change("put-work", { definition: { ...draft, name: work.name } }, keptLine(work.name, draft)))) return;
    job.set({ live: null });
    if (fresh) onClose();
  };
  const leave = () => {
    setDraft(work.definition);
    setSaid("");
    job.set({ live: null });
    if (fresh) onClose();
  };
  return (
    <div class="work-form">
      {levers.length > 0 && <Lever work={work} draft={draft} onDraft={take} keys={levers} />}
      {weighed && <Beam cut_m3={weighed.cut_m3} fill_m3={weighed.fill_m3} cut={weighed.cut_interval_m3} fill={weighed.fill_interval_m3} />}
      {together && <p class="aside">With its banks.</p>}
      {heavy && <p class="aside">On a ground of this size the interval and the water come when you keep it.</p>}
      {wrong && <p class="fault" role="alert">{wrong}</p>}
      <div class="acts">
        {/^(falling )?pad$/.test(draft.kind) && <button onClick={balance}>Balance</button>}
        <button class="strong" disabled={!changed || !!live?.said} onClick={() => void keep()}>Keep</button>
        <button disabled={!changed} onClick={leave}>Leave it</button>
        {!fresh && <button onClick={() => void change("remove-work", { name: work.name }, `Took out ${work.name}`)}>Take out</button>}
      </div>
      <Questions draft={draft} onDraft={take} />
      {hasBuild(draft.kind) && <Build draft={draft} onDraft={take} />}
      <button class="plain" aria-expanded={written} onClick={() => setWritten(!written)}>{written ? "hide its text" : "write it as text"}</button>
      {written && <AsText work={work} draft={draft} onDraft={take} />}
    </div>
  );
}
