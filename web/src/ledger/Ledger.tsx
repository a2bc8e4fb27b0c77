// The ledger: one column, read from top to bottom as the job runs.
import { useEffect, useRef, useState } from "preact/hooks";
import { sentenceOf } from "../api/client";
import { headlineFigures } from "../figures";
import { change, job, openChapter, plainLine, refresh, setLight, turnBack, type Light } from "../job";
import { marks, seeAll } from "../moved";
import { useParts, useStore } from "../store";
import type { Units } from "../units";
import { Chapter } from "./Chapter";
import { Earth } from "./Earth";
import { Field } from "./Field";
import { Ground } from "./Ground";
import { HandOver } from "./HandOver";
import { Levels } from "./Levels";
import { Price } from "./Price";
import { Proof } from "./Proof";
import { Stakes } from "./Stakes";
import { useDropping, waiting } from "./TakeIn";
import { Trust } from "./Trust";
import { Welcome } from "./Welcome";

/** From paper, the sun is one touch away. */
const NEXT_LIGHT: Record<Light, Light> = { paper: "sun", sun: "night", night: "paper" };
const LIGHT_WORDS: Record<Light, string> = { paper: "Paper", sun: "In the sun", night: "At night" };
const UNITS: readonly [Units, string][] = [["metric", "m"], ["imperial", "ft"]];

function Title() {
  const title = useStore(job, (s) => s.site?.title ?? "");
  const [text, setText] = useState<string | null>(null);
  const keep = () => {
    if (text !== null && text.trim() && text !== title) void change("put-setting", { key: "title", value: text.trim() }, `Title: ${text.trim()}`);
    setText(null);
  };
  return <h1><input class="title" aria-label="Title of the job" value={text ?? title} placeholder="Name this job" onInput={(e) => setText(e.currentTarget.value)} onBlur={keep} onKeyDown={(e) => { if (e.key === "Enter") e.currentTarget.blur(); }} /></h1>;
}

function History() {
  const changes = useStore(job, (s) => s.results.history?.changes);
  if (!changes) return <p class="quiet">Reading the history&hellip;</p>;
  return (
    <ol class="history" aria-label="History, newest first">
      {[...changes].reverse().slice(0, 100).map((c) => (
        <li key={c.revision} class={c.undone ? "undone" : ""}>
          <time dateTime={c.at}>{new Date(c.at).toLocaleString([], { dateStyle: "short", timeStyle: "short" })}</time> {plainLine(c.why)}{c.who && <span class="aside"> {c.who}</span>}{c.undone && <i> undone</i>}
        </li>
      ))}
    </ol>
  );
}

function Head() {
  const units = useStore(job, (s) => s.units);
  const light = useStore(job, (s) => s.light);
  const undo = useStore(job, (s) => s.undo);
  const redo = useStore(job, (s) => s.redo);
  const [history, setHistory] = useState(false);
  const setUnits = (next: Units) => {
    job.set({ units: next });
    void change("put-setting", { key: "units", value: next }, `Units: ${next}`);
  };
  return (
    <header class="head">
      <Title />
      <div class="words">
        <button disabled={!undo} title={plainLine(undo ?? "")} onClick={() => void turnBack("undo")}>Undo</button>
        <button disabled={!redo} title={plainLine(redo ?? "")} onClick={() => void turnBack("redo")}>Redo</button>
        <button aria-expanded={history} onClick={() => setHistory(!history)}>History</button>
        <span class="set" role="group" aria-label="Units">{UNITS.map(([key, word]) => <button key={key} aria-pressed={units === key} aria-label={key} onClick={() => setUnits(key)}>{word}</button>)}</span>
        <button aria-label={`Light: ${light}. Press for ${NEXT_LIGHT[light]}.`} onClick={() => setLight(NEXT_LIGHT[light])}>{LIGHT_WORDS[NEXT_LIGHT[light]]}</button>
      </div>
      {history && <History />}
    </header>
  );
}

