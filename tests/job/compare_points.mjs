// Adjusted points against what is known of them: node compare_points.mjs ADJUST.json EXPECTED.csv LIMIT_M [REACH_M ANGLES.csv CONTROL.csv]
// Beyond REACH_M from its set-up, a polar point may be off by as much more as it is farther.
import { readFileSync } from "node:fs";

const [adjusted, expected, limitText, reachText, angles, control] = process.argv.slice(2);
const rows = (path) => readFileSync(path, "utf8").trim().split(/\r?\n/).slice(1).map((line) => line.split(","));
const points = new Map(JSON.parse(readFileSync(adjusted)).points.map((p) => [p.point, p]));
const stations = new Map(control ? rows(control).map(([name, e, n]) => [name, [+e, +n]]) : []);
const from = new Map(angles ? rows(angles).map(([at, to]) => [to, at]) : []);
const limit = +limitText;

let worst = 0, failed = 0, count = 0;
for (const [name, e, n, h] of rows(expected)) {
  const p = points.get(name);
  if (!p) {
    console.log(`FAIL: ${name} is not among the adjusted points`);
    failed++;
    continue;
  }
  const station = stations.get(from.get(name));
  const distance = station ? Math.hypot(e - station[0], n - station[1]) : 0;
  const plan = Math.hypot(p.easting_m - e, p.northing_m - n), level = h ? Math.abs(p.elevation_m - h) : 0;
  const allowed = limit * Math.max(1, reachText ? distance / +reachText : 1);
  count++;
  worst = Math.max(worst, plan / allowed, level / limit);
  if (!(plan <= allowed && level <= limit)) {
    console.log(`FAIL: ${name}: ${(plan * 1000).toFixed(1)} mm in plan, ${(level * 1000).toFixed(1)} mm in level, ${distance.toFixed(1)} m away`);
    failed++;
  }
}
console.log(`${count} points, worst ${(worst * 100).toFixed(0)} % of what is allowed`);
process.exit(failed || !count ? 1 : 0);
