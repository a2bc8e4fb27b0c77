// How each thing on the sheet is inked. Three weights of line; what a thing is, is told by line, pattern and word.
import type { FeatureLike } from "ol/Feature";
import type { Geometry } from "ol/geom";
import { Circle, Fill, RegularShape, Stroke, Style, Text } from "ol/style";
import type { Chapter } from "../job";
import { lengthSaid, write, type Units } from "../units";
import { SANS, SERIF, coverPattern, type Inks } from "./ink";

export interface Look {
  inks: Inks;
  units: Units;
  chapter: Chapter | null;
  magnify: number;
  /** Metres between points, about: names are left out where they would touch. */
  spacing_m: number;
  suspects: ReadonlySet<string>;
  verdicts: ReadonlyMap<string, string>;
}

export type StyleOf = (feature: FeatureLike, resolution: number) => Style | Style[] | undefined;

const ratio = () => devicePixelRatio || 1;
export const isService = (code: string) => /service|water|gas|electric|drain|cable|pipe|sewer/.test(code);
const isWall = (code: string) => /house|building|garage|wall/.test(code);

function strokeOf(code: string, role: string, look: Look): Stroke {
  const { inks } = look;
  const w = inks.weight;
  if (role === "boundary") return new Stroke({ color: inks.ink, width: 2.4 * w, lineDash: [16, 4, 3, 4] });
  if (isWall(code)) return new Stroke({ color: inks.ink, width: 2.4 * w });
  if (isService(code)) return new Stroke({ color: inks.accent, width: 1.4 * w, lineDash: [9, 4] });
  if (/fence/.test(code)) return new Stroke({ color: inks.ink, width: 1.4 * w, lineDash: [7, 3] });
  if (role === "breakline") return new Stroke({ color: look.chapter === "Ground" ? inks.ink : inks.soft, width: (look.chapter === "Ground" ? 1.5 : 0.9) * w });
  return new Stroke({ color: inks.ink, width: 1.1 * w });
}

const halo = (look: Look, width = 3) => new Stroke({ color: look.inks.halo, width });
const words = (text: string, look: Look, size: number, more: Partial<ConstructorParameters<typeof Text>[0]> = {}) =>
  new Text({ text, font: `${size}px ${SANS}`, fill: new Fill({ color: look.inks.ink }), stroke: halo(look), ...more });

export const areaStyle = (look: () => Look): StyleOf => (feature) => {
  const code = String(feature.get("code"));
  const cover = coverPattern(code, look().inks, ratio());
  return new Style({ fill: new Fill({ color: cover ?? "rgba(0,0,0,0.001)" }) });
};

export const areaNameStyle = (look: () => Look): StyleOf => (feature, resolution) => {
  const l = look();
  const room = Number(feature.get("size")) / resolution;
  const name = String(feature.get("name"));
  if (room < name.length * 7 || feature.get("role") === "boundary") return undefined;
  return new Style({ text: words(name, l, 13, { font: `italic 13px ${SERIF}`, fill: new Fill({ color: l.inks.soft }), overflow: true }) });
};

/** An edge, with its length written along it where there is room. */
export const edgeStyle = (look: () => Look): StyleOf => (feature, resolution) => {
  const l = look();
  const line = new Style({ stroke: strokeOf(String(feature.get("code")), String(feature.get("role")), l) });
  const metres = Number(feature.get("length"));
  if (l.chapter === "Levels" || l.chapter === "Earth" || feature.get("first") !== true || metres / resolution < 64) return line;
  const text = words(l.units === "metric" ? `${metres.toFixed(2)} m` : lengthSaid(metres, l.units), l, 11, { placement: "line", textBaseline: "bottom", offsetY: -3, fill: new Fill({ color: l.inks.soft }) });
  return [line, new Style({ text })];
};

