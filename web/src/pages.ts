// Which page a dropped file is, by its header. Columns as in the contract of field pages.
const COLUMNS: Record<string, readonly string[]> = {
  control: ["point", "easting", "northing", "elevation", "sd plan", "sd height"],
  points: ["point", "easting", "northing", "elevation", "code", "sd plan", "sd height"],
  tape: ["from", "to", "distance", "slope", "sd"],
  bearings: ["from", "to", "bearing", "distance", "sd", "sd distance"],
  angles: ["at", "to", "circle", "zenith", "slope distance", "instrument height", "target height", "round", "sd circle", "sd zenith", "sd distance"],
  levels: ["point", "backsight", "intermediate", "foresight", "distance"],
  heights: ["from", "to", "difference", "length", "sd"],
  offsets: ["from", "to", "chainage", "offset", "point", "code"],
  legs: ["from", "to", "dx", "dy", "dz", "time"],
  gnss: ["point", "latitude", "longitude", "height", "sd plan", "sd height"],
  features: ["feature", "kind", "code", "point", "edge", "role"],
  stakes: ["stake", "easting", "northing", "elevation", "code"],
  built: ["point", "easting", "northing", "elevation", "sd plan", "sd height"],
  prices: ["item", "unit", "code", "measure", "depth", "factor", "waste", "pack", "pack unit", "rate", "applies to"],
};
export const PAGE_KINDS = Object.keys(COLUMNS);

/** Kinds whose columns cover the header, the likeliest first: the file's name decides between equals. */
export function likelyKinds(fileName: string, text: string): string[] {
  const header = (text.replace(/^\uFEFF/, "").split(/\r?\n/, 1)[0] ?? "").split(",").map((c) => c.replace(/"/g, "").replace(/\(.*\)/, "").trim().toLowerCase());
  const named = header.filter((c) => c && c !== "remark");
  const name = fileName.toLowerCase();
  const score = (kind: string) => {
    const known = COLUMNS[kind] ?? [];
    const hits = named.filter((c) => known.includes(c)).length;
    return hits - 3 * (named.length - hits) + (name.includes(kind.replace(/s$/, "")) ? 0.5 : 0) - known.length / 100;
  };
  return PAGE_KINDS.filter((kind) => score(kind) > 0).sort((a, b) => score(b) - score(a));
}

const UNITS: Record<string, string> = { easting: "m", northing: "m", elevation: "m", distance: "m", "sd distance": "m", "sd plan": "m", "sd height": "m", backsight: "m", intermediate: "m", foresight: "m", difference: "m", length: "m", chainage: "m", offset: "m", dx: "m", dy: "m", dz: "m", time: "s", height: "m", "slope distance": "m", "instrument height": "m", "target height": "m", bearing: "deg", circle: "deg", zenith: "deg", latitude: "deg", longitude: "deg", depth: "m", waste: "percent" };

/** A header to write rows under: the columns that a page is usually written with, each with its unit. */
export function headerOf(kind: string): string {
  return (COLUMNS[kind] ?? []).filter((c) => !c.startsWith("sd ")).map((c) => (UNITS[c] && !(kind === "heights" && c === "length") ? `${c} (${UNITS[c]})` : c)).join(",");
}
