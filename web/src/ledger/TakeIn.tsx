// Taking files in: dropped anywhere or chosen, each with the page that it seems to be, then all rows or none.
import { useEffect, useState } from "preact/hooks";
import { change, job } from "../job";
import { PAGE_KINDS, likelyKinds } from "../pages";
import { makeStore, useStore } from "../store";

export interface Waiting { name: string; text: string; kind: string; visit: string; gear: string; siteFrame: boolean; rows: number }
export const waiting = makeStore<{ files: readonly Waiting[]; over: boolean }>({ files: [], over: false });

const WORKS = "works";

async function wait(file: File): Promise<Waiting> {
  const text = await file.text();
  const kind = /\.json$/i.test(file.name) ? WORKS : (likelyKinds(file.name, text)[0] ?? "");
  return { name: file.name, text, kind, visit: "", gear: "", siteFrame: false, rows: Math.max(0, text.trim().split(/\r?\n/).length - 1) };
}

/** Control before readings before features: each page finds what it names already there. */
const ORDER = ["control", "angles", "bearings", "tape", "levels", "heights", "gnss", "points", "legs", "offsets", "features", WORKS, "prices", "stakes", "built"];
const rank = (w: Waiting) => (ORDER.indexOf(w.kind) + ORDER.length + 1) % (ORDER.length + 1);

export async function takeFiles(files: FileList | readonly File[]): Promise<void> {
  const read = await Promise.all([...files].map(wait));
  waiting.set({ files: [...waiting.get().files, ...read].sort((a, b) => rank(a) - rank(b)), over: false });
  if (job.get().chapter !== "Field") job.set({ chapter: "Field" });
}

export function useDropping(): void {
  useEffect(() => {
    const over = (event: DragEvent) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      if (!waiting.get().over) waiting.set({ over: true });
    };
    const leave = (event: DragEvent) => { if (!event.relatedTarget) waiting.set({ over: false }); };
    const drop = (event: DragEvent) => {
      if (!event.dataTransfer?.files.length) return;
      event.preventDefault();
      void takeFiles(event.dataTransfer.files);
    };
    addEventListener("dragover", over);
    addEventListener("dragleave", leave);
    addEventListener("drop", drop);
    return () => {
      removeEventListener("dragover", over);
      removeEventListener("dragleave", leave);
      removeEventListener("drop", drop);
    };
  }, []);
}

async function takeIn(w: Waiting): Promise<boolean> {
  if (w.kind === WORKS) return change("works", { text: w.text, name: w.name }, `Took in ${w.name} as works`, true);
  const args = { page: w.kind, name: w.name, text: w.text, ...(w.visit ? { visit: w.visit } : {}), ...(w.gear ? { gear: w.gear } : {}), ...(w.siteFrame ? { frame: "site" } : {}) };
  return change("import", args, `Took in ${w.name} as ${w.kind}`, true);
}

const without = (w: Waiting) => waiting.set({ files: waiting.get().files.filter((x) => x !== w) });
const replace = (w: Waiting, patch: Partial<Waiting>) => waiting.set({ files: waiting.get().files.map((x) => (x === w ? { ...x, ...patch } : x)) });

async function takeAll(): Promise<void> {
  for (const w of [...waiting.get().files]) {
    if (!w.kind || !(await takeIn(w))) return; /* the rest waits until this one is mended or left out */
    without(w);
  }
}

const hasPlan = (kind: string) => /points|stakes|built/.test(kind);

function WaitingFile({ w }: { w: Waiting }) {
  const visits = useStore(job, (s) => s.site?.visits) ?? [];
  const gear = useStore(job, (s) => s.results.gear?.gear) ?? [];
  return (
    <li class="waiting">
      <p><b>{w.name}</b> <span class="aside">{w.kind ? `${w.rows} rows` : "Its columns fit no page; choose what it is."}</span></p>
      <div class="pair">
        <label>is <select value={w.kind} onChange={(e) => replace(w, { kind: e.currentTarget.value })}><option value="" disabled>choose</option>{[...PAGE_KINDS, WORKS].map((k) => <option key={k}>{k}</option>)}</select></label>
        {w.kind !== WORKS && w.kind !== "features" && w.kind !== "prices" && <label>visit <input list="visit-names" value={w.visit} placeholder="as the page says" onInput={(e) => replace(w, { visit: e.currentTarget.value })} /></label>}
        {/tape|angles|levels|points|legs|bearings|gnss|offsets/.test(w.kind) && <label>gear <select value={w.gear} onChange={(e) => replace(w, { gear: e.currentTarget.value })}><option value="">usual for it</option>{gear.map((g) => <option key={g.name}>{g.name}</option>)}</select></label>}
        {hasPlan(w.kind) && w.kind === "points" && <label class="tick"><input type="checkbox" checked={w.siteFrame} onChange={(e) => replace(w, { siteFrame: e.currentTarget.checked })} /> already in the site's frame</label>}
        <button class="plain" onClick={() => without(w)}>leave out</button>
      </div>
      <datalist id="visit-names">{visits.map((v) => <option key={v} value={v} />)}</datalist>
    </li>
  );
}

export function TakeIn() {
  const files = useStore(waiting, (s) => s.files);
  const [busy, setBusy] = useState(false);
  return (
    <div class="take-in">
      <label class="drop">
        <input type="file" multiple accept=".csv,.txt,.json,text/csv" onChange={(e) => { if (e.currentTarget.files) void takeFiles(e.currentTarget.files); e.currentTarget.value = ""; }} />
        <span>Choose field pages</span> <span class="aside">or drop them anywhere on the page: tape, levels, angles, points, features, stakes, built, prices</span>
      </label>
      {files.length > 0 && (
        <>
          <ul>{files.map((w) => <WaitingFile key={w.name} w={w} />)}</ul>
          <button class="wide-key strong" disabled={busy || files.some((w) => !w.kind)} onClick={() => { setBusy(true); void takeAll().finally(() => setBusy(false)); }}>{busy ? "Taking in\u2026" : files.length === 1 ? "Take it in" : `Take all ${files.length} in`}</button>
        </>
      )}
    </div>
  );
}
