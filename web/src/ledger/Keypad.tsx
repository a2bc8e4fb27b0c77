// Keys for a gloved thumb. The field takes a keyboard as well; on a phone its own keyboard stays away.
import { useRef } from "preact/hooks";
import type { Units } from "../units";

interface Key { label: string; insert?: string; act?: "back" | "clear"; said?: string }
const digit = (label: string): Key => ({ label, insert: label });
const BACK: Key = { label: "\u232b", act: "back", said: "Take the last figure back" };

const METRIC: readonly Key[] = [..."789"].map(digit).concat([BACK], [..."456"].map(digit), [{ label: "mm", insert: "mm", said: "millimetres" }], [..."123"].map(digit), [{ label: "m", insert: "m", said: "metres" }], [{ label: ".", insert: ".", said: "point" }, digit("0"), { label: "\u2212", insert: "-", said: "minus" }, { label: "C", act: "clear", said: "Clear" }]);
const IMPERIAL: readonly Key[] = [..."789"].map(digit).concat([BACK], [..."456"].map(digit), [{ label: "ft \u2032", insert: "'", said: "feet" }], [..."123"].map(digit), [{ label: "in \u2033", insert: '"', said: "inches" }], [{ label: ".", insert: ".", said: "point" }, digit("0"), { label: "\u2044", insert: "/", said: "over" }, { label: "space", insert: " " }]);

export interface KeypadProps { label: string; value: string; units: Units; onValue(value: string): void; onDone(): void; invalid?: boolean }

export function Keypad({ label, value, units, onValue, onDone, invalid }: KeypadProps) {
  const field = useRef<HTMLInputElement>(null);
  const press = (key: Key) => {
    if (key.act === "back") onValue(value.slice(0, -1));
    else if (key.act === "clear") onValue("");
    else onValue(value + key.insert);
    navigator.vibrate?.(8);
  };
  return (
    <div class="keypad">
      <label class="reading">
        <span>{label}</span>
        <input ref={field} inputMode="none" autocomplete="off" value={value} aria-invalid={invalid} onInput={(e) => onValue(e.currentTarget.value)} onKeyDown={(e) => { if (e.key === "Enter") { e.preventDefault(); onDone(); } }} />
      </label>
      <div class="keys">
        {(units === "imperial" ? IMPERIAL : METRIC).map((key) => <button type="button" key={key.label} aria-label={key.said ?? key.label} class={key.insert && /\d/.test(key.insert) ? "digit" : "other"} onClick={() => press(key)}>{key.label}</button>)}
      </div>
    </div>
  );
}

/** A name written into the sentence that asks for it. */
export function NameGap({ label, value, asked, onAsk, onValue }: { label: string; value: string; asked: boolean; onAsk(): void; onValue(name: string): void }) {
  return <input class={asked ? "asked" : ""} aria-label={label} placeholder={"\u2026"} autocomplete="off" autocapitalize="characters" spellcheck={false} value={value} onFocus={onAsk} onInput={(e) => onValue(e.currentTarget.value)} />;
}

/** Names to choose from, the likeliest first; any other is typed. */
export function Likely({ label, value, names, onChoose }: { label: string; value: string; names: readonly string[]; onChoose(name: string): void }) {
  return (
    <div class="likely" role="group" aria-label={`${label}: likely names`}>
      {names.map((name) => <button type="button" key={name} aria-pressed={name === value} onClick={() => onChoose(name)}>{name}</button>)}
    </div>
  );
}
