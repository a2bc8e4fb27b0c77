// The works over the plan: outlines, labels and falls. On the frame's canvas, so that they follow the thumb without the map.
import type { Chapter } from "../job";
import type { XY } from "./arcs";
import type { WorkMark } from "./content";
import type { Lie, Window } from "./frame";
import { SANS, type Inks } from "./ink";

const LINE = 16;

function trace(c: CanvasRenderingContext2D, line: readonly XY[]): void {
  c.beginPath();
  line.forEach(([x, y], i) => (i ? c.lineTo(x, y) : c.moveTo(x, y)));
}

/** Left out where it would hide its own work. */
function drawLabel(c: CanvasRenderingContext2D, [x, y]: XY, words: readonly string[], room: XY, inks: Inks): void {
  const width = Math.max(...words.map((w) => c.measureText(w).width)) + 10;
  if (width > room[0] * 0.85 || words.length * LINE > room[1] * 0.55) return;
  const top = y - (words.length * LINE) / 2;
  c.fillStyle = inks.ground;
  c.fillRect(x - width / 2, top - 3, width, words.length * LINE + 5);
  c.fillStyle = inks.ink;
  words.forEach((w, i) => c.fillText(w, x, top + i * LINE + 12));
}

/** Points down the fall, its ratio beside it. */
function drawArrow(c: CanvasRenderingContext2D, from: XY, to: XY, slope: string, inks: Inks): void {
  const turn = Math.atan2(to[1] - from[1], to[0] - from[0]);
  c.strokeStyle = c.fillStyle = inks.ink;
  c.lineWidth = 1.6 * inks.weight;
  trace(c, [from, to]);
  c.stroke();
  trace(c, [0, 2.6, -2.6].map((by): XY => [to[0] + (by ? 11 * Math.cos(turn + by) : 4 * Math.cos(turn)), to[1] + (by ? 11 * Math.sin(turn + by) : 4 * Math.sin(turn))]));
  c.fill();
  c.textAlign = "left";
  c.lineWidth = 3;
  c.strokeStyle = inks.ground;
  c.strokeText(slope, to[0] + 9, to[1] + 4);
  c.fillText(slope, to[0] + 9, to[1] + 4);
  c.textAlign = "center";
}

export function drawWorks(canvas: HTMLCanvasElement, w: Window, lie: Lie, marks: readonly WorkMark[], chapter: Chapter | null, inks: Inks): void {
  if (!marks.length || !(chapter === "Levels" || chapter === "Earth" || chapter === "Price")) return;
  const c = canvas.getContext("2d")!;
  const [right, bottom] = [w.width - w.right, w.height - w.bottom];
  const at = ([e, n]: XY): XY => [(w.left + right) / 2 + (e - lie.east) / lie.resolution, (w.top + bottom) / 2 - (n - lie.north) / lie.resolution];
  c.save();
  c.beginPath();
  c.rect(w.left, w.top, right - w.left, bottom - w.top);
  c.clip();
  c.textAlign = "center";
  for (const mark of marks) {
    const outline = mark.outline.map(at);
    const room = Math.max(...outline.map((p) => p[0])) - Math.min(...outline.map((p) => p[0]));
    const high = Math.max(...outline.map((p) => p[1])) - Math.min(...outline.map((p) => p[1]));
    c.strokeStyle = inks.accent;
    c.lineWidth = 2.2 * inks.weight;
    trace(c, outline);
    c.stroke();
    c.font = `11px ${SANS}`;
    if (mark.arrow && chapter === "Levels" && room > 40) drawArrow(c, at(mark.arrow[0]!), at(mark.arrow[1]!), mark.slope, inks);
    c.font = `bold 12px ${SANS}`;
    if (chapter !== "Price") drawLabel(c, at(mark.middle), mark.words, [room, high], inks);
  }
  c.restore();
}
