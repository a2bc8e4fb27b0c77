// What leaves the job: sheets to scale and files that others open, each written when it is asked for.
import { useState } from "preact/hooks";
import { downloadAddress } from "../api/client";
import type { Failure } from "../api/types";
import { job } from "../job";
import { useStore } from "../store";
import { csvField } from "./records";
import { saveAs } from "./save";
import type { Units } from "../units";

interface Output { word: string; about: string; operation: string; name: string; args: object }

const FILES: readonly Output[] = [
  { word: "DXF", about: "for any drawing program", operation: "export", name: "site.dxf", args: { to: "dxf" } },
  { word: "LandXML", about: "the ground as triangles", operation: "export", name: "ground.xml", args: { to: "landxml" } },
  { word: "GeoJSON", about: "features and points", operation: "export", name: "site.geojson", args: { to: "geojson" } },
  { word: "CSV", about: "points with their errors", operation: "export", name: "points.csv", args: { to: "csv" } },
  { word: "Spreadsheet", about: "quantities and estimate", operation: "export", name: "estimate.xlsx", args: { to: "xlsx" } },
  { word: "GPX", about: "points for a hand-held", operation: "export", name: "points.gpx", args: { to: "gpx" } },
];

const csv = (rows: readonly (readonly (string | number | null | undefined)[])[]): string => rows.map((row) => row.map((cell) => csvField(typeof cell === "number" ? String(Number(cell.toFixed(4))) : (cell ?? ""))).join(",")).join("\r\n") + "\r\n";

function setoutList(): string | null {
  const sheet = job.get().results.setout;
  if (!sheet) return null;
  const head = ["stake", "code", "easting (m)", "northing (m)", "design level (m)", "ground (m)", "cut + fill - (m)", "tie 1 from", "tie 1 (m)", "tie 2 from", "tie 2 (m)", "check from", "check (m)", "at", "backsight", "circle (deg)", "distance (m)", "caution"];
  const order = new Map(sheet.order.map((name, i) => [name, i]));
  const stakes = [...sheet.stakes].sort((a, b) => (order.get(a.stake) ?? 0) - (order.get(b.stake) ?? 0));
  return csv([head, ...stakes.map((s) => {
    const ties = [0, 1, 2].flatMap((i) => [s.methods.ties?.[i]?.from, s.methods.ties?.[i]?.distance_m]);
    const p = s.methods.polar;
    return [s.stake, s.code, s.easting_m, s.northing_m, s.elevation_m, s.ground_m, s.cut_m, ...ties, p?.at, p?.backsight, p?.circle_deg, p?.distance_m, s.caution];
  })]);
}

function checkList(): string | null {
  const proof = job.get().results.verify;
  if (!proof) return null;
  return csv([["point", "stake", "east off (m)", "north off (m)", "level off (m)", "off in plan (m)", "tolerance (m)", "sd (m)", "verdict", "sentence"], ...proof.checks.map((c) => [c.point, c.stake, c.de_m, c.dn_m, c.dz_m, c.distance_m, c.tolerance_m, c.sd_m, c.verdict, c.sentence])]);
}

async function fetchFile(output: Output): Promise<string> {
  let response: Response;
  try {
    response = await fetch(downloadAddress(output.operation, output.name, output.args));
  } catch {
    return "The server is away; start it again and ask once more.";
  }
  if (!response.ok) {
    const body = (await response.json().catch(() => null)) as { error?: Failure } | null;
    return body?.error?.sentence ?? "The file could not be written.";
  }
  return saveAs(output.name, await response.blob());
}

const PAPERS = ["A4", "A3", "A2", "A1", "letter", "tabloid"];
const SCALES = { metric: [0, 50, 100, 200, 250, 500], imperial: [0, 60, 120, 240, 360, 480, 600] };
const scaleWords = (scale: number, units: Units) => !scale ? "largest that fits" : units === "imperial" ? `1 in = ${scale / 12} ft` : `1:${scale}`;
const LOOKS = [["none", "white"], ["shade", "lit from the north-west"], ["slopes", "by bands of slope"], ["levels", "tinted by level"], ["doubt", "where it is unsure"]];

export function HandOver() {
  const busyAt = useStore(job, (s) => s.site === null);
  const [said, setSaid] = useState("");
  const [busy, setBusy] = useState("");
  const [paper, setPaper] = useState("A3");
  const [scale, setScale] = useState(0);
  const [ground, setGround] = useState("none");
  const units: Units = useStore(job, (s) => s.site?.units ?? "metric");
  const look = { paper, ...(scale ? { scale } : {}), ...(ground === "none" ? {} : { ground }) };
  const ask = (output: Output) => {
    setBusy(output.word);
    setSaid("");
    void fetchFile(output).then(setSaid).finally(() => setBusy(""));
  };
  const sheetOf = (kind: string, word: string, about: string, name: string, sheet: string): Output => ({ word, about, operation: "draw", name: `${name}.${kind}`, args: { sheet, ...look } });
  const sheets = [sheetOf("pdf", "Plan, PDF", "to print", "plan", "plan"), sheetOf("svg", "Plan, SVG", "to draw on", "plan", "plan"), sheetOf("png", "Plan, PNG", "to send", "plan", "plan")];
  const staked: Output = { word: "Plan with stakes, PDF", about: "to set out by", operation: "draw", name: "stakes.pdf", args: { stakes: true, ...look } };
  const lists: readonly [string, string, string, () => string | null][] = [["Set-out list", "ties, angles, cut and fill", "setout.csv", setoutList], ["As-built check", "verdicts with their errors", "as-built.csv", checkList]];
  const button = (o: Output) => (
    <li key={o.word}><button class="item" disabled={busyAt || !!busy} onClick={() => ask(o)}><span>{o.word} <small>{o.about}</small></span><span class="count">{busy === o.word ? "writing\u2026" : o.name.split(".").pop()}</span></button></li>
  );
  return (
    <section class="hand-over" aria-labelledby="hand-over">
      <h2 id="hand-over">Hand over</h2>
      <div class="pair">
        <label>Paper <select value={paper} onChange={(e) => setPaper(e.currentTarget.value)}>{PAPERS.map((p) => <option key={p}>{p}</option>)}</select></label>
        <label>Scale <select value={scale} onChange={(e) => setScale(Number(e.currentTarget.value))}>{SCALES[units].map((s) => <option key={s} value={s}>{scaleWords(s, units)}</option>)}</select></label>
        <label>Ground <select value={ground} onChange={(e) => setGround(e.currentTarget.value)}>{LOOKS.map(([key, words]) => <option key={key} value={key}>{words}</option>)}</select></label>
      </div>
      <ul class="list">{[...sheets, staked, ...FILES].map(button)}{lists.map(([word, about, name, make]) => (
        <li key={word}><button class="item" onClick={() => { const text = make(); setSaid(text === null ? `There is nothing for ${name} yet.` : saveAs(name, new Blob([text], { type: "text/csv" }))); }}><span>{word} <small>{about}</small></span><span class="count">csv</span></button></li>
      ))}</ul>
      <p role="status" class="quiet">{said}</p>
    </section>
  );
}
