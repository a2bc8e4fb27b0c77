// A figure as the ledger writes it: label, value with its interval, by how much it moved, and the chain behind it.
import { useState } from "preact/hooks";
import { job } from "../job";
import type { Figure as FigureData, Step } from "../figures";
import type { Interval } from "../api/types";
import { marks, seeFigure, type Moved } from "../moved";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { say, write, type Kind } from "../units";

const currencyOf = (): string => job.get().results.estimate?.currency ?? job.get().site?.settings["currency"] ?? "";

export function Amount({ label, kind, value, interval }: { label: string; kind: Kind; value: number; interval?: Interval | undefined }) {
  const units = useStore(job, (s) => s.units);
  const w = write(kind, value, units, interval, currencyOf());
  return (
    <span class="amount-inline">
      {label} <b>{w.text}</b>{w.unit && ` ${w.unit}`}
      {w.low !== undefined && w.low !== w.high && <small> {w.low} to {w.high}</small>}
    </span>
  );
}

const STAGES: Record<Step["stage"], string> = { reading: "read", adjusted: "adjusted", decided: "decided", derived: "follows" };

export function Chain({ steps }: { steps: readonly Step[] }) {
  if (!steps.length) return <p class="chain quiet">Nothing stands behind this figure yet.</p>;
  return (
    <ol class="chain" aria-label="What stands behind it">
      {steps.map((step, i) => (
        <li key={i} class={`stage-${step.stage}`}>
          <span class="stage">{STAGES[step.stage]}</span>
          <span class="what">
            {step.place ? <button class="place" onClick={() => leadTo(step.place!)}>{step.text}</button> : step.text}
            {step.kind && step.value !== undefined && <Amount label="" kind={step.kind} value={step.value} interval={step.interval} />}
          </span>
        </li>
      ))}
    </ol>
  );
}

/** A figure in a list asks for its chain as a headline does. Made when it is asked for. */
export function Why({ of, steps }: { of: string; steps: () => readonly Step[] }) {
  const [open, setOpen] = useState(false);
  return (
    <>
      <button class="plain why" aria-expanded={open} aria-label={`Why? ${of}`} onClick={() => setOpen(!open)}>Why?</button>
      {open && <Chain steps={steps()} />}
    </>
  );
}

function MovedMark({ figure, mark }: { figure: FigureData; mark: Moved }) {
  const units = useStore(job, (s) => s.units);
  const by = mark.to - mark.from;
  return (
    <button class="moved" onClick={() => seeFigure(figure.key)}>
      <span aria-hidden="true">{by > 0 ? "\u25b2" : "\u25bc"}</span> {say(figure.kind, Math.abs(by), units, currencyOf())} {by > 0 ? "more" : "less"} than before <i>seen</i>
    </button>
  );
}

function Written({ figure }: { figure: FigureData }) {
  const units = useStore(job, (s) => s.units);
  if (figure.value === null) return <span class="amount">not known</span>;
  if (figure.kind === "small") return <span class="amount"><b>&plusmn;{say("small", figure.value, units)}</b><small>{figure.words}, 95 %</small></span>;
  /* A word that carries the sign stands instead of the minus, unless the interval leaves the sign open. */
  const turned = figure.sign && figure.value < 0 && (!figure.interval || figure.interval[1] <= 0);
  const w = turned ? write(figure.kind, -figure.value, units, figure.interval && [-figure.interval[1], -figure.interval[0]], currencyOf()) : write(figure.kind, figure.value, units, figure.interval, currencyOf());
  return (
    <span class="amount">
      <span class="main">{figure.sign && <i class="sign-word">{figure.sign}</i>}<b>{w.text}</b>{w.unit && <span class="unit">{w.unit}</span>}</span>
      {w.low !== undefined && <small>{w.low} to {w.high}</small>}
      {figure.words && <small class="said">{figure.words}</small>}
    </span>
  );
}

export function FigureRow({ figure }: { figure: FigureData }) {
  const open = useStore(job, (s) => s.why === figure.key);
  const mark = useStore(marks, (s) => s.moved[figure.key]);
  const ask = () => {
    job.set({ why: open ? null : figure.key });
    const place = figure.places?.[0];
    if (!open && place) leadTo(place);
  };
  return (
    <div class={`figure${mark ? " has-moved" : ""}`}>
      <button class="row" aria-expanded={open} onClick={ask}>
        <span class="label">{figure.label} <span class="ask">Why?</span></span>
        <Written figure={figure} />
      </button>
      {mark && <MovedMark figure={figure} mark={mark} />}
      {open && <Chain steps={figure.why?.() ?? []} />}
    </div>
  );
}
