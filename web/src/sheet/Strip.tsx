// The strip below the drawing: how to look at the sheet, and find by name.
import { useMemo, useState } from "preact/hooks";
import { job, pickEnd, type Place, type View } from "../job";
import { useStore } from "../store";
import { finderOf } from "./content";
import { leadTo, shown } from "./lead";

const VIEWS: readonly [View, string][] = [["plan", "Plan"], ["section", "Section"], ["relief", "3-D"]];

function look(view: View): void {
  const state = job.get();
  if (view === "section" && !(state.line && state.line.length === 2)) job.set({ view: "section", picking: "section", line: [] });
  else job.set({ view, picking: null, ...(view === "section" ? {} : { line: null }) });
}

interface Named { name: string; place: Place }
function useNames(): Named[] {
  const points = useStore(job, (s) => s.results.adjust?.points);
  const features = useStore(job, (s) => s.site?.features);
  const stakes = useStore(job, (s) => s.results.setout?.stakes);
  return useMemo(() => [
    ...(features ?? []).map((f): Named => ({ name: f.name, place: { type: "feature", name: f.name } })),
    ...(points ?? []).map((p): Named => ({ name: p.point, place: { type: "point", name: p.point } })),
    ...(stakes ?? []).map((s): Named => ({ name: s.stake, place: { type: "at", easting_m: s.easting_m, northing_m: s.northing_m, label: s.stake } })),
  ], [points, features, stakes]);
}

/** While a line is being picked, a name is as good as a tap. @return true when it was taken as an end of the line */
function pickNamed(place: Place): boolean {
  const state = job.get();
  const at = place.type === "point" ? finderOf(state)(place.name) : place.type === "at" ? ([place.easting_m, place.northing_m] as [number, number]) : null;
  if (!state.picking || !at) return false;
  pickEnd(at);
  return true;
}

const SHOWN = 60;

function Find() {
  const names = useNames();
  const [text, setText] = useState("");
  const [missed, setMissed] = useState(false);
  const matches = useMemo(() => (text ? names.filter((n) => n.name.toLowerCase().includes(text.toLowerCase())).slice(0, SHOWN) : names.slice(0, SHOWN)), [names, text]);
  const find = (event: Event) => {
    event.preventDefault();
    const wanted = text.trim().toLowerCase();
    const hit = names.find((n) => n.name.toLowerCase() === wanted) ?? matches[0];
    setMissed(!hit);
    if (!hit) return;
    if (!pickNamed(hit.place)) leadTo(hit.place);
    setText("");
    (document.activeElement as HTMLElement | null)?.blur(); /* on a phone the field lies over the strip while it is written in */
  };
  return (
    <form class="find" role="search" onSubmit={find}>
      <label>
        <span class="hidden">Find a point, feature or stake by name</span>
        <input type="search" list="names" placeholder="Find" autocomplete="off" autocapitalize="characters" value={text} aria-invalid={missed} onInput={(e) => { setText(e.currentTarget.value); setMissed(false); }} />
      </label>
      <datalist id="names">{matches.map((n) => <option key={`${n.place.type} ${n.name}`} value={n.name} />)}</datalist>
      <span role="status" class="hidden">{missed ? `Nothing is called ${text}.` : ""}</span>
    </form>
  );
}

export function Strip() {
  const view = useStore(job, (s) => s.view);
  return (
    <div class="strip">
      <div class="ways" role="group" aria-label="Ways to look">
        {VIEWS.map(([key, word]) => <button key={key} aria-pressed={view === key} onClick={() => look(key)}>{word}</button>)}
      </div>
      <Find />
      <div class="zoom" role="group" aria-label="Zoom">
        <button aria-label="Smaller" onClick={() => shown()?.zoomBy(1 / 1.6)}>&minus;</button>
        <button aria-label="Larger" onClick={() => shown()?.zoomBy(1.6)}>+</button>
        <button onClick={() => shown()?.fit()}>All</button>
      </div>
    </div>
  );
}
