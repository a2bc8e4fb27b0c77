// Lengths, levels, areas, volumes and slopes as a contractor reads and types them. Metres inside, other units only here.
export type Units = "metric" | "imperial";
export type Kind = "length" | "level" | "small" | "area" | "volume" | "money" | "count" | "ratio" | "percent";

const FOOT_M = 0.3048;
const SQUARE_FOOT_M2 = FOOT_M ** 2;
const CUBIC_YARD_M3 = (3 * FOOT_M) ** 3;
const MINUS = "\u2212";

/** Decimals that the interval carries: its half width keeps two figures when it begins with 1 or 2, else one. */
export function decimalsFor(halfWidth: number | undefined, most: number, least = 0): number {
  if (halfWidth === undefined || !(halfWidth > 0)) return most;
  const power = Math.floor(Math.log10(halfWidth));
  return Math.max(least, Math.min(most, (halfWidth / 10 ** power < 3 ? 1 : 0) - power));
}

export function fixed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  const [whole = "", fraction] = text.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u2009") : whole;
  const sign = value < 0 && Number(text) !== 0 ? MINUS : "";
  return sign + grouped + (fraction ? `.${fraction}` : "");
}

/** 4'-1 1/4", to the nearest eighth of an inch. */
export function feetInches(metres: number): string {
  const eighths = Math.round((Math.abs(metres) / FOOT_M) * 96);
  const feet = Math.floor(eighths / 96);
  const inches = Math.floor((eighths % 96) / 8);
  let over = eighths % 8;
  let under = 8;
  while (over && over % 2 === 0) [over, under] = [over / 2, under / 2];
  const fraction = over ? ` ${over}/${under}` : "";
  return `${metres < 0 && eighths ? MINUS : ""}${feet}'-${inches}${fraction}"`;
}

/** `bare`: decimals of a figure that has no interval, where they are fewer than the most. */
interface Scale { factor: number; unit: string; most: number; bare?: number }
function scaleOf(kind: Kind, units: Units): Scale {
  const imperial = units === "imperial";
  switch (kind) {
    case "area": return imperial ? { factor: 1 / SQUARE_FOOT_M2, unit: "ft\u00b2", most: 0 } : { factor: 1, unit: "m\u00b2", most: 2, bare: 1 };
    case "volume": return imperial ? { factor: 1 / CUBIC_YARD_M3, unit: "yd\u00b3", most: 2, bare: 1 } : { factor: 1, unit: "m\u00b3", most: 2, bare: 1 };
    case "level": return imperial ? { factor: 1 / FOOT_M, unit: "ft", most: 2 } : { factor: 1, unit: "m", most: 3 };
    case "length": return imperial ? { factor: 1 / FOOT_M, unit: "ft", most: 2 } : { factor: 1, unit: "m", most: 3 };
    case "small": return imperial ? { factor: 12 / FOOT_M, unit: "in", most: 2 } : { factor: 1000, unit: "mm", most: 0 };
    case "percent": return { factor: 1, unit: "%", most: 2 };
    case "ratio": return { factor: 1, unit: "", most: 2 };
    case "money":
    case "count": return { factor: 1, unit: "", most: 0 };
  }
}

export interface Written { text: string; unit: string; low?: string; high?: string }
const SYMBOLS: Record<string, string> = { GBP: "\u00a3", EUR: "\u20ac", USD: "$" };

/** Money arrives in minor units; whole units are what anybody bids. */
export function money(minor: number, currency: string, decimals = 0): string {
  const symbol = SYMBOLS[currency];
  const text = fixed(Math.abs(minor) / 100, decimals);
  return `${minor < 0 ? MINUS : ""}${symbol ?? ""}${text}${symbol || !currency ? "" : ` ${currency}`}`;
}

