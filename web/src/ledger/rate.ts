// One rate of a price list changed, and nothing else of it.
import type { Page } from "../api/types";
import { csvCells, csvField } from "./records";

/** The price list with one rate changed, as a page of its own: the older list stays in the job. Every other cell, remarks
 * and columns of one's own among them, stays as it was written. @return null when the list has no such item or column */
export function withRate(page: Pick<Page, "header" | "rows">, item: string, rate: string): string | null {
  const columns = csvCells(page.header).map((c) => c.replace(/^\uFEFF/, "").replace(/\(.*\)/, "").trim().toLowerCase());
  const [at, to] = [columns.indexOf("item"), columns.indexOf("rate")];
  if (at < 0 || to < 0) return null;
  const rows = page.rows.filter((row) => row.set_aside === null).map(({ record }) => {
    const cells = csvCells(record);
    if (cells[at]?.trim() !== item) return record;
    return Array.from({ length: Math.max(cells.length, to + 1) }, (_, c) => csvField(c === to ? rate : (cells[c] ?? ""))).join(",");
  });
  return [page.header.replace(/^\uFEFF/, ""), ...rows, ""].join("\n");
}
