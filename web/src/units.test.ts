// Values: definitions of the international foot, and the trade's own slips (5'11" typed as 5.11 ft is 246 mm wrong).
import { describe, expect, it } from "vitest";
import { decimalsFor, feetInches, fixed, readLength, readSlope, slopeSaid, write } from "./units";

const metres = (text: string, bare: "m" | "mm" | "ft" = "m") => {
  const typed = readLength(text, bare);
  if ("fault" in typed) throw new Error(typed.fault);
  return typed.metres;
};

describe("lengths in any form", () => {
  it("reads each form", () => {
    expect(metres("1.25")).toBe(1.25);
    expect(metres("1250mm")).toBeCloseTo(1.25, 12);
    expect(metres("1250", "mm")).toBeCloseTo(1.25, 12);
    expect(metres("4'-1 1/4\"")).toBeCloseTo(49.25 * 0.0254, 12);
    expect(metres("5' 11\"") - metres("5.11 ft")).toBeCloseTo(0.246, 3);
    expect(metres("6 1/2\"")).toBeCloseTo(6.5 * 0.0254, 12);
    expect(metres("12'")).toBeCloseTo(12 * 0.3048, 12);
  });
  it("refuses slips with a sentence", () => {
    for (const slip of ["5'-12\"", "1,5", "abc", "", "1.2.3"]) expect(readLength(slip, "m")).toHaveProperty("fault");
  });
  it("writes feet and inches to the eighth", () => {
    expect(feetInches(1.25)).toBe("4'-1 1/4\"");
    expect(feetInches(0.3047999)).toBe("1'-0\"");
    expect(feetInches(-0.3048)).toBe("\u22121'-0\"");
  });
});

describe("digits", () => {
  it("never prints beyond what the interval carries", () => {
    expect(decimalsFor(1.35, 3)).toBe(1);
    expect(decimalsFor(0.018, 3)).toBe(3);
    expect(decimalsFor(13, 3)).toBe(0);
    expect(decimalsFor(0.73, 3)).toBe(1);
    expect(write("volume", 22.1812, "metric", [19.9, 24.5])).toEqual({ text: "22.2", unit: "m\u00b3", low: "19.9", high: "24.5" });
  });
  it("has no minus before nought", () => expect(fixed(-0.0001, 2)).toBe("0.00"));
});

describe("slopes", () => {
  it("reads and says all three forms", () => {
    expect(readSlope("1:60")).toBeCloseTo(1 / 60, 12);
    expect(readSlope("1.67 %")).toBeCloseTo(0.0167, 12);
    expect(readSlope("17 mm/m")).toBeCloseTo(0.017, 12);
    expect(readSlope("steep")).toBeNull();
    expect(slopeSaid(1 / 60, "metric")).toBe("1:60 = 1.67 % = 17 mm per m");
  });
});
