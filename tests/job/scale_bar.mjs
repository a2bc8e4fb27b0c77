// node scale_bar.mjs WORDS.html SHEET.pgm SCALE: finds the scale bar under its labels on a sheet drawn at 254 dots per
// inch (10 to a millimetre) and measures it: it must be as long as its last label says, at the sheet's scale.
import { readFileSync } from "node:fs";

const [wordsPath, sheetPath, scale] = process.argv.slice(2);
const DOTS_PER_POINT = 254 / 72;

const words = [...readFileSync(wordsPath, "utf8").matchAll(/<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)</g)]
  .map(([, x0, y0, x1, y1, text]) => ({ middle: (+x0 + +x1) / 2, left: +x0, top: +y0, bottom: +y1, text }));

// The labels: numbers that begin with 0 and grow by even steps, on one line, before the word "m".
function labels() {
  for (const unit of words.filter((w) => w.text === "m")) {
    const row = words.filter((w) => Math.abs(w.top - unit.top) < 1 && w.left < unit.left && /^[\d.]+$/.test(w.text)).sort((a, b) => a.left - b.left);
    const values = row.map((w) => +w.text), step = values[1] - values[0];
    if (values.length >= 4 && values[0] === 0 && values.every((v, i) => Math.abs(v - i * step) < 1e-9)) return { row, last: values.at(-1) };
  }
  throw new Error("no scale bar is labelled");
}

const file = readFileSync(sheetPath);
const [, width] = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(file.toString("latin1", 0, 40)).map(Number);
const dots = file.subarray(file.length - Math.floor((file.length - 15) / width) * width);
const dark = (x, y) => dots[y * width + x] < 100;

// Filled parts under the labels: runs of dark dots at least half a part long.
const { row, last } = labels();
const stated = (last * 1000 * 10) / +scale, part = stated / (row.length - 1);
const from = Math.round(row[0].middle * DOTS_PER_POINT - part / 2), to = Math.round(from + stated + part);
let left = Infinity, right = -Infinity, filled = 0;
const first = Math.round(row[0].bottom * DOTS_PER_POINT);
for (let y = first - 10; y < first + 50; y++)
  for (let x = from, start = -1; x <= to + 1; x++) {
    const on = x <= to && dark(x, y);
    if (on && start < 0) start = x;
    if (on || start < 0) continue;
    const length = x - start;
    if (length > part / 2 && length < part * 1.5) filled++, (left = Math.min(left, start)), (right = Math.max(right, x));
    start = -1;
  }
const measured = right - left, off = Math.abs(measured - stated);
console.log(`   scale bar: ${last} m at 1:${scale} is ${(stated / 10).toFixed(1)} mm, drawn ${(measured / 10).toFixed(1)} mm`);
if (!(filled > 0 && off <= 4)) {
  console.log(`FAIL: the scale bar is ${(off / 10).toFixed(1)} mm off`);
  process.exit(1);
}
