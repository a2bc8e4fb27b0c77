// Levels: each element of the works with its level, fall or depth; drawn, begun, graded; and where water goes.
import { useState } from "preact/hooks";
import type { Work, WorkDefinition } from "../api/types";
import { job, preview } from "../job";
import { placeOfDefinition } from "../figures";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { Part } from "./Chapter";
import { Draw } from "./Draw";
import { Grade } from "./Grade";
import { Water } from "./Water";
import { WorkForm, describe } from "./WorkForm";
import { KINDS, beginWork, type Lies } from "./kinds";

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
    const corners = features.find((f) => f.name === where)?.points.map((v) => v.point) ?? [];
    const definition = kind.kind === "falling pad" && corners[0] ? { ...begun, at: corners[0] } : kind.kind === "pad through levels" ? ({ ...begun, levels: corners.slice(0, 3).map((at) => ({ at, level: mean.toFixed(3) })) } as WorkDefinition) : begun;
    onMade({ name: definition.name, position: 1e6, definition });
  };
  return (
    <form class="pair" onSubmit={make}>
      <label>A <select aria-label="Kind of element" value={word} onChange={(e) => { setWord(e.currentTarget.value); setWhere(""); }}>{KINDS.map((k) => <option key={k.kind} value={k.kind}>{k.word}</option>)}</select></label>
      <label>{kind.lies} <select aria-label="Where it lies" value={where} onChange={(e) => setWhere(e.currentTarget.value)}><option value="">{names.length ? "choose" : "there is none yet"}</option>{names.map((n) => <option key={n}>{n}</option>)}</select></label>
      <button disabled={!where}>Begin</button>
    </form>
  );
}

export function Levels() {
  const works = useStore(job, (s) => s.site?.works) ?? [];
  const cautions = useStore(job, (s) => s.results.volume?.cautions) ?? [];
  const [open, setOpen] = useState<string | null>(works[0]?.name ?? null);
  const [fresh, setFresh] = useState<Work | null>(null);
  const turn = (work: Work) => {
    job.set({ live: null });
    setOpen(open === work.name ? null : work.name);
    const place = placeOfDefinition(work.definition);
    if (open !== work.name && place) leadTo(place);
  };
  const begin = (work: Work) => {
    setFresh(work);
    setOpen(work.name);
    preview(work.name, work.definition);
  };
  const beginPad = (definition: WorkDefinition) => {
    const name = works.some((w) => w.name === definition.name) ? `${definition.name}, graded` : definition.name; /* later has the place */
    begin({ name, position: 1e6, definition: { ...definition, name } });
  };
  const shown = fresh && !works.some((w) => w.name === fresh.name) ? [...works, fresh] : works;
  return (
    <>
      <Part title="Works">
        <ul class="list">
          {shown.map((work) => (
            <li key={work.name}>
              <button class="item" aria-expanded={open === work.name} onClick={() => turn(work)}><span>{work.name} <small>{describe(work.definition)}</small></span></button>
              {open === work.name && <WorkForm work={work} fresh={work === fresh} onClose={() => setFresh(null)} />}
            </li>
          ))}
        </ul>
      </Part>
      <Part title="Another element">
        <NewWork onMade={begin} />
        <Draw onPad={beginPad} />
        <Grade onPad={beginPad} />
      </Part>
      <Water />
      {cautions.length > 0 && <Part title="Take care"><ul class="plain-list">{cautions.map((c) => <li key={c}>{c}</li>)}</ul></Part>}
      <p class="quiet">Check levels against the local code, and have walls, slopes and drains that matter looked at by a licensed person.</p>
    </>
  );
}
