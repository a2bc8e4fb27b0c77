// Typing in the field: the next thing is asked for, read back, kept, and undone with one key.
import { useState } from "preact/hooks";
import { change, job, turnBack } from "../job";
import { sheet } from "../sheet/lead";
import { useStore } from "../store";
import { lengthElsewhere, lengthSaid } from "../units";
import { Keypad, NameField } from "./Keypad";
import { HEADERS, nextName, pageNameFor, readTyped, recordFor, type Cell } from "./records";

export type EntryKind = "tape" | "levels" | "feature";

function usePoints(): string[] {
  return (useStore(job, (s) => s.results.adjust?.points) ?? []).map((p) => p.point);
}

/** Points near the middle of the sheet are near the contractor. */
function likelyNames(points: readonly string[], first: readonly string[]): string[] {
  const centre = sheet.plan?.map.getView().getCenter();
  const places = new Map((job.get().results.adjust?.points ?? []).map((p) => [p.point, Math.hypot((p.easting_m ?? 1e9) - (centre?.[0] ?? 0), (p.northing_m ?? 1e9) - (centre?.[1] ?? 0))]));
  const near = [...points].sort((a, b) => (places.get(a) ?? 1e9) - (places.get(b) ?? 1e9));
  return [...new Set([...first.filter(Boolean), ...near])].slice(0, 8);
}

/** Adds a row to the page of this kind and visit, or begins that page. */
export async function keepReading(kind: "tape" | "levels", visit: string, cells: Record<string, Cell>, said: string): Promise<void> {
  const name = pageNameFor(kind, visit);
  const page = job.get().site?.pages.find((p) => p.name === name);
  const row = recordFor(page?.header ?? HEADERS[kind], cells);
  if ("missing" in row) {
    job.set({ said: `The page ${name} has no column ${row.missing}.` });
    return;
  }
  if (page) await change("add-reading", { page: name, record: row.record }, said, true);
  else await change("import", { page: kind, name, text: `${HEADERS[kind]}\n${row.record}\n`, visit }, said, true);
}

function ReadBack({ said, fault, onKeep, ready }: { said: string; fault: string; onKeep(): void; ready: boolean }) {
  const last = useStore(job, (s) => s.said);
  const refusal = useStore(job, (s) => s.refusal);
  const undo = useStore(job, (s) => s.site?.undo);
  return (
    <div class="read-back">
      <p role="status" class="back">{fault || said || (refusal ? "" : last && `Kept: ${last}.`)}</p>
      <button type="button" class="keep" disabled={!ready} onClick={onKeep}>Keep</button>
      <button type="button" class="undo" disabled={!undo} onClick={() => void turnBack("undo")}>Undo</button>
    </div>
  );
}

function Tape({ visit }: { visit: string }) {
  const units = useStore(job, (s) => s.units);
  const points = usePoints();
  const [from, setFrom] = useState("");
  const [to, setTo] = useState("");
  const [text, setText] = useState("");
  const typed = readTyped(text, units);
  const metres = "metres" in typed ? typed.metres : null;
  const ready = !!from && !!to && metres !== null && metres > 0;
  const keep = () => {
    if (!ready || metres === null) return;
    void keepReading("tape", visit, { from: { text: from }, to: { text: to }, distance: { metres } }, `Tape ${from} to ${to}, ${lengthSaid(metres, units)}`);
    setFrom(to);
    setTo(nextName(to));
    setText("");
  };
  const said = ready && metres !== null ? `${from} to ${to}: ${lengthSaid(metres, units)}, that is ${lengthElsewhere(metres, units)}` : "";
  return (
    <>
      <p class="ask-for">Tape from <b>{from || "\u2026"}</b> to <b>{to || "\u2026"}</b></p>
      <NameField label="From" value={from} likely={likelyNames(points, [from])} onValue={setFrom} />
      <NameField label="To" value={to} likely={likelyNames(points, [nextName(from), to]).filter((n) => n !== from)} onValue={setTo} />
      <Keypad label="Distance" value={text} units={units} onValue={setText} onDone={keep} invalid={!!text && metres === null} />
      <ReadBack said={said} fault={text && "fault" in typed ? typed.fault : ""} ready={ready} onKeep={keep} />
    </>
  );
}

const SIGHTS = ["backsight", "intermediate", "foresight"] as const;

function Levels({ visit }: { visit: string }) {
  const units = useStore(job, (s) => s.units);
  const points = usePoints();
  const [point, setPoint] = useState("");
  const [sight, setSight] = useState<(typeof SIGHTS)[number]>("backsight");
  const [text, setText] = useState("");
  const typed = readTyped(text, units);
  const metres = "metres" in typed ? typed.metres : null;
  const ready = !!point && metres !== null;
  const keep = () => {
    if (!ready || metres === null) return;
    void keepReading("levels", visit, { point: { text: point }, [sight]: { metres } }, `${sight} on ${point}, ${lengthSaid(metres, units)}`);
    setText("");
    setSight(sight === "foresight" ? "backsight" : "intermediate");
    setPoint(sight === "foresight" ? point : nextName(point));
  };
  const said = ready && metres !== null ? `${sight} on ${point}: ${lengthSaid(metres, units)}, that is ${lengthElsewhere(metres, units)}` : "";
  return (
    <>
      <p class="ask-for">Staff on <b>{point || "\u2026"}</b>, {sight}</p>
      <div class="choice" role="group" aria-label="Sight">{SIGHTS.map((s) => <button type="button" key={s} aria-pressed={s === sight} onClick={() => setSight(s)}>{s}</button>)}</div>
      <NameField label="Point" value={point} likely={likelyNames(points, [point, nextName(point)])} onValue={setPoint} />
      <Keypad label="Staff reading" value={text} units={units} onValue={setText} onDone={keep} invalid={!!text && metres === null} />
      <ReadBack said={said} fault={text && "fault" in typed ? typed.fault : ""} ready={ready} onKeep={keep} />
    </>
  );
}

