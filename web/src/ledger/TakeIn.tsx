// Taking files in: dropped anywhere or chosen, each with the page that it seems to be, then all rows or none.
import { useEffect, useState } from "preact/hooks";
import { sentenceOf } from "../api/client";
import type { Cloud } from "../api/types";
import { change, job, takeScan } from "../job";
import { PAGE_KINDS, headerOf, likelyKinds } from "../pages";
import { makeStore, useStore } from "../store";
import { fixed, readLength, say, type Units } from "../units";
import { readBytes, tooLarge } from "./bytes";

export interface Waiting { name: string; text: string; kind: string; visit: string; gear: string; siteFrame: boolean; rows: number; fault: string; scan?: Scan }
/** A file of measured points by the million: it comes in thinned, as far as the tolerance allows. */
interface Scan { file: File; unit: string; tolerance: string; findGround: boolean; part: string; found?: string }
export const waiting = makeStore<{ files: readonly Waiting[]; over: boolean }>({ files: [], over: false });

const WORKS = "works";
const SCAN = /\.(las|laz|xyz|pts|asc|grd|tiff?)$/i;

const scanOf = (file: File): Waiting => ({ name: file.name, text: "", kind: "scan", visit: "", gear: "", siteFrame: false, rows: 0, fault: "", scan: { file, unit: "", tolerance: "", findGround: false, part: "" } });

