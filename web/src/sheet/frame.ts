// What a paper plan has round its drawing: a frame with the grid's figures, crosses where grid lines meet, a scale bar
// that is true on this screen, and north.
import { feetInches, type Units } from "../units";
import { SANS, SERIF, type Inks } from "./ink";

export interface Window { width: number; height: number; left: number; top: number; right: number; bottom: number }
export interface Lie { east: number; north: number; /** metres a pixel */ resolution: number; units: Units; narrow: boolean }

const FOOT_M = 0.3048;

/** 1, 2 or 5 times a power of ten, at least `least`. */
export function roundStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  const times = [1, 2, 5, 10].find((k) => k * power >= least * 0.999999) ?? 10;
  return times * power;
}

function figure(value: number, step: number): string {
  return value.toFixed(Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
}

function multiples(from: number, to: number, step: number): number[] {
  const first = Math.ceil(from / step);
  return Array.from({ length: Math.max(0, Math.floor(to / step) - first + 1) }, (_, i) => (first + i) * step);
}

function drawGrid(c: CanvasRenderingContext2D, w: Window, lie: Lie, inks: Inks): void {
  const unit = lie.units === "imperial" ? FOOT_M : 1;
  const step = roundStep((110 * lie.resolution) / unit) * unit;
  const [right, bottom] = [w.width - w.right, w.height - w.bottom];
  const x = (e: number) => (w.left + right) / 2 + (e - lie.east) / lie.resolution;
  const y = (n: number) => (w.top + bottom) / 2 - (n - lie.north) / lie.resolution;
  const e = (px: number) => lie.east + (px - (w.left + right) / 2) * lie.resolution;
  const n = (py: number) => lie.north - (py - (w.top + bottom) / 2) * lie.resolution;
  const easts = multiples(e(w.left + 12), e(right - 12), step);
  const norths = multiples(n(bottom - 12), n(w.top + 12), step);
  c.strokeStyle = inks.faint;
  c.lineWidth = 1;
  c.beginPath();
  for (const E of easts) for (const N of norths) {
    c.moveTo(x(E) - 4, y(N));
    c.lineTo(x(E) + 4, y(N));
    c.moveTo(x(E), y(N) - 4);
    c.lineTo(x(E), y(N) + 4);
  }
  c.stroke();
  c.strokeStyle = inks.ink;
  c.fillStyle = inks.soft;
  c.font = `11px ${SANS}`;
  c.beginPath();
  for (const E of easts) {
    c.moveTo(x(E), bottom);
    c.lineTo(x(E), bottom + (lie.narrow ? -6 : 5));
  }
  for (const N of norths) {
    c.moveTo(w.left, y(N));
    c.lineTo(w.left + (lie.narrow ? 6 : -5), y(N));
  }
  c.stroke();
  if (lie.narrow) return;
  c.textAlign = "center";
  for (const E of easts) c.fillText(`${figure(E / unit, step / unit)} E`, x(E), bottom + 17);
  for (const N of norths) {
    c.save();
    c.translate(w.left - 10, y(N));
    c.rotate(-Math.PI / 2);
    c.fillText(`${figure(N / unit, step / unit)} N`, 0, 0);
    c.restore();
  }
}

function drawFrame(c: CanvasRenderingContext2D, w: Window, inks: Inks): void {
  const [width, height] = [w.width - w.left - w.right, w.height - w.top - w.bottom];
  c.strokeStyle = inks.ink;
  c.lineWidth = 1.75;
  c.strokeRect(w.left, w.top, width, height);
}

/** A bar of four fields, dark and light, with its figures above. */
function drawScale(c: CanvasRenderingContext2D, w: Window, lie: Lie, inks: Inks): void {
  const unit = lie.units === "imperial" ? FOOT_M : 1;
  const part = roundStep(((lie.narrow ? 22 : 34) * lie.resolution) / unit) * unit;
  const px = part / lie.resolution;
  const [x0, y0] = [w.left + 16, w.height - w.bottom - 18];
  const say = (m: number) => (unit === 1 ? (part < 0.999 ? `${Math.round(m * 1000)}` : figure(m, part)) : part / unit < 0.999 ? feetInches(m) : figure(m / unit, part / unit));
  const name = unit === 1 ? (part < 0.999 ? "mm" : "m") : part / unit < 0.999 ? "" : "ft";
  c.fillStyle = inks.ground;
  c.globalAlpha = 0.82;
  c.fillRect(x0 - 8, y0 - 18, px * 4 + 44, 30);
  c.globalAlpha = 1;
  c.font = `11px ${SANS}`;
  c.textAlign = "center";
  c.lineWidth = 1;
  c.strokeStyle = inks.ink;
  for (let i = 0; i < 4; i++) {
    c.fillStyle = i % 2 ? inks.ground : inks.ink;
    c.fillRect(x0 + i * px, y0, px, 5);
    c.strokeRect(x0 + i * px, y0, px, 5);
  }
  c.fillStyle = inks.ink;
  for (const i of [0, 1, 2, 4]) c.fillText(say(i * part), x0 + i * px, y0 - 5);
  c.textAlign = "left";
  c.fillText(name, x0 + 4 * px + 14, y0 + 6);
}

/** North: a standing stone's outline, split into its lit and its dark side. */
function drawNorth(c: CanvasRenderingContext2D, w: Window, inks: Inks): void {
  const [x, y] = [w.width - w.right - 26, w.top + 22];
  c.save();
  c.translate(x, y);
  c.lineWidth = 1.25;
  c.strokeStyle = c.fillStyle = inks.ink;
  c.beginPath();
  c.moveTo(0, 0);
  c.lineTo(6, 11);
  c.lineTo(7.5, 42);
  c.lineTo(0, 42);
  c.closePath();
  c.fill();
  c.beginPath();
  c.moveTo(0, 0);
  c.lineTo(-6, 11);
  c.lineTo(-7.5, 42);
  c.lineTo(7.5, 42);
  c.moveTo(-13, 42);
  c.lineTo(13, 42);
  c.moveTo(0, 0);
  c.lineTo(0, 42);
  c.stroke();
  c.font = `italic 13px ${SERIF}`;
  c.textAlign = "center";
  c.fillText("N", 0, -5);
  c.restore();
}

export function drawSheet(canvas: HTMLCanvasElement, w: Window, lie: Lie, inks: Inks): void {
  const ratio = devicePixelRatio || 1;
  if (canvas.width !== Math.round(w.width * ratio) || canvas.height !== Math.round(w.height * ratio)) {
    canvas.width = Math.round(w.width * ratio);
    canvas.height = Math.round(w.height * ratio);
  }
  const c = canvas.getContext("2d")!;
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, w.width, w.height);
  if (lie.resolution > 0) drawGrid(c, w, lie, inks);
  drawFrame(c, w, inks);
  if (lie.resolution > 0) drawScale(c, w, lie, inks);
  drawNorth(c, w, inks);
}
