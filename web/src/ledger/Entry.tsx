// Typing in the field: the next thing is asked for, read back, kept, and undone with one key.
import { useState } from "preact/hooks";
import { addRow, change, job, turnBack } from "../job";
import { sheet } from "../sheet/lead";
import { useStore } from "../store";
import { lengthElsewhere, lengthSaid } from "../units";
import { Keypad, Likely, NameGap } from "./Keypad";
import { HEADERS, nextName, pageNameFor, readTyped, recordFor, type Cell } from "./records";

export type EntryKind = "tape" | "levels" | "feature";

function usePoints(): string[] {
  return (useStore(job, (s) => s.results.adjust?.points) ?? []).map((p) => p.point);
}

/** Points near the last one, or else near the middle of the sheet, are near the contractor. */
function likelyNames(points: readonly string[], first: readonly string[], from = ""): string[] {
  const all = job.get().results.adjust?.points ?? [];
  const here = all.find((p) => p.point === from);
  const [east = 0, north = 0] = here ? [here.easting_m ?? 0, here.northing_m ?? 0] : (sheet.plan?.map.getView().getCenter() ?? []);
  const far = new Map(all.map((p) => [p.point, Math.hypot((p.easting_m ?? 1e9) - east, (p.northing_m ?? 1e9) - north)]));
  const near = [...points].sort((a, b) => (far.get(a) ?? 1e9) - (far.get(b) ?? 1e9));
  return [...new Set([...first.filter(Boolean), ...near])].filter((n) => n !== from).slice(0, 8);
}

/** Adds a row to the page of this kind and visit, or begins that page. */
export async function keepReading(kind: "tape" | "levels", visit: string, cells: Record<string, Cell>, said: string): Promise<void> {
  const name = pageNameFor(kind, visit);
  const page = job.get().site?.pages.find((p) => p.name === name && p.kind === kind);
  const row = recordFor(page?.header ?? HEADERS[kind], cells);
  if ("missing" in row) {
    job.set({ said: `The page ${name} has no column ${row.missing}.` });
    return;
  }
  await addRow({ kind, name, visit, header: page?.header ?? HEADERS[kind], record: row.record }, said);
}

function ReadBack({ said, fault, onKeep, ready }: { said: string; fault: string; onKeep(): void; ready: boolean }) {
  const last = useStore(job, (s) => s.said);
  const refusal = useStore(job, (s) => s.refusal);
  const undo = useStore(job, (s) => s.undo);
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
  const [asked, setAsked] = useState<"from" | "to">("from");
  const typed = readTyped(text, units);
  const metres = "metres" in typed ? typed.metres : null;
  const ready = !!from && !!to && metres !== null && metres > 0;
  const keep = () => {
    if (!ready || metres === null) return;
    void keepReading("tape", visit, { from: { text: from }, to: { text: to }, distance: { metres } }, `Tape ${from} to ${to}, ${lengthSaid(metres, units)}`);
    setFrom(to);
    setTo(nextName(to));
    setText("");
    setAsked("to");
  };
  const choose = (name: string) => {
    if (asked === "from") setFrom(name);
    else setTo(name);
    if (asked === "from") setAsked("to");
  };
  const said = ready && metres !== null ? `${from} to ${to}: ${lengthSaid(metres, units)}, that is ${lengthElsewhere(metres, units)}` : "";
  const names = asked === "from" ? likelyNames(points, [from]) : likelyNames(points, [to, nextName(from)], from);
  return (
    <>
      <p class="ask-for">Tape from <NameGap label="From" value={from} asked={asked === "from"} onAsk={() => setAsked("from")} onValue={setFrom} /> to <NameGap label="To" value={to} asked={asked === "to"} onAsk={() => setAsked("to")} onValue={setTo} /></p>
      <Likely label={asked === "from" ? "From" : "To"} value={asked === "from" ? from : to} names={names} onChoose={choose} />
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
      <p class="ask-for">Staff on <NameGap label="Point" value={point} asked onAsk={() => undefined} onValue={setPoint} /></p>
      <div class="choice" role="group" aria-label="Sight">{SIGHTS.map((s) => <button type="button" key={s} aria-pressed={s === sight} onClick={() => setSight(s)}>{s}</button>)}</div>
      <Likely label="Point" value={point} names={likelyNames(points, [point, nextName(point)])} onChoose={setPoint} />
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
    void change("put-feature", { name, code: code || name, kind, role: role === "default" ? "" : role, points: corners }, `Feature ${name}, ${corners.length} points`, true);
    setName("");
    setCorners([]);
  };
  const last = corners[corners.length - 1]?.point ?? "";
  return (
    <>
      <form class="ask-for" onSubmit={(e) => { e.preventDefault(); add(point); }}>
        {corners.length ? `${name || "The feature"} goes from ${last} on to` : "A feature starts at"} <NameGap label="Next point" value={point} asked onAsk={() => undefined} onValue={setPoint} />
        <button class="add" disabled={!point}>Add</button>
      </form>
      <Likely label="Next point" value="" names={likelyNames(points, [nextName(last)], last)} onChoose={add} />
      <div class="pair">
        <label>Name <input value={name} autocomplete="off" onInput={(e) => setName(e.currentTarget.value)} /></label>
        <label>What it is <input value={code} autocomplete="off" placeholder="lawn, fence, kerb" onInput={(e) => setCode(e.currentTarget.value)} /></label>
      </div>
      <div class="choice" role="group" aria-label="Kind">{KINDS.map((k) => <button type="button" key={k} aria-pressed={k === kind} onClick={() => setKind(k)}>{k}</button>)}</div>
      <label class="wide">In the ground it is <select value={role} onChange={(e) => setRole(e.currentTarget.value as (typeof ROLES)[number])}>{ROLES.map((r) => <option key={r} value={r}>{r === "default" ? "as its kind" : r === "none" ? "not part of it" : r}</option>)}</select></label>
      <div class="choice" role="group" aria-label="The next edge is">{EDGES.map((e) => <button type="button" key={e} aria-pressed={e === edge} onClick={() => setEdge(e)}>{e}</button>)}</div>
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
      {kind === "tape" ? <Tape visit={visit} /> : kind === "levels" ? <Levels visit={visit} /> : <Feature />}
      {kind !== "feature" && <label class="wide">Visit <input list="visits" value={visit} onInput={(e) => name(e.currentTarget.value)} /><datalist id="visits">{visits.map((v) => <option key={v} value={v} />)}</datalist></label>}
    </div>
  );
}