export function write(kind: Kind, value: number, units: Units, interval?: readonly [number, number], currency = ""): Written {
  if (kind === "money") {
    const w: Written = { text: money(value, currency), unit: "" };
    return interval ? { ...w, low: money(interval[0], currency), high: money(interval[1], currency) } : w;
  }
  const { factor, unit, most, bare = most } = scaleOf(kind, units);
  const half = interval ? ((interval[1] - interval[0]) / 2) * factor : undefined;
  const decimals = half === undefined ? bare : decimalsFor(half, most, kind === "level" ? Math.min(2, most) : 0);
  const say = (v: number) => fixed(v * factor, decimals);
  const w: Written = { text: say(value), unit };
  return interval ? { ...w, low: say(interval[0]), high: say(interval[1]) } : w;
}

/** Value with its unit, on one line. */
export function say(kind: Kind, value: number, units: Units, currency = ""): string {
  const w = write(kind, value, units, undefined, currency);
  return w.unit ? `${w.text} ${w.unit}` : w.text;
}

/** A measured length in both tongues: "12.450 m" or 40'-10 1/8". */
export function lengthSaid(metres: number, units: Units): string {
  return units === "imperial" ? feetInches(metres) : `${fixed(metres, 3)} m`;
}

/** The same length in the other tongue, for the read-back. */
export function lengthElsewhere(metres: number, units: Units): string {
  return lengthSaid(metres, units === "imperial" ? "metric" : "imperial");
}

const FEET_INCHES = /^(-)?\s*(?:(\d+)\s*'\s*-?\s*)?(?:(\d+(?:\.\d+)?)?(?:\s*(\d+)\/(\d+))?\s*")?$/;
const DECIMAL = /^(-?\d+(?:\.\d*)?|-?\.\d+)\s*(mm|m|ft|')?$/;

export type Typed = { metres: number } | { fault: string };

function readFeetInches(text: string): Typed | null {
  const m = FEET_INCHES.exec(text);
  if (!m || (m[2] === undefined && m[3] === undefined && m[4] === undefined)) return null;
  const [, minus, feet = "0", inches = "0", over = "0", under = "1"] = m;
  const total = Number(inches) + Number(over) / Number(under);
  if (total >= 12 && m[2] !== undefined) return { fault: "Inches go up to 12; carry the rest into feet." };
  return { metres: (minus ? -1 : 1) * (Number(feet) + total / 12) * FOOT_M };
}

/** Reads a length in any form; a bare number is in `bare`. */
export function readLength(text: string, bare: "m" | "mm" | "ft"): Typed {
  const trimmed = text.trim().replace(/\u2032|\u2019/g, "'").replace(/\u2033|\u201d/g, '"').replace(MINUS, "-");
  if (!trimmed) return { fault: "Type a length." };
  const m = DECIMAL.exec(trimmed);
  if (m) {
    const unit = m[2] === "'" ? "ft" : (m[2] ?? bare);
    const factor = unit === "mm" ? 0.001 : unit === "ft" ? FOOT_M : 1;
    return { metres: Number(m[1]) * factor };
  }
  return readFeetInches(trimmed) ?? { fault: `"${text}" is not a length; write 1.25, 1250mm, 4.1ft or 4'-1 1/4".` };
}

/** A slope as rise over run from 1:60, 1.67%, 17mm/m. */
export function readSlope(text: string): number | null {
  const t = text.trim().toLowerCase();
  const ratio = /^1\s*:\s*(\d+(?:\.\d+)?)$/.exec(t);
  if (ratio) return Number(ratio[1]) > 0 ? 1 / Number(ratio[1]) : null;
  const percent = /^(-?\d+(?:\.\d+)?)\s*%?$/.exec(t);
  if (percent) return Number(percent[1]) / 100;
  const each = /^(-?\d+(?:\.\d+)?)\s*mm\s*(?:per|\/)\s*m$/.exec(t);
  return each ? Number(each[1]) / 1000 : null;
}

/** 1:60 = 1.67 % = 17 mm per m. */
export function slopeSaid(slope: number, units: Units): string {
  const s = Math.abs(slope);
  if (s < 1e-6) return "level";
  const each = units === "imperial" ? `${fixed(s * 12, 2)} in per ft` : `${fixed(s * 1000, 0)} mm per m`;
  return `1:${fixed(1 / s, 1 / s < 20 ? 1 : 0)} = ${fixed(s * 100, 2)} % = ${each}`;
}
