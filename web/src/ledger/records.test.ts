// Columns and quoting: RFC 4180 and the contract of field pages.
import { expect, it } from "vitest";
import { csvCells, csvField, nextName, pageNameFor, recordFor } from "./records";

it("writes a row under the page's own header and units", () => {
  const cells = { from: { text: "A4" }, to: { text: "gate, left" }, distance: { metres: 12.45 } };
  expect(recordFor("from,to,distance (m),slope,remark", cells)).toEqual({ record: 'A4,"gate, left",12.450,,' });
  expect(recordFor("to,from,distance (mm)", cells)).toEqual({ record: '"gate, left",A4,12450' });
  expect(recordFor("from,to,distance (ft)", { ...cells, distance: { metres: 3.048 } })).toEqual({ record: 'A4,"gate, left",10.0000' });
});
it("says which cell a page has no column for", () => {
  expect(recordFor("from,to", { distance: { metres: 1 } })).toEqual({ missing: "distance" });
});
it("guesses the next name", () => {
  expect(nextName("P6")).toBe("P7");
  expect(nextName("NG09")).toBe("NG10");
  expect(nextName("gate")).toBe("");
  expect(pageNameFor("tape", "day 2")).toBe("tape-day-2.csv");
});
it("reads the cells of a record as RFC 4180 writes them", () => {
  expect(csvCells("")).toEqual([""]);
  expect(csvCells(",b,")).toEqual(["", "b", ""]);
  expect(csvCells('"aaa","b ""bb","ccc, d"')).toEqual(["aaa", 'b "bb', "ccc, d"]);
  const cells = ["gate, left", 'the "old" one', "", "12"];
  expect(csvCells(cells.map(csvField).join(","))).toEqual(cells);
});
