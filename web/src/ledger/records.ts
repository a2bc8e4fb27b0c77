// A typed reading as a row of its field page: cells under the page's own header, lengths in the header's own units.
import { readLength, type Units } from "../units";

const FOOT_M = 0.3048;

export function csvField(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
}

/** The cells of one CSV record (RFC 4180). */
export function csvCells(record: string): string[] {
  const cells = [""];
  let quoted = false;
  const add = (c: string) => { cells[cells.length - 1] += c; };
  for (let i = 0; i < record.length; i++) {
    const c = record[i]!;
    if (quoted && c === '"' && record[i + 1] === '"') add(record[i++]!);
    else if (c === '"') quoted = !quoted;
    else if (c === "," && !quoted) cells.push("");
    else add(c);
  }
  return cells;
}

export interface Cell { text?: string; metres?: number }

function lengthIn(metres: number, unit: string): string {
  if (unit === "mm") return (metres * 1000).toFixed(0);
  if (unit === "ft") return (metres / FOOT_M).toFixed(4);
  return metres.toFixed(4).replace(/0$/, "");
}

/** @return the row, or the name of a cell that this header has no column for. */
export function recordFor(header: string, cells: Readonly<Record<string, Cell>>): { record: string } | { missing: string } {
  const columns = header.replace(/^\uFEFF/, "").split(",").map((c) => /^"?([^("]*?)\s*(?:\(([^)]*)\))?"?$/.exec(c.trim()));
  const known = new Set(columns.map((c) => c?.[1]));
  const missing = Object.keys(cells).find((name) => !known.has(name));
  if (missing) return { missing };
  const row = columns.map((c) => {
    const cell = cells[c?.[1] ?? ""];
    return cell?.metres !== undefined ? lengthIn(cell.metres, c?.[2] ?? "m") : csvField(cell?.text ?? "");
  });
  return { record: row.join(",") };
}

export const HEADERS: Record<"tape" | "levels", string> = {
  tape: "from,to,distance (m),slope",
  levels: "point,backsight (m),intermediate (m),foresight (m)",
};

/** The name that probably comes next: P7 after P6, A4 after A3. */
export function nextName(name: string): string {
  const m = /^(.*?)(\d+)$/.exec(name);
  return m ? `${m[1]}${String(Number(m[2]) + 1).padStart(m[2]!.length, "0")}` : "";
}

export const readTyped = (text: string, units: Units) => readLength(text, units === "imperial" ? "ft" : "m");

export const pageNameFor = (kind: string, visit: string): string => `${kind}-${visit.trim().replace(/[^A-Za-z0-9-]+/g, "-")}.csv`;