async function wait(file: File): Promise<Waiting> {
  if (SCAN.test(file.name)) return scanOf(file);
  const large = tooLarge(file.size);
  const read = large ?? readBytes(new Uint8Array(await file.arrayBuffer()));
  const text = "text" in read ? read.text : "";
  const fault = "text" in read ? "" : sentenceOf({ status: "invalid", page: file.name, row: read.row, column: 0, sentence: read.sentence });
  const kind = /\.json$/i.test(file.name) ? WORKS : (likelyKinds(file.name, text)[0] ?? "");
  return { name: file.name, text, kind, visit: "", gear: "", siteFrame: false, rows: Math.max(0, text.trim().split(/\r\n|\r|\n/).length - 1), fault };
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

async function takeScanIn(w: Waiting, scan: Scan): Promise<boolean> {
  const units = job.get().site?.units ?? "metric";
  const typed = scan.tolerance.trim() ? readLength(scan.tolerance, units === "imperial" ? "ft" : "mm") : null;
  if (typed && "fault" in typed) {
    replaceNamed(w.name, (s) => ({ ...s, fault: typed.fault }));
    return false;
  }
  const mark = (part: string) => replaceNamed(w.name, (s) => (s.scan ? { ...s, scan: { ...s.scan, part } } : s));
  mark("sending");
  const args = { ...(typed ? { tolerance: typed.metres } : {}), ...(scan.unit ? { unit: scan.unit } : {}), ...(scan.findGround ? { "find-ground": true } : {}), ...(w.visit ? { visit: w.visit } : {}) };
  const end = await takeScan(scan.file, args, (share) => mark(share < 1 ? `sending, ${Math.floor(100 * share)} %` : "thinning"));
  if ("fault" in end) replaceNamed(w.name, (s) => ({ ...s, fault: end.fault, ...(s.scan ? { scan: { ...s.scan, part: "" } } : {}) }));
  else job.set({ said: scanTold(w.name, end.taken, units) });
  return !("fault" in end);
}

const scanTold = (name: string, t: Cloud, units: Units) =>
  `${name}: ${t.points_kept} of ${t.points_read} points kept; the surface is off the scan by ${t.largest_error_m === null ? "an unknown amount" : say("small", t.largest_error_m, units)} at most`;

async function takeIn(w: Waiting): Promise<boolean> {
  if (w.scan) return takeScanIn(w, w.scan);
  if (w.kind === WORKS) return change("works", { text: w.text, name: w.name }, `Took in ${w.name} as works`, true);
  const args = { page: w.kind, name: w.name, text: w.text, ...(w.visit ? { visit: w.visit } : {}), ...(w.gear ? { gear: w.gear } : {}), ...(w.siteFrame ? { frame: "site" } : {}) };
  return change("import", args, `Took in ${w.name} as ${w.kind}`, true);
}

const without = (w: Waiting) => waiting.set({ files: waiting.get().files.filter((x) => x.name !== w.name) });
const replaceNamed = (name: string, by: (w: Waiting) => Waiting) => waiting.set({ files: waiting.get().files.map((x) => (x.name === name ? by(x) : x)) });
const replace = (w: Waiting, patch: Partial<Waiting>) => replaceNamed(w.name, (x) => ({ ...x, ...patch }));

async function takeAll(): Promise<void> {
  for (const w of [...waiting.get().files]) {
    if (!w.kind || w.fault || !(await takeIn(w))) return; /* the rest waits until this one is mended or left out */
    without(w);
  }
}

const hasPlan = (kind: string) => /points|stakes|built/.test(kind);

function WaitingScan({ w, scan }: { w: Waiting; scan: Scan }) {
  const units = useStore(job, (s) => s.site?.units) ?? "metric";
  const put = (patch: Partial<Scan>) => replaceNamed(w.name, (x) => ({ ...x, fault: "", scan: { ...scan, ...patch } }));
  return (
    <li class="waiting">
      <p><b>{w.name}</b> <span class="aside" role="status">{scan.part || `a scan of ${fixed(Math.max(0.1, scan.file.size / 2 ** 20), 1)} MB: its surface comes in thinned`}</span></p>
      {w.fault && <p class="fault" role="alert">! {w.fault}</p>}
      <div class="pair">
        <label>unit <select value={scan.unit} disabled={!!scan.part} onChange={(e) => put({ unit: e.currentTarget.value })}><option value="">as the file says</option><option value="m">m</option><option value="ft">ft</option><option value="ftus">US survey ft</option></select></label>
        <label>off by at most <input inputMode="decimal" value={scan.tolerance} placeholder={units === "imperial" ? "0.16 ft" : "50 mm"} disabled={!!scan.part} onInput={(e) => put({ tolerance: e.currentTarget.value })} /></label>
        <label>visit <input list="visit-names" value={w.visit} placeholder="as the file says" disabled={!!scan.part} onInput={(e) => { const visit = e.currentTarget.value; replaceNamed(w.name, (x) => ({ ...x, visit })); }} /></label>
        <label class="tick"><input type="checkbox" checked={scan.findGround} disabled={!!scan.part} onChange={(e) => put({ findGround: e.currentTarget.checked })} /> find the bare ground</label>
        <button class="plain" disabled={!!scan.part} onClick={() => without(w)}>leave out</button>
      </div>
    </li>
  );
}

function WaitingFile({ w }: { w: Waiting }) {
  const visits = useStore(job, (s) => s.site?.visits) ?? [];
  const gear = useStore(job, (s) => s.results.gear?.gear) ?? [];
  return (
    <li class="waiting">
      <p><b>{w.name}</b> {!w.fault && <span class="aside">{w.kind ? `${w.rows} rows` : w.text ? "Its columns fit no page; choose what it is." : "It is empty; choose what it should be."}</span>}</p>
      {w.fault && <p class="fault" role="alert">! {w.fault}</p>}
      <div class="pair">
        {!w.fault && <label>is <select value={w.kind} onChange={(e) => replace(w, { kind: e.currentTarget.value })}><option value="" disabled>choose</option>{[...PAGE_KINDS, WORKS].map((k) => <option key={k}>{k}</option>)}</select></label>}
        {!w.fault && w.kind !== WORKS && w.kind !== "features" && w.kind !== "prices" && <label>visit <input list="visit-names" value={w.visit} placeholder="as the page says" onInput={(e) => replace(w, { visit: e.currentTarget.value })} /></label>}
        {!w.fault && /tape|angles|levels|points|legs|bearings|gnss|offsets/.test(w.kind) && <label>gear <select value={w.gear} onChange={(e) => replace(w, { gear: e.currentTarget.value })}><option value="">usual for it</option>{gear.map((g) => <option key={g.name}>{g.name}</option>)}</select></label>}
        {!w.fault && hasPlan(w.kind) && w.kind === "points" && <label class="tick"><input type="checkbox" checked={w.siteFrame} onChange={(e) => replace(w, { siteFrame: e.currentTarget.checked })} /> already in the site's frame</label>}
        <button class="plain" onClick={() => without(w)}>leave out</button>
      </div>
      <datalist id="visit-names">{visits.map((v) => <option key={v} value={v} />)}</datalist>
    </li>
  );
}

/** Any page, written as its rows: for what the keypad does not ask for, and for a table that lies on the clipboard. */
function WritePage() {
  const [open, setOpen] = useState(false);
  const [kind, setKind] = useState("control");
  const [text, setText] = useState("");
  const header = headerOf(kind);
  const read = (event: Event) => {
    event.preventDefault();
    const body = text.trim().includes("\n") || likelyKinds("", text).length ? text : `${header}\n${text}`;
    void takeFiles([new File([body], `${kind}-typed-${new Date().toISOString().slice(0, 10)}.csv`)]).then(() => setOpen(false));
  };
  const choose = (next: string) => {
    if (!text.trim() || text.trim() === header) setText(`${headerOf(next)}\n`);
    setKind(next);
  };
  return (
    <>
      <button class="plain" aria-expanded={open} onClick={() => { setOpen(!open); if (!text) setText(`${header}\n`); }}>write a whole page</button>
      {open && (
        <form onSubmit={read}>
          <label class="wide">A page of <select value={kind} onChange={(e) => choose(e.currentTarget.value)}>{PAGE_KINDS.map((k) => <option key={k}>{k}</option>)}</select></label>
          <label class="as-text">Columns first, then a row a line <textarea rows={6} spellcheck={false} value={text} onInput={(e) => setText(e.currentTarget.value)} /></label>
          <button class="wide-key" disabled={text.trim().split("\n").length < 2}>Read it</button>
        </form>
      )}
    </>
  );
}

export function TakeIn() {
  const files = useStore(waiting, (s) => s.files);
  const [busy, setBusy] = useState(false);
  return (
    <div class="take-in">
      <label class="drop">
        <input type="file" multiple accept=".csv,.txt,.json,text/csv,.las,.xyz,.pts,.asc,.grd,.tif,.tiff" onChange={(e) => { if (e.currentTarget.files) void takeFiles(e.currentTarget.files); e.currentTarget.value = ""; }} />
        <span>Choose field pages</span> <span class="aside">or drop them anywhere on the page: tape, levels, angles, points, features, stakes, built, prices; a scan as LAS, XYZ or grid</span>
      </label>
      <WritePage />
      {files.length > 0 && (
        <>
          <ul>{files.map((w) => (w.scan ? <WaitingScan key={w.name} w={w} scan={w.scan} /> : <WaitingFile key={w.name} w={w} />))}</ul>
          <button class="wide-key strong" disabled={busy || files.some((w) => !w.kind || w.fault)} onClick={() => { setBusy(true); void takeAll().finally(() => setBusy(false)); }}>{busy ? "Taking in\u2026" : files.length === 1 ? "Take it in" : `Take all ${files.length} in`}</button>
        </>
      )}
    </div>
  );
}
