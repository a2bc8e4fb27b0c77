// node sections_sheet.mjs SHEET.svg: measures the lines of a sheet of sections, mm on paper, against plane geometry: a
// drive of 4 m, 20 m long, finished level at 100.500 with 200 mm of stone, over a plane that rises 2 % along it from
// 100.200, 100 mm stripped; drawn 1:100 along and 1:20 up, cross sections every 5 m and 10 m wide.
import { readFileSync } from "node:fs";

const svg = readFileSync(process.argv[2], "utf8");
let checks = 0, failed = 0;
function near(what, got, wanted, by = 0.01) { // the file has 1/256 mm
  checks++;
  if (Math.abs(got - wanted) <= by) return;
  failed++;
  console.log(`FAIL: ${what}: ${got} instead of ${wanted} within ${by}`);
}
const strokes = [...svg.matchAll(/<path[^>]*?style="([^"]*)"[^>]*? d="([^"]*)"/g)].map(([, style, d]) => ({
  width: Number(/stroke-width:([\d.]+)/.exec(style)?.[1]),
  dash: /stroke-dasharray:([\d.,]+)/.exec(style)?.[1] ?? "",
  closed: d.includes("Z"),
  at: [...d.matchAll(/[ML] ([-\d.]+) ([-\d.]+)/g)].map((m) => [Number(m[1]), Number(m[2])]),
})).filter((s) => s.width > 0);
const FINE = 0.18;
const line = { existing: [1, ""], stripped: [1, "3.2,1.2,0.4,1.2"], formation: [1.6, "5,1.4"], finished: [2.8, ""] };
const of = (name) => strokes.filter((s) => Math.abs(s.width - FINE * line[name][0]) < 1e-3 && s.dash === line[name][1] && !s.closed);

// ---- the long section: 200 mm long, 1 m of level is 50 mm ----
const along = Object.fromEntries(Object.keys(line).map((name) => [name, of(name).find((s) => Math.abs(s.at.at(-1)[0] - s.at[0][0] - 200) < 0.01 && (name !== "existing" || s.at[0][1] !== s.at[1][1]))]));
for (const name of Object.keys(line)) near(`a ${name} line`, along[name] ? 1 : 0, 1, 0);
const up = (name, i) => along.finished.at[0][1] - along[name].at.at(i)[1]; // mm above the finished level
near("existing at 0", up("existing", 0), -15);
near("existing at 20", up("existing", -1), 5);
near("stripped at 0", up("stripped", 0), -20);
near("stripped at 20", up("stripped", -1), 0);
near("formation at 0", up("formation", 0), -10);
near("formation at 20", up("formation", -1), -10);
near("finished is level", up("finished", -1), 0);

// ---- cross sections: 4 m of drive in 10 m of ground, each of the five where the plane says ----
const crosses = of("formation").filter((s) => s !== along.formation && s.at.length >= 2 && s.at[0][1] !== along.formation.at[0][1] && s.at.at(-1)[0] - s.at[0][0] > 12);
near("five cross sections", crosses.length, 5, 0);
const finished = of("finished").filter((s) => s !== along.finished && s.at.at(-1)[0] - s.at[0][0] > 12);
const stripped = of("stripped").filter((s) => s !== along.stripped && s.at.at(-1)[0] - s.at[0][0] > 12);
crosses.forEach((s, i) => {
  const mm = (s.at.at(-1)[0] - s.at[0][0]) / 10; // for a metre across
  const middle = (t) => t.at[Math.floor(t.at.length / 2)][1]; // inside the drive, or on flat lines where they are one
  near(`drive's width at ${5 * i}`, stripped[i].at[3][0] - stripped[i].at[1][0], 4 * mm, 0.02);
  const ground = s.at[0][1], twice = 2 * mm; // levels are drawn twice as high
  near(`strip at ${5 * i}`, middle(stripped[i]) - ground, 0.1 * twice, 0.02);
  near(`formation at ${5 * i}`, ground - middle(s), (100.3 - (100.2 + 0.02 * 5 * i)) * twice, 0.02);
  near(`finished at ${5 * i}`, ground - middle(finished[i]), (100.5 - (100.2 + 0.02 * 5 * i)) * twice, 0.02);
});

// ---- mass haul: fills of 3 and 1 m3, then cuts of 1 and 3 m3 that shrink to 0.9 ----
const mass = strokes.find((s) => s.at.length === 5 && !s.closed && Math.abs(s.width - 0.7) < 1e-3);
near("a mass haul line", mass ? 1 : 0, 1, 0);
const m3 = (mass.at[1][1] - mass.at[0][1]) / 3; // mm for a cubic metre
[0, -3, -4, -3.1, -0.4].forEach((v, i) => {
  near(`mass at ${5 * i}`, mass.at[i][1] - mass.at[0][1], -v * m3);
  near(`mass stands under ${5 * i}`, mass.at[i][0] - along.finished.at[0][0], 50 * i);
});
const bars = strokes.filter((s) => s.closed && s.at.length === 5 && s.at[0][1] > mass.at[0][1] - 4 * m3 && s.at[0][0] >= 50 && Math.abs(s.at[1][0] - s.at[0][0] - 49.4) < 0.02);
near("four bars", bars.length, 4, 0);
bars.forEach((b, i) => near(`bar ${i + 1}`, b.at[2][1] - b.at[1][1], [3, 1, 1, 3][i] * m3, 0.02));
console.log(`${checks} measured, ${failed} off`);
process.exit(failed ? 1 : 0);