const EDGES = ["straight", "arc", "curve", "circle"] as const;
const KINDS = ["line", "area", "spot"] as const;
const ROLES = ["default", "boundary", "breakline", "hole", "none"] as const;
interface Corner { point: string; edge: (typeof EDGES)[number] }

function Feature() {
  const points = usePoints();
  const [name, setName] = useState("");
  const [code, setCode] = useState("");
  const [kind, setKind] = useState<(typeof KINDS)[number]>("line");
  const [role, setRole] = useState<(typeof ROLES)[number]>("default");
  const [edge, setEdge] = useState<(typeof EDGES)[number]>("straight");
  const [corners, setCorners] = useState<Corner[]>([]);
  const [point, setPoint] = useState("");
  const add = (next: string) => {
    if (!next) return;
    setCorners([...corners, { point: next, edge }]);
    setPoint("");
  };
  const least = { line: 2, area: 3, spot: 1 }[kind];
  const ready = !!name && corners.length >= least;
  const keep = () => {
    void change("put-feature", { name, code: code || name, kind, role, vertices: corners }, `Feature ${name}, ${corners.length} points`, true);
    setName("");
    setCorners([]);
  };
  const last = corners[corners.length - 1]?.point ?? "";
  return (
    <>
      <p class="ask-for">{corners.length ? <>{name || "The feature"} from <b>{last}</b> on to <b>&hellip;</b></> : <>A feature starts at <b>&hellip;</b></>}</p>
      <div class="pair">
        <label>Name <input value={name} autocomplete="off" onInput={(e) => setName(e.currentTarget.value)} /></label>
        <label>What it is <input value={code} autocomplete="off" placeholder="lawn, fence, kerb" onInput={(e) => setCode(e.currentTarget.value)} /></label>
      </div>
      <div class="choice" role="group" aria-label="Kind">{KINDS.map((k) => <button type="button" key={k} aria-pressed={k === kind} onClick={() => setKind(k)}>{k}</button>)}</div>
      <label class="wide">In the ground it is <select value={role} onChange={(e) => setRole(e.currentTarget.value as (typeof ROLES)[number])}>{ROLES.map((r) => <option key={r} value={r}>{r === "default" ? "as its kind" : r === "none" ? "not part of it" : r}</option>)}</select></label>
      <div class="choice" role="group" aria-label="The next edge is">{EDGES.map((e) => <button type="button" key={e} aria-pressed={e === edge} onClick={() => setEdge(e)}>{e}</button>)}</div>
      <form onSubmit={(e) => { e.preventDefault(); add(point); }}>
        <NameField label="Next point" value={point} likely={likelyNames(points, [nextName(last)]).filter((n) => n !== last)} onValue={(v) => (points.includes(v) && v !== point && v.length > point.length + 1 ? add(v) : setPoint(v))} />
        <button class="wide-key" disabled={!point}>Add {point}</button>
      </form>
      {corners.length > 0 && <p class="quiet">{corners.map((c) => (c.edge === "straight" ? c.point : `${c.point} (${c.edge})`)).join(" \u2013 ")} <button type="button" class="plain" onClick={() => setCorners(corners.slice(0, -1))}>take the last back</button></p>}
      <ReadBack said={ready ? `${name}: ${kind} of ${corners.length} points` : ""} fault="" ready={ready} onKeep={keep} />
    </>
  );
}

const WORDS: Record<EntryKind, string> = { tape: "Tape", levels: "Levels", feature: "Feature" };

export function Entry() {
  const visits = useStore(job, (s) => s.site?.visits) ?? [];
  const [kind, setKind] = useState<EntryKind>((localStorage.getItem("merestone.entry") as EntryKind | null) ?? "tape");
  const [visit, setVisit] = useState(localStorage.getItem("merestone.visit") ?? new Date().toISOString().slice(0, 10));
  const choose = (k: EntryKind) => { setKind(k); localStorage.setItem("merestone.entry", k); };
  const name = (v: string) => { setVisit(v); localStorage.setItem("merestone.visit", v); };
  return (
    <div class="entry">
      <div class="choice" role="group" aria-label="What is typed">{(Object.keys(WORDS) as EntryKind[]).map((k) => <button key={k} aria-pressed={k === kind} onClick={() => choose(k)}>{WORDS[k]}</button>)}</div>
      {kind !== "feature" && <label class="wide">Visit <input list="visits" value={visit} onInput={(e) => name(e.currentTarget.value)} /><datalist id="visits">{visits.map((v) => <option key={v.name} value={v.name} />)}</datalist></label>}
      {kind === "tape" ? <Tape visit={visit} /> : kind === "levels" ? <Levels visit={visit} /> : <Feature />}
    </div>
  );
}
