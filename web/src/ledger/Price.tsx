// Price: what to buy, as a merchant sells it, at the contractor's own rates.
import { useState } from "preact/hooks";
import type { Page, TakeoffLine } from "../api/types";
import { hasPage } from "../figures";
import { change, job } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { decimalsFor, fixed, money } from "../units";
import { Part } from "./Chapter";
import { csvField } from "./records";
import { TakeIn } from "./TakeIn";

/** The price list with one rate changed, as a page of its own: the older list stays in the job. */
export function withRate(page: Page, item: string, rate: string): string | null {
  const [at, to] = [page.columns.indexOf("item"), page.columns.indexOf("rate")];
  if (at < 0 || to < 0) return null;
  const unitOf = (column: string) => new RegExp(`(?:^|,)"?${column}\\s*\\(([^)]*)\\)`).exec(page.header)?.[1];
  const header = page.columns.map((c) => (unitOf(c) ? `${c} (${unitOf(c)})` : c)).join(",");
  const rows = page.rows.map((row) => page.columns.map((_, c) => csvField(c === to && row.cells[at] === item ? rate : (row.cells[c] ?? ""))).join(","));
  return [header, ...rows, ""].join("\n");
}

const newestPrices = (): Page | undefined => [...(job.get().site?.pages ?? [])].reverse().find((p) => p.kind === "prices");

function Rate({ line, currency }: { line: TakeoffLine; currency: string }) {
  const page = newestPrices();
  const shown = line.rate === null || line.rate === undefined ? "" : (line.rate / 100).toFixed(2);
  const [text, setText] = useState(shown);
  const keep = () => {
    if (text === shown || !page || !/^\d*(\.\d{0,2})?$/.test(text)) return;
    const next = withRate(page, line.item, text);
    if (next) void change("import", { page: "prices", name: `prices-${job.get().revision + 1}.csv`, text: next }, `Rate of ${line.item}: ${text}`);
  };
  if (!page) return <>{shown ? money(line.rate ?? 0, currency, 2) : "no rate"}</>;
  return <input class="rate" inputMode="decimal" aria-label={`Rate of ${line.item} per ${line.unit}`} value={text} placeholder="rate" onInput={(e) => setText(e.currentTarget.value)} onBlur={keep} onKeyDown={(e) => { if (e.key === "Enter") keep(); }} />;
}

function bandOf({ interval: [low, high] }: TakeoffLine): string {
  const decimals = decimalsFor((high - low) / 2, 2);
  return high - low < 0.005 ? "counted" : `${fixed(low, decimals)} to ${fixed(high, decimals)}`;
}

function buying(line: TakeoffLine): string {
  const net = `${fixed(line.net, 2)} ${line.unit} net`;
  const waste = line.waste_percent ? ` + ${fixed(line.waste_percent, 0)} % = ${fixed(line.gross, 2)}` : "";
  const packs = line.packs ? `; ${line.packs} \u00d7 ${line.pack_unit || "pack"}, ${fixed(line.spare ?? 0, 2)} ${line.unit} spare` : "";
  return net + waste + packs;
}

function Line({ line, currency }: { line: TakeoffLine; currency: string }) {
  const features = job.get().site?.features ?? [];
  const works = job.get().site?.works ?? [];
  const placeOf = (name: string) => features.find((f) => f.name === name)?.name ?? works.find((w) => w.name === name)?.definition.in;
  const sources = line.source.flatMap((s) => { const place = placeOf(s); return place ? [{ name: s, place }] : []; });
  return (
    <li class="bill-line">
      <p class="top"><b>{line.item}</b><span class="money">{line.amount === null || line.amount === undefined ? "not in the total" : money(line.amount, currency)}</span></p>
      <p class="quiet">{buying(line)} <span class="band">({bandOf(line)})</span></p>
      <div class="acts"><label>at <Rate line={line} currency={currency} /> per {line.unit}</label>{sources.slice(0, 4).map((s) => <button key={s.name} class="place" onClick={() => leadTo({ type: "feature", name: s.place })}>{s.name}</button>)}</div>
    </li>
  );
}

export function Price() {
  const e = useStore(job, (s) => s.results.estimate);
  const failure = useStore(job, (s) => s.failures.estimate);
  const currency = e?.currency ?? "";
  return (
    <>
      {failure && hasPage(job.get(), "prices") && <p class="quiet">{failure.sentence}</p>}
      {e && e.lines.length > 0 ? (
        <Part title="Quantities and rates">
          <ul class="bill">{e.lines.map((line) => <Line key={line.item} line={line} currency={currency} />)}</ul>
          {(e.warnings ?? []).map((w) => <p class="fault" key={w}>! {w}</p>)}
          <p class="quiet">Quantities are net in place; waste, packs and loads are added as they are bought. Overhead, markup and tax are yours to add.</p>
        </Part>
      ) : (
        <Part title="A price list"><TakeIn /></Part>
      )}
    </>
  );
}