export const contourStyle = (look: () => Look): StyleOf => (feature) => {
  const l = look();
  const index = feature.get("index") === true;
  const strong = l.chapter === "Ground" || l.chapter === "Levels";
  const stroke = new Stroke({ color: l.inks.earth, width: (index ? 1.5 : 0.7) * l.inks.weight * (strong ? 1 : 0.75) });
  if (!index) return new Style({ stroke });
  const w = write("level", Number(feature.get("level")), l.units);
  return new Style({ stroke, text: words(w.text.replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, ""), l, 10.5, { placement: "line", fill: new Fill({ color: l.inks.earth }), stroke: halo(l, 4), repeat: 360 }) });
};

function markOf(feature: FeatureLike, l: Look, gap: number): Style {
  const { inks } = l;
  const size = gap < 22 ? 0.7 : 1;
  const paper = new Fill({ color: inks.ground });
  const ink = new Fill({ color: inks.ink });
  const line = new Stroke({ color: inks.ink, width: 1.3 * inks.weight });
  if (feature.get("held")) return new Style({ image: new RegularShape({ points: 3, radius: 8, fill: paper, stroke: new Stroke({ color: inks.ink, width: 1.8 }) }) });
  if (feature.get("single")) return new Style({ image: new Circle({ radius: 2.8 * size, fill: paper, stroke: line }) });
  return new Style({ image: new Circle({ radius: 2.2 * size, fill: ink }) });
}

const wantsLevels = (chapter: Chapter | null) => chapter === "Ground" || chapter === "Levels";

/** A point: filled when something checks it, hollow when nothing does, a triangle when it is held. */
export const pointStyle = (look: () => Look): StyleOf => (feature, resolution) => {
  const l = look();
  const gap = l.spacing_m / resolution;
  if (gap < 5 && !feature.get("held")) return undefined;
  const styles = [markOf(feature, l, gap)];
  if (l.chapter === "Proof" || (gap < 30 && !feature.get("held"))) return styles;
  const name = String(feature.get("name"));
  const level = feature.get("level") as number | null;
  if (wantsLevels(l.chapter) && level === null) return styles;
  const text = wantsLevels(l.chapter) && level !== null ? write("level", level, l.units).text.replace(/(\.\d\d)\d$/, "$1") : name;
  styles.push(new Style({ text: words(text, l, 11, { offsetX: 7, offsetY: -7, textAlign: "left" }) }));
  return styles;
};

/** The error ellipse at 95 %, magnified; drawn round the point as an outline in the accent. */
export const ellipseStyle = (look: () => Look): StyleOf => (feature) =>
  look().chapter === "Trust" ? new Style({ stroke: new Stroke({ color: look().inks.accent, width: 1.1 * look().inks.weight }), geometry: feature.getGeometry() as Geometry }) : undefined;

export const readingStyle = (look: () => Look): StyleOf => (feature) => {
  const l = look();
  if (l.chapter !== "Trust" && l.chapter !== "Field") return undefined;
  const wrong = feature.get("wrong") === true;
  if (!wrong && l.chapter === "Field") return undefined;
  if (!wrong) return new Style({ stroke: new Stroke({ color: l.inks.faint, width: 1 * l.inks.weight }) });
  return [
    new Style({ stroke: new Stroke({ color: l.inks.accent, width: 2.6 * l.inks.weight, lineDash: [10, 6] }), zIndex: 5 }),
    new Style({ text: words("looks wrong", l, 12, { placement: "line", textBaseline: "bottom", offsetY: -4, font: `bold 12px ${SANS}`, fill: new Fill({ color: l.inks.accent }) }), zIndex: 6 }),
  ];
};

