// Headers as in the contract of field pages.
import { expect, it } from "vitest";
import { likelyKinds } from "./pages";

it("tells a page by its header, and equals by the file's name", () => {
  expect(likelyKinds("a.csv", "from,to,distance (m),slope\n")[0]).toBe("tape");
  expect(likelyKinds("b.csv", "\uFEFFpoint,backsight (m),intermediate (m),foresight (m),remark\n")[0]).toBe("levels");
  expect(likelyKinds("stakes.csv", "stake,easting (m),northing (m),elevation (m),code\n")[0]).toBe("stakes");
  expect(likelyKinds("built.csv", "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n")[0]).toBe("built");
  expect(likelyKinds("control.csv", "point,easting (m),northing (m),elevation (m)\n")[0]).toBe("control");
  expect(likelyKinds("x.bin", "\u0000\u0001,foo\n")).toEqual([]);
});
