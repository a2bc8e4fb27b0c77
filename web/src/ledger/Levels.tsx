// Levels: each element of the works with its level, fall or depth; the figures follow the thumb, the site changes on Keep.
import { useEffect, useRef, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { Finding, Work, WorkDefinition } from "../api/types";
import { change, job, preview } from "../job";
import { placeOfDefinition, workSaid } from "../figures";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { fixed, lengthElsewhere, readLength, readSlope, say, slopeSaid } from "../units";
import { Beam } from "./Beam";
import { Part } from "./Chapter";
import { KINDS, beginWork, hasForm, readWork, workText, type Lies } from "./kinds";

const REACH_M = 0.5;
const STEP_M = 0.005;

const metresOf = (text: string | number | undefined): number | null => {
  const typed = readLength(String(text ?? ""), "m");
  return "metres" in typed ? typed.metres : null;
};
const layersText = (d: WorkDefinition) => (d.layers ?? []).map((l) => `${l.material} ${l.thickness}`).join(", ");
const layersOf = (text: string) => text.split(",").map((part) => /^\s*(.+?)\s+(\S+)\s*$/.exec(part)).filter((m) => m !== null).map((m) => ({ material: m[1]!, thickness: m[2]! }));

/** The one number that the slider moves: a level, or a depth. */
const leverOf = (d: WorkDefinition): "level" | "depth" => (d.kind === "depth" ? "depth" : "level");

interface LeverProps { work: Work; draft: WorkDefinition; onDraft(d: WorkDefinition): void }

function Lever({ work, draft, onDraft }: LeverProps) {
  const units = useStore(job, (s) => s.units);
  const key = leverOf(draft);
  const kept = metresOf(work.definition[key]) ?? 0;
  const now = metresOf(draft[key]);
  const [typed, setTyped] = useState(String(draft[key] ?? ""));
  useEffect(() => setTyped(String(draft[key] ?? "")), [draft[key]]);
  const set = (metres: number) => onDraft({ ...draft, [key]: metres.toFixed(3) });
  const [low, high] = key === "depth" ? [Math.min(-REACH_M, kept - REACH_M), Math.max(1, kept + REACH_M)] : [kept - REACH_M, kept + REACH_M];
  const moved = now === null ? 0 : now - kept;
  return (
    <div class="lever">
      <label class="wide">{key === "level" ? "Finished level" : "Depth to dig"} <input class="number" value={typed} aria-invalid={now === null} onInput={(e) => { setTyped(e.currentTarget.value); const m = metresOf(e.currentTarget.value); if (m !== null) onDraft({ ...draft, [key]: e.currentTarget.value }); }} /></label>
      <div class="slide">
        <button type="button" aria-label="5 mm lower" onClick={() => set((now ?? kept) - STEP_M)}>&minus;</button>
        <input type="range" min={low} max={high} step={STEP_M} value={now ?? kept} aria-label={`${work.name}: ${key}`} aria-valuetext={now === null ? "" : say("level", now, units)} onInput={(e) => set(Number(e.currentTarget.value))} />
        <button type="button" aria-label="5 mm higher" onClick={() => set((now ?? kept) + STEP_M)}>+</button>
      </div>
      <p class="aside">{now === null ? "Write a level such as 99.950 or 327'-11\"." : <>{say("level", now, units)}, that is {lengthElsewhere(now, units)}{Math.abs(moved) > 1e-6 && <>; {say("small", Math.abs(moved), units)} {moved > 0 ? (key === "depth" ? "deeper" : "higher") : key === "depth" ? "shallower" : "lower"} than kept</>}</>}</p>
    </div>
  );
}

function Fall({ draft, onDraft }: { draft: WorkDefinition; onDraft(d: WorkDefinition): void }) {
  const units = useStore(job, (s) => s.units);
  const [text, setText] = useState(String(draft.fall ?? ""));
  const slope = readSlope(text);
  return (
    <div class="pair">
      <label>Fall <input value={text} aria-invalid={slope === null} onInput={(e) => { const t = e.currentTarget.value; setText(t); const s = readSlope(t); if (s !== null && s > 0) onDraft({ ...draft, fall: /mm/.test(t) ? `${fixed(s * 100, 4)}%` : t }); }} /></label>
      <label>towards <input value={String(draft.towards ?? "")} onInput={(e) => onDraft({ ...draft, towards: /^-?\d+(\.\d+)?$/.test(e.currentTarget.value) ? Number(e.currentTarget.value) : e.currentTarget.value })} /></label>
      <p class="aside">{slope === null ? "Write 1:60, 1.67 % or 17 mm/m." : slopeSaid(slope, units)}; towards a bearing in degrees, or a point</p>
    </div>
  );
}

function Build({ draft, onDraft }: { draft: WorkDefinition; onDraft(d: WorkDefinition): void }) {
  const [layers, setLayers] = useState(layersText(draft));
  return (
    <>
      {draft.kind !== "depth" && <label class="wide">Layers, from the top <input value={layers} placeholder="flags 40mm, bedding 30mm" onInput={(e) => { setLayers(e.currentTarget.value); onDraft({ ...draft, layers: layersOf(e.currentTarget.value) }); }} /></label>}
      <div class="pair">
        <label>Topsoil strip <input value={draft.strip ?? ""} placeholder="150mm" onInput={(e) => onDraft({ ...draft, ...(e.currentTarget.value ? { strip: e.currentTarget.value } : { strip: "0" }) })} /></label>
        <label>Soil <input value={draft.soil ?? ""} placeholder="clay" onInput={(e) => onDraft({ ...draft, soil: e.currentTarget.value })} /></label>
      </div>
    </>
  );
}

function WorkForm({ work, fresh, onClose }: { work: Work; fresh: boolean; onClose(): void }) {
  const live = useStore(job, (s) => (s.live?.work === work.name ? s.live : null));
  const stored = useStore(job, (s) => s.results.volume?.elements?.find((e) => e.element === work.name));
  const [draft, setDraft] = useState(work.definition);
  const [said, setSaid] = useState("");
  const stands = JSON.stringify(work.definition);
  const begun = useRef(stands);
  useEffect(() => {
    if (stands === begun.current) return;
    /* Changed on another page, or kept here: what was begun on this page is not wiped under the thumb. */
    if (JSON.stringify(draft) === begun.current) setDraft(work.definition);
    else if (JSON.stringify(draft) !== stands) setSaid(`Meanwhile this was set to ${describe(work.definition)} elsewhere; Keep puts yours in its place.`);
    begun.current = stands;
  }, [stands]);
  const volume = live?.volume ?? stored;
  const changed = fresh || JSON.stringify(draft) !== stands;
  const take = (d: WorkDefinition) => {
    setDraft(d);
    setSaid("");
    preview(work.name, d);
  };
  const balance = () => {
    call("balance", { definition: { ...draft, name: work.name } }).then(
      (b) => take({ ...draft, level: b.level_m.toFixed(3) }),
      (error: unknown) => setSaid(saidOf(error)),
    );
  };
  const keep = async () => {
    if (await change("put-work", { definition: { ...draft, name: work.name } }, `${work.name}: ${[draft.level && `level ${draft.level}`, draft.fall && `fall ${draft.fall}`, draft.depth && `depth ${draft.depth}`].filter(Boolean).join(", ")}`)) {
      job.set({ live: null });
      if (fresh) onClose();
    }
  };
  const leave = () => {
    setDraft(work.definition);
    job.set({ live: null });
    if (fresh) onClose();
  };
  return (
    <div class="work-form">
      <Lever work={work} draft={draft} onDraft={take} />
      {volume && <Beam cut_m3={volume.cut_m3} fill_m3={volume.fill_m3} cut={volume.cut_interval_m3} fill={volume.fill_interval_m3} />}
      {(said || live?.said) && <p class="fault" role="alert">{said || live?.said}</p>}
      <div class="acts">
        {draft.kind !== "depth" && <button onClick={balance}>Balance</button>}
        <button class="strong" disabled={!changed} onClick={() => void keep()}>Keep</button>
        <button disabled={!changed} onClick={leave}>Leave it</button>
        {!fresh && <TakeOut name={work.name} />}
      </div>
      {draft.kind === "falling pad" && <Fall draft={draft} onDraft={take} />}
      <Build draft={draft} onDraft={take} />
    </div>
  );
}

interface WorkTextProps { work: Work; fresh: boolean; onClose(): void }

/** An element of a kind that has no form of its own, as its text; the core says what is wrong with it. */
function WorkText({ work, fresh, onClose }: WorkTextProps) {
  const stands = workText(work.definition);
  const live = useStore(job, (s) => (s.live?.work === work.name ? s.live : null));
  const stored = useStore(job, (s) => s.results.volume?.elements?.find((e) => e.element === work.name));
  const [text, setText] = useState(stands);
  useEffect(() => setText(stands), [stands]);
  const read = readWork(work.name, text);
  const changed = fresh || text !== stands;
  const volume = live?.volume ?? (changed ? undefined : stored);
  const type = (next: string) => {
    setText(next);
    const d = readWork(work.name, next);
    if (typeof d !== "string") preview(work.name, d);
  };
  const keep = async () => {
    if (typeof read === "string") return;
    if (!(await change("put-work", { definition: read }, `${work.name}: ${read.kind}, ${workSaid(read)}`))) return;
    job.set({ live: null });
    if (fresh) onClose();
  };
  const leave = () => {
    setText(stands);
    job.set({ live: null });
    if (fresh) onClose();
  };
  const wrong = typeof read === "string" ? read : live?.said;
  return (
    <div class="work-form">
      <label class="as-text">{work.name}, as text <textarea rows={Math.min(14, text.split("\n").length + 1)} spellcheck={false} value={text} aria-invalid={!!wrong} aria-describedby={`wrong-${work.position}`} onInput={(e) => type(e.currentTarget.value)} /></label>
      <p class="fault" role="status" id={`wrong-${work.position}`}>{wrong}</p>
      {volume && !wrong && <Beam cut_m3={volume.cut_m3} fill_m3={volume.fill_m3} cut={volume.cut_interval_m3} fill={volume.fill_interval_m3} />}
      <div class="acts">
        <button class="strong" disabled={!changed || typeof read === "string"} onClick={() => void keep()}>Keep</button>
        <button disabled={!changed} onClick={leave}>Leave it</button>
        {!fresh && <TakeOut name={work.name} />}
      </div>
      <p class="quiet">{wrong ? "" : "The figures are of this element alone in the ground as it is; once kept, elements go in one after the other."}</p>
    </div>
  );
}

function TakeOut({ name }: { name: string }) {
  return <button onClick={() => void change("remove-work", { name }, `Took out ${name}`)}>Take out</button>;
}

function NewWork({ onMade }: { onMade(work: Work): void }) {
  const features = useStore(job, (s) => s.site?.features) ?? [];
  const works = useStore(job, (s) => s.site?.works) ?? [];
  const points = useStore(job, (s) => s.results.adjust?.points) ?? [];
  const mean = useStore(job, (s) => (s.results.ground ? (s.results.ground.lowest_m + s.results.ground.highest_m) / 2 : 100));
  const [where, setWhere] = useState("");
  const [word, setWord] = useState("pad");
  const kind = KINDS.find((k) => k.kind === word)!;
  const places: Record<Lies, () => string[]> = {
    in: () => features.filter((f) => f.kind === "area" && f.role !== "hole").map((f) => f.name),
    along: () => features.filter((f) => f.kind === "line").map((f) => f.name),
    of: () => works.filter((w) => /pad/.test(w.definition.kind)).map((w) => w.name),
    at: () => points.map((p) => p.point),
  };
  const names = places[kind.lies]();
  const make = (event: Event) => {
    event.preventDefault();
    const begun = beginWork(kind, where, mean.toFixed(3));
    const corner = features.find((f) => f.name === where)?.points[0]?.point;
    const definition = kind.kind === "falling pad" && corner ? { ...begun, at: corner } : begun;
    onMade({ name: definition.name, position: 1e6, definition });
  };
  return (
    <form class="pair" onSubmit={make}>
      <label>A <select value={word} onChange={(e) => { setWord(e.currentTarget.value); setWhere(""); }}>{KINDS.map((k) => <option key={k.kind} value={k.kind}>{k.word}</option>)}</select></label>
      <label>{kind.lies} <select value={where} onChange={(e) => setWhere(e.currentTarget.value)}><option value="">{names.length ? "choose" : "there is none yet"}</option>{names.map((n) => <option key={n}>{n}</option>)}</select></label>
      <button disabled={!where}>Begin</button>
    </form>
  );
}

const describe = (d: WorkDefinition): string => (d.kind === "depth" ? `dig ${d.depth}` : hasForm(d.kind) ? [`level ${d.level}`, d.fall && `fall ${d.fall}`].filter(Boolean).join(", ") : `${d.kind}, ${workSaid(d)}`);

function Findings({ findings }: { findings: readonly Finding[] }) {
  return (
    <ul class="plain-list">
      {findings.map((f) => (
        <li key={f.sentence}>{f.easting_m !== undefined && f.northing_m !== undefined ? <button class="place" onClick={() => leadTo({ type: "at", easting_m: f.easting_m!, northing_m: f.northing_m!, label: f.kind })}>{f.sentence}</button> : f.sentence}</li>
      ))}
    </ul>
  );
}

export function Levels() {
  const works = useStore(job, (s) => s.site?.works) ?? [];
  const findings = useStore(job, (s) => s.results.drain?.findings) ?? [];
  const cautions = useStore(job, (s) => s.results.volume?.cautions) ?? [];
  const [open, setOpen] = useState<string | null>(works[0]?.name ?? null);
  const [fresh, setFresh] = useState<Work | null>(null);
  const turn = (work: Work) => {
    job.set({ live: null });
    setOpen(open === work.name ? null : work.name);
    const place = placeOfDefinition(work.definition);
    if (open !== work.name && place) leadTo(place);
  };
  const shown = fresh && !works.some((w) => w.name === fresh.name) ? [...works, fresh] : works;
  return (
    <>
      <Part title="Works">
        <ul class="list">
          {shown.map((work) => (
            <li key={work.name}>
              <button class="item" aria-expanded={open === work.name} onClick={() => turn(work)}><span>{work.name} <small>{describe(work.definition)}</small></span></button>
              {open === work.name && (hasForm(work.definition.kind) ? <WorkForm work={work} fresh={work === fresh} onClose={() => setFresh(null)} /> : <WorkText work={work} fresh={work === fresh} onClose={() => setFresh(null)} />)}
            </li>
          ))}
        </ul>
      </Part>
      <Part title="Another element"><NewWork onMade={(work) => { setFresh(work); setOpen(work.name); preview(work.name, work.definition); }} /></Part>
      {findings.length > 0 && <Part title="Where water goes"><Findings findings={findings} /></Part>}
      {cautions.length > 0 && <Part title="Take care"><ul class="plain-list">{cautions.map((c) => <li key={c}>{c}</li>)}</ul></Part>}
      <p class="quiet">Check levels against the local code, and have walls, slopes and drains that matter looked at by a licensed person.</p>
    </>
  );
}