/** What the page has to say by itself: the server away, an edit refused, figures that moved. */
function Notices() {
  const away = useStore(job, (s) => s.away);
  const kept = useStore(job, (s) => s.kept);
  const refusal = useStore(job, (s) => s.refusal);
  const notes = useStore(job, (s) => s.notes);
  const moved = useStore(marks, (s) => s.moved);
  const state = useParts(job, ["site", "results"]);
  const movedFigures = headlineFigures(state).filter((f) => moved[f.key]);
  const over = useStore(waiting, (s) => s.over);
  const again = () => {
    const r = job.get().refusal;
    job.set({ refusal: null });
    if (r) void refresh().then(() => change(r.kept.operation, r.kept.args as object, r.kept.said, r.kept.adds));
  };
  return (
    <div class="notices" aria-live="polite">
      {over && <p class="notice strong">Let go, and the pages are read.</p>}
      {away && <p class="notice strong"><b>The server is away.</b> {kept.length ? `${kept.length === 1 ? "What you typed is" : `${kept.length} entries are`} kept here and will be sent when it is back.` : "You can go on typing; it is kept here until the server is back."}</p>}
      {refusal && (
        <div class="notice strong">
          <p><b>Not taken in.</b> {sentenceOf(refusal.failure)}</p>
          {refusal.failure.changes && refusal.failure.changes.length > 0 && <p class="quiet">Meanwhile: {refusal.failure.changes.map((c) => plainLine(c.why)).join("; ")}.</p>}
          <div class="acts">{refusal.failure.status === "conflict" && <button onClick={again}>Make my change on top</button>}<button onClick={() => job.set({ refusal: null })}>Leave it</button></div>
        </div>
      )}
      {notes.map((note) => <p class="notice" key={note}>{note} <button class="plain" onClick={() => job.set({ notes: job.get().notes.filter((n) => n !== note) })}>seen</button></p>)}
      {movedFigures.length > 0 && (
        <p class="notice"><span aria-hidden="true">&#9650;&#9660;</span> {movedFigures.length === 1 ? "One figure" : `${movedFigures.length} figures`} moved: {movedFigures.slice(0, 3).map((f, i) => <>{i > 0 && ", "}<button class="place" onClick={() => openChapter(f.chapter)}>{f.label.toLowerCase()}</button></>)}{movedFigures.length > 3 && " \u2026"} <button class="plain" onClick={seeAll}>all seen</button></p>
      )}
    </div>
  );
}

/** On a phone the ledger is a drawer: low, half or full; a tap on its handle takes the next height, a drag any. */
function useDrawer() {
  const [height, setHeight] = useState<"low" | "half" | "full">("half");
  const start = useRef<{ y: number; at: number } | null>(null);
  const ledger = useRef<HTMLElement>(null);
  const next = { low: "half", half: "full", full: "low" } as const;
  const down = (e: PointerEvent) => {
    start.current = { y: e.clientY, at: ledger.current!.getBoundingClientRect().height };
    (e.currentTarget as HTMLElement).setPointerCapture(e.pointerId);
  };
  const move = (e: PointerEvent) => {
    if (start.current && Math.abs(e.clientY - start.current.y) > 6) ledger.current!.style.height = `${start.current.at + start.current.y - e.clientY}px`;
  };
  const up = (e: PointerEvent) => {
    const from = start.current;
    start.current = null;
    ledger.current!.style.height = "";
    if (!from || Math.abs(e.clientY - from.y) <= 6) return;
    const share = (from.at + from.y - e.clientY) / innerHeight;
    setHeight(share < 0.32 ? "low" : share < 0.72 ? "half" : "full");
    swallow.current = true;
  };
  const swallow = useRef(false);
  const tap = () => {
    if (swallow.current) swallow.current = false;
    else setHeight(next[height]);
  };
  return { height, setHeight, ledger, handle: { onPointerDown: down, onPointerMove: move, onPointerUp: up, onClick: tap } };
}

const INSIDE = { Field, Trust, Ground, Levels, Earth, Price, Stakes, Proof } as const;

export function Ledger() {
  useDropping();
  const empty = useStore(job, (s) => s.site !== null && !s.site.pages.length && !s.site.features.length);
  const loaded = useStore(job, (s) => s.site !== null);
  const chapter = useStore(job, (s) => s.chapter);
  const { height, setHeight, ledger, handle } = useDrawer();
  const scroller = useRef<HTMLDivElement>(null);
  const view = useStore(job, (s) => s.view);
  useEffect(() => {
    if (view !== "plan") setHeight("low"); /* a section or the standing ground needs the room */
  }, [view]);
  useEffect(() => {
    const onPhone = matchMedia("(max-width: 759px)").matches;
    if (chapter === "Field") setHeight("full");
    else if (chapter) setHeight("half");
    const section = chapter && scroller.current?.querySelector<HTMLElement>(onPhone ? `#inside-${chapter}` : `[aria-labelledby="chapter-${chapter}"]`);
    if (section && scroller.current) scroller.current.scrollTop += section.getBoundingClientRect().top - scroller.current.getBoundingClientRect().top;
  }, [chapter]);
  return (
    <aside class={`ledger ${height}`} aria-label="The ledger" ref={ledger}>
      <button class="handle" aria-label={`Ledger, ${height}; tap to make it ${height === "full" ? "low" : "higher"}`} {...handle}><span /></button>
      <div class="scroll" ref={scroller} tabIndex={-1}>
        <Head />
        <Notices />
        {!loaded && <p class="quiet pad" role="status">Opening the job&hellip;</p>}
        {empty && chapter === null && <Welcome />}
        {loaded && (!empty || chapter !== null) && (Object.keys(INSIDE) as (keyof typeof INSIDE)[]).map((name) => {
          const Inside = INSIDE[name];
          return <Chapter key={name} name={name}><Inside /></Chapter>;
        })}
        {loaded && !empty && <HandOver />}
        <footer class="foot">Figures are at 95 %. Merestone measures, computes and records; it does not replace a search for services, an engineer, or local rules on excavation, walls and drains. Lines of occupation are not legal boundaries.</footer>
      </div>
    </aside>
  );
}
