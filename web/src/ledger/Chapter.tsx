// A chapter of the ledger: closed, its headline figures and one sentence; open, it unfolds in place.
import type { ComponentChildren } from "preact";
import type { OperationName } from "../api/client";
import { figuresOf, stateOf } from "../figures";
import { job, openChapter, type Chapter as Name } from "../job";
import { useParts } from "../store";
import { FigureRow } from "./Figure";

const SIGNS = { calm: "\u2713", look: "!", empty: "\u2013" } as const;
const SIGN_WORDS = { calm: "in order", look: "wants a look", empty: "nothing yet" } as const;
const WORK: Record<Name, readonly OperationName[]> = { Field: ["site", "import"], Trust: ["adjust"], Ground: ["ground", "contours"], Levels: ["volume", "drain"], Earth: ["volume"], Price: ["estimate"], Stakes: ["setout"], Proof: ["verify"] };

/** A chapter's figures hang on these alone; a thumb on the level slider does not redraw the book. */
const LOOKED_AT = ["site", "results", "failures", "kept", "slow", "chapter"] as const;

export function Chapter({ name, children }: { name: Name; children: ComponentChildren }) {
  const state = useParts(job, LOOKED_AT);
  const open = state.chapter === name;
  const { mood, sentence } = stateOf(name, state);
  const busy = WORK[name].some((operation) => state.slow.includes(operation));
  return (
    <section class={`chapter${open ? " open" : ""}`} aria-labelledby={`chapter-${name}`}>
      <h2 id={`chapter-${name}`}>
        <button aria-expanded={open} aria-controls={`inside-${name}`} onClick={() => openChapter(open ? null : name)}>
          <span class={`sign ${mood}`} title={SIGN_WORDS[mood]}><span aria-hidden="true">{SIGNS[mood]}</span><span class="hidden">{SIGN_WORDS[mood]}</span></span>
          <span class="name">{name}</span>
          <span class="turn" aria-hidden="true">{open ? "close" : "open"}</span>
        </button>
      </h2>
      <p class="state">{busy ? <span role="status" class="busy">Working it out&hellip;</span> : sentence}</p>
      {figuresOf(name)(state).map((figure) => <FigureRow key={figure.key} figure={figure} />)}
      {open && <div class="inside" id={`inside-${name}`}>{children}</div>}
    </section>
  );
}

/** A part of an open chapter. */
export function Part({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <div class="part">
      <h3>{title}</h3>
      {children}
    </div>
  );
}
