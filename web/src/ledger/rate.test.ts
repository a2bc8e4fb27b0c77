// A changed rate leaves the rest of the list as it was written.
import { expect, it } from "vitest";
import { withRate } from "./rate";

const row = (record: string, i: number) => ({ id: i, line: i + 2, record, cells: [], set_aside: null });
const page = (header: string, ...records: string[]) => ({ header, rows: records.map(row) });

it("keeps remarks and columns of one's own", () => {
  const list = page("item,unit,rate,remark,supplier", 'Turf laid,m2,6.80,"by hand, in spring",the yard', "Mulch,m3,71.00,,");
  expect(withRate(list, "Turf laid", "7.25")).toBe('item,unit,rate,remark,supplier\nTurf laid,m2,7.25,"by hand, in spring",the yard\nMulch,m3,71.00,,\n');
});
it("writes a rate into a row that ends before it", () => {
  expect(withRate(page("item,unit,rate (EUR)", "Turf,m2"), "Turf", "5")).toBe("item,unit,rate (EUR)\nTurf,m2,5\n");
});
it("changes nothing when there is no such column", () => {
  expect(withRate(page("item,unit", "Turf,m2"), "Turf", "5")).toBeNull();
});
