import { expect, test } from "vitest";
import { KINDS, beginWork, readWork, workText } from "./kinds";

test("each kind's beginning survives being written as text and read again", () => {
  for (const kind of KINDS) {
    const begun = beginWork(kind, "lawn", "99.900");
    expect(readWork(begun.name, workText(begun))).toEqual(begun);
  }
});

test("what is not JSON is said with its line and column", () => {
  expect(readWork("a", '{\n  "kind": "pad"\n  "level": "1"\n}')).toContain("line 3, column 3");
  expect(readWork("a", '{ "kind": "pad"')).toContain("not JSON yet");
  expect(readWork("a", "[1]")).toContain("in braces");
});
