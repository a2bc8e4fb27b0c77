// Price: what to buy, as a merchant sells it, at the contractor's own rates.
import { useState } from "preact/hooks";
import type { Page, TakeoffLine } from "../api/types";
import { hasPage, placeOfSource, type Step } from "../figures";
import { change, job, type Place } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { decimalsFor, fixed, money } from "../units";
import { Part } from "./Chapter";
import { Why } from "./Figure";
import { withRate } from "./rate";
import { TakeIn } from "./TakeIn";

const newestPrices = (): Page | undefined => [...(job.get().site?.pages ?? [])].reverse().find((p) => p.kind === "prices");

function Rate({ line, currency }: { line: TakeoffLine; currency: string }) {
  const page = newestPrices();
  const shown = line.rate === null || line.rate === undefined ? "" : (line.rate / 100).toFixed(2);
  const [text, setText] = useState(shown);
  const keep = () => {
    if (text === shown || !page || !/^\d*(\.\d{0,2})?$/.test(text)) return;
    const next = withRate(page, line.item, text);
    if (!next) job.set({ said: `${page.name} has no rate for ${line.item} to change.` });
    else void change("import", { page: "prices", name: `prices-${job.get().revision + 1}.csv`, text: next }, `Rate of ${line.item}: ${text}`);
  };
  if (!page) return <>{shown ? money(line.rate ?? 0, currency, 2) : "no rate"}</>;
  return <input class="rate" inputMode="decimal" aria-label={`Rate of ${line.item} per ${line.unit}`} value={text} placeholder="rate" onInput={(e) => setText(e.currentTarget.value)} onBlur={keep} onKeyDown={(e) => { if (e.key === "Enter") keep(); }} />;
}

function bandOf({ interval: [low, high] }: TakeoffLine): string {
  const decimals = decimalsFor((high - low) / 2, 2);
  return high - low < 0.005 ? "counted" : `${fixed(low, decimals)} to ${fixed(high, decimals)}`;
}

function amountBand({ amount_interval: band }: TakeoffLine, currency: string) {
  return band && band[1] - band[0] >= 100 ? <small>{money(band[0], currency)} to {money(band[1], currency)}</small> : null;
}

function buying(line: TakeoffLine): string {
  const net = `${fixed(line.net, 2)} ${line.unit} net`;
  const waste = line.waste_percent ? ` + ${fixed(line.waste_percent, 0)} % = ${fixed(line.gross, 2)}` : "";
  const packs = line.packs ? `; ${line.packs} \u00d7 ${line.pack_unit || "pack"}, ${fixed(line.spare ?? 0, 2)} ${line.unit} spare` : "";
  return net + waste + packs;
}

/** From where it was measured to what it costs. */
function lineSteps(line: TakeoffLine, sources: readonly { name: string; place: Place }[]): Step[] {
  const priced = line.amount !== null && line.amount !== undefined;
  return [
    ...sources.map((s): Step => ({ stage: "adjusted", text: `Taken from ${s.name}`, place: s.place })),
    { stage: "derived", text: `Net, ${line.unit}: ${fixed(line.net, 2)} (${bandOf(line)})` },
    { stage: "decided", text: line.packs ? `${fixed(line.waste_percent, 0)} % waste, whole packs: ${line.packs} \u00d7 ${line.pack_unit || "pack"}` : `${fixed(line.waste_percent, 0)} % waste` },
    { stage: "decided", text: line.rate === null || line.rate === undefined ? "No rate in the price list" : `Your rate in ${newestPrices()?.name ?? "the price list"}`, ...(line.rate === null || line.rate === undefined ? {} : { kind: "money" as const, value: line.rate }) },
    ...(priced ? [{ stage: "derived" as const, text: line.item, kind: "money" as const, value: line.amount ?? 0, interval: line.amount_interval }] : []),
  ];
}

function Line({ line, currency }: { line: TakeoffLine; currency: string }) {
  const sources = line.source.flatMap((name) => { const place = placeOfSource(job.get(), name); return place ? [{ name, place }] : []; });
  return (
    <li class="bill-line">
      <p class="top"><b>{line.item}</b><span class="money">{line.amount === null || line.amount === undefined ? "not in the total" : money(line.amount, currency)}{amountBand(line, currency)}</span></p>
      <p class="quiet">{buying(line)} <span class="band">({bandOf(line)})</span></p>
      <div class="acts"><label>at <Rate line={line} currency={currency} /> per {line.unit}</label>{sources.slice(0, 4).map((s) => <button key={s.name} class="place" onClick={() => leadTo(s.place)}>{s.name}</button>)}</div>
      <Why of={line.item} steps={() => lineSteps(line, sources)} />
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
          {(e.cautions ?? []).map((c) => <p class="quiet" key={c}>{c}</p>)}
          <p class="quiet">Quantities are net in place; waste, packs and loads are added as they are bought. Overhead, markup and tax are yours to add.</p>
        </Part>
      ) : (
        <Part title="A price list"><TakeIn /></Part>
      )}
    </>
  );
}