export const stakeStyle = (look: () => Look): StyleOf => (feature, resolution) => {
  const l = look();
  const { inks } = l;
  const name = String(feature.get("name"));
  if (l.chapter === "Proof") return proofStyle(l, name, resolution);
  if (l.chapter !== "Stakes") return undefined;
  const cross = new RegularShape({ points: 4, radius: 8, radius2: 0, angle: Math.PI / 4, declutterMode: "none", stroke: new Stroke({ color: inks.accent, width: 2 * inks.weight }) });
  const square = new RegularShape({ points: 4, radius: 6, angle: Math.PI / 4, declutterMode: "none", stroke: new Stroke({ color: inks.accent, width: 1.4 * inks.weight }), fill: new Fill({ color: inks.ground }) });
  return [new Style({ image: square }), new Style({ image: cross, text: words(feature.get("shared") ? "" : name, l, 12, { offsetX: 10, offsetY: 10, textAlign: "left", font: `bold 12px ${SANS}` }) })];
};

/** Pass: a ring with a tick. Fail: a square with a cross. Cannot tell: a triangle with a question mark. */
function proofStyle(l: Look, name: string, resolution: number): Style[] | undefined {
  const verdict = l.verdicts.get(name);
  if (!verdict) return undefined;
  const { inks } = l;
  const tone = verdict === "pass" ? inks.ink : inks.accent;
  const pen = new Stroke({ color: tone, width: 2 * inks.weight });
  const paper = new Fill({ color: inks.ground });
  const k = resolution > 0.06 ? 0.72 : 1; /* seen from afar they would hide each other */
  const about = { stroke: pen, fill: paper, declutterMode: "none" as const };
  const image = verdict === "pass" ? new Circle({ radius: 10 * k, ...about }) : verdict === "fail" ? new RegularShape({ points: 4, radius: 13 * k, angle: Math.PI / 4, ...about }) : new RegularShape({ points: 3, radius: 14 * k, ...about });
  const sign = { pass: "\u2713", fail: "\u2715", "cannot tell": "?" }[verdict] ?? "";
  const styles = [new Style({ image, text: words(sign, l, 13, { fill: new Fill({ color: tone }), offsetY: verdict === "cannot tell" ? 2 * k : 1, font: `bold ${Math.round(13 * k)}px ${SANS}`, declutterMode: "none" }) })];
  if (resolution < 0.06) styles.push(new Style({ text: words(`${name} ${verdict}`, l, 11, { offsetX: 16, textAlign: "left" }) }));
  return styles;
}

/** A low spot: a drop with its depth; dashed where the readings do not prove it. */
export const findingStyle = (look: () => Look): StyleOf => (feature, resolution) => {
  const l = look();
  if (!wantsLevels(l.chapter)) return undefined;
  const proven = feature.get("proven") !== false;
  const drop = new Circle({ radius: 9, stroke: new Stroke({ color: l.inks.fill, width: 2 * l.inks.weight, ...(proven ? {} : { lineDash: [3, 3] }) }), fill: new Fill({ color: l.inks.ground }) });
  const styles = [new Style({ image: drop, text: words("\u2248", l, 14, { fill: new Fill({ color: l.inks.fill }), font: `bold 14px ${SANS}` }) })];
  if (resolution < 0.09) styles.push(new Style({ text: words(String(feature.get("name")), l, 11, { offsetX: 13, textAlign: "left", fill: new Fill({ color: l.inks.fill }) }) }));
  return styles;
};

export function highlightStyle(look: () => Look): StyleOf {
  return (feature) => {
    const { accent, ground, weight } = look().inks;
    const label = feature.get("label") ? words(String(feature.get("label")), look(), 13, { font: `bold 13px ${SANS}`, offsetY: -20, fill: new Fill({ color: accent }), stroke: halo(look(), 4), overflow: true }) : undefined;
    const under = new Style({ stroke: new Stroke({ color: ground, width: 8 }), zIndex: 0 });
    const over = new Style({ stroke: new Stroke({ color: accent, width: 3 * weight }), image: new Circle({ radius: 11, stroke: new Stroke({ color: accent, width: 2.6 * weight }) }), ...(label ? { text: label } : {}), zIndex: 1 });
    return feature.getGeometry()?.getType() === "Point" ? [over] : [under, over];
  };
}

