// The sheet's inks, read from the page's own style so that paper, night and sun stay one decision; and its patterns.
export interface Inks {
  ground: string; soil: string; ink: string; soft: string; faint: string; accent: string; earth: string; cut: string; fill: string; halo: string;
  /** Line widths are multiplied by this: heavier in the sun. */
  weight: number;
}

export function readInks(): Inks {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string) => style.getPropertyValue(`--${name}`).trim();
  return {
    ground: of("sheet"), soil: of("soil"), ink: of("ink"), soft: of("soft"), faint: of("faint"), accent: of("accent"), earth: of("earth"), cut: of("cut"), fill: of("fill"),
    halo: of("sheet"), weight: Number(of("weight")) || 1,
  };
}

export const SANS = 'Seravek, "Gill Sans Nova", Ubuntu, Calibri, "DejaVu Sans", "Source Sans Pro", system-ui, sans-serif';
export const SERIF = '"Iowan Old Style", "Palatino Linotype", "URW Palladio L", P052, Georgia, "DejaVu Serif", serif';

type Draw = (c: CanvasRenderingContext2D, size: number) => void;
const cache = new Map<string, CanvasPattern>();

/** A small repeating drawing. Cached by name, since a pattern is made of its ink. */
export function patternOf(name: string, size: number, draw: Draw): CanvasPattern {
  const known = cache.get(name);
  if (known) return known;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = size;
  const c = canvas.getContext("2d")!;
  draw(c, size);
  const pattern = c.createPattern(canvas, "repeat")!;
  cache.set(name, pattern);
  return pattern;
}

const slash: Draw = (c, s) => {
  c.beginPath();
  for (const o of [-s, 0, s]) {
    c.moveTo(o, s);
    c.lineTo(o + s, 0);
  }
  c.stroke();
};

/** Cut: slanting strokes, as a spade leaves. */
export const cutPattern = (inks: Inks, ratio: number) => patternOf(`cut ${inks.cut} ${ratio}`, 9 * ratio, (c, s) => {
  c.strokeStyle = inks.cut;
  c.lineWidth = 1.5 * ratio * inks.weight;
  slash(c, s);
});
/** Fill: dots, as stone is tipped. */
export const fillPattern = (inks: Inks, ratio: number) => patternOf(`fill ${inks.fill} ${ratio}`, 9 * ratio, (c, s) => {
  c.fillStyle = inks.fill;
  for (const [x, y] of [[0.25, 0.25], [0.75, 0.75]] as const) {
    c.beginPath();
    c.arc(x * s, y * s, 1.55 * ratio * inks.weight, 0, 7);
    c.fill();
  }
});

/** Water: short waves. */
export const waterPattern = (inks: Inks, ratio: number) => patternOf(`water ${inks.fill} ${ratio}`, 16 * ratio, (c, s) => {
  c.strokeStyle = inks.fill;
  c.lineWidth = 1.1 * ratio * inks.weight;
  for (const [x, y] of [[0, 0.25], [0.5, 0.75]] as const) {
    c.beginPath();
    c.moveTo(x * s, y * s);
    c.quadraticCurveTo((x + 0.125) * s, (y - 0.13) * s, (x + 0.25) * s, y * s);
    c.quadraticCurveTo((x + 0.375) * s, (y + 0.13) * s, (x + 0.5) * s, y * s);
    c.stroke();
  }
});

/** What an area is covered with, by the words of its code: grass ticks, paving joints, gravel, planting, water, walls. */
export function coverPattern(code: string, inks: Inks, ratio: number): CanvasPattern | null {
  const name = (kind: string) => `${kind} ${inks.soft} ${ratio}`;
  const pen = (c: CanvasRenderingContext2D) => {
    c.strokeStyle = c.fillStyle = inks.soft;
    c.globalAlpha = 0.5;
    c.lineWidth = 0.7 * ratio;
  };
  const strokes = (kind: string, size: number, lines: readonly (readonly [number, number, number, number])[]) =>
    patternOf(name(kind), size * ratio, (c, s) => {
      pen(c);
      c.beginPath();
      for (const [x, y, u, v] of lines) {
        c.moveTo(x * s, y * s);
        c.lineTo(u * s, v * s);
      }
      c.stroke();
    });
  if (/lawn|grass|turf|meadow/.test(code)) return strokes("grass", 30, [[0.2, 0.3, 0.17, 0.2], [0.2, 0.3, 0.24, 0.18], [0.7, 0.8, 0.67, 0.7], [0.7, 0.8, 0.74, 0.68]]);
  if (/terrace|paving|patio|flag/.test(code)) return strokes("flags", 18, [[0, 0.02, 1, 0.02], [0, 0.52, 1, 0.52], [0.25, 0, 0.25, 0.5], [0.75, 0.5, 0.75, 1]]);
  if (/bed|plant|shrub|border/.test(code)) return strokes("plants", 16, [[0.3, 0.2, 0.3, 0.4], [0.2, 0.3, 0.4, 0.3], [0.8, 0.7, 0.8, 0.9], [0.7, 0.8, 0.9, 0.8]]);
  if (/drive|gravel|path|track/.test(code)) return patternOf(name("gravel"), 14 * ratio, (c, s) => {
    pen(c);
    for (const [x, y] of [[0.15, 0.2], [0.6, 0.1], [0.4, 0.55], [0.85, 0.7], [0.1, 0.85]] as const) c.fillRect(x * s, y * s, 1.1 * ratio, 1.1 * ratio);
  });
  if (/house|building|shed|garage/.test(code)) return patternOf(name("walls"), 7 * ratio, (c, s) => {
    pen(c);
    slash(c, s);
  });
  return null;
}
