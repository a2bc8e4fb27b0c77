// What leaves the job: sheets to scale and files that others open, each written when it is asked for.
import { useState } from "preact/hooks";
import { downloadAddress } from "../api/client";
import type { Failure } from "../api/types";
import { job } from "../job";
import { useStore } from "../store";

interface Output { word: string; about: string; operation: string; name: string; args: object }

const FILES: readonly Output[] = [
  { word: "DXF", about: "for any drawing program", operation: "export", name: "site.dxf", args: { to: "dxf" } },
  { word: "LandXML", about: "the ground as triangles", operation: "export", name: "ground.xml", args: { to: "landxml" } },
  { word: "GeoJSON", about: "features and points", operation: "export", name: "site.geojson", args: { to: "geojson" } },
  { word: "CSV", about: "points with their errors", operation: "export", name: "points.csv", args: { to: "csv" } },
  { word: "Spreadsheet", about: "quantities and estimate", operation: "export", name: "estimate.xlsx", args: { to: "xlsx" } },
  { word: "GPX", about: "points for a hand-held", operation: "export", name: "points.gpx", args: { to: "gpx" } },
];

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
  const link = document.createElement("a");
  link.href = URL.createObjectURL(await response.blob());
  link.download = output.name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  return `${output.name} is in your downloads.`;
}

const PAPERS = ["A4", "A3", "A2", "A1", "letter", "tabloid"];
const SCALES = [0, 50, 100, 200, 250, 500];

export function HandOver() {
  const busyAt = useStore(job, (s) => s.site === null);
  const [said, setSaid] = useState("");
  const [busy, setBusy] = useState("");
  const [paper, setPaper] = useState("A3");
  const [scale, setScale] = useState(0);
  const ask = (output: Output) => {
    setBusy(output.word);
    setSaid("");
    void fetchFile(output).then(setSaid).finally(() => setBusy(""));
  };
  const sheetOf = (kind: string, word: string, about: string, name: string, sheet: string): Output => ({ word, about, operation: "draw", name: `${name}.${kind}`, args: { sheet, paper, ...(scale ? { scale } : {}) } });
  const sheets = [sheetOf("pdf", "Plan, PDF", "to print", "plan", "plan"), sheetOf("svg", "Plan, SVG", "to draw on", "plan", "plan"), sheetOf("png", "Plan, PNG", "to send", "plan", "plan")];
  const stakes: Output = { word: "Set-out sheet", about: "ties, angles, cut and fill", operation: "draw", name: "setout.pdf", args: { sheet: "setout", paper, ...(scale ? { scale } : {}) } };
  const button = (o: Output) => (
    <li key={o.word}><button class="item" disabled={busyAt || !!busy} onClick={() => ask(o)}><span>{o.word} <small>{o.about}</small></span><span class="count">{busy === o.word ? "writing\u2026" : o.name.split(".").pop()}</span></button></li>
  );
  return (
    <section class="hand-over" aria-labelledby="hand-over">
      <h2 id="hand-over">Hand over</h2>
      <div class="pair">
        <label>Paper <select value={paper} onChange={(e) => setPaper(e.currentTarget.value)}>{PAPERS.map((p) => <option key={p}>{p}</option>)}</select></label>
        <label>Scale <select value={scale} onChange={(e) => setScale(Number(e.currentTarget.value))}>{SCALES.map((s) => <option key={s} value={s}>{s ? `1:${s}` : "largest that fits"}</option>)}</select></label>
      </div>
      <ul class="list">{[...sheets, stakes, ...FILES].map(button)}</ul>
      <p role="status" class="quiet">{said}</p>
    </section>
  );
}
