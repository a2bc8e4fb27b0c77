// RFC 3629 (UTF-8): what is text, and where it stops being it.
import { expect, it } from "vitest";
import { readBytes, tooLarge } from "./bytes";

const bytes = (...parts: (string | number)[]) => new Uint8Array(parts.flatMap((p) => (typeof p === "number" ? [p] : [...new TextEncoder().encode(p)])));

it("keeps text as it is, mark and line ends and all", () => {
  expect(readBytes(bytes(0xef, 0xbb, 0xbf, "a,b\r\n1,2\r"))).toEqual({ text: "\uFEFFa,b\r\n1,2\r" });
  expect(readBytes(bytes("\u00e9\u{1F9F1}"))).toEqual({ text: "\u00e9\u{1F9F1}" });
  expect(readBytes(bytes())).toEqual({ text: "" });
});
it("names the byte and the row", () => {
  expect(readBytes(bytes("a\nb\nH", 0xff, "2"))).toMatchObject({ row: 3, sentence: expect.stringContaining("Byte 6 ") });
  expect(readBytes(bytes("a\nb", 0, "2"))).toMatchObject({ row: 2, sentence: expect.stringContaining("byte 0 at position 4") });
  expect(readBytes(bytes("ab", 0xe2, 0x82, "x"))).toMatchObject({ row: 1, sentence: expect.stringContaining("Byte 3 ") });
  expect(readBytes(bytes("ab", 0xe2, 0x82))).toMatchObject({ sentence: expect.stringContaining("Byte 3 ") });
  expect(readBytes(bytes("ab", 0x80))).toMatchObject({ sentence: expect.stringContaining("Byte 3 ") });
  expect(readBytes(bytes("ab", 0xc0, 0x80))).toMatchObject({ sentence: expect.stringContaining("Byte 3 ") });
  expect(readBytes(bytes(0xff, 0xfe, "a", 0))).toMatchObject({ sentence: expect.stringContaining("UTF-16") });
});
it("says the size of what is too large", () => {
  expect(tooLarge(64 * 2 ** 20)).toBeNull();
  expect(tooLarge(100 * 2 ** 20)?.sentence).toContain("100 MB");
});
