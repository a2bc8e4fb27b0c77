// node delaunator.mjs FILE: triangulates the doubles in FILE once, after a warm-up on the first of them, and prints
// seconds of wall and user time, the number of triangles, and the highest resident size above that before the input.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const require = createRequire(join(process.cwd(), 'package.json'));
const { default: Delaunator } = await import(pathToFileURL(require.resolve('delaunator')).href);
const base = process.memoryUsage().rss;
const bytes = readFileSync(process.argv[2]);
const points = new Float64Array(bytes.buffer, bytes.byteOffset, bytes.byteLength / 8);
for (let i = 0; i < 3; i++) new Delaunator(points.slice(0, 100000));
const start = process.hrtime.bigint();
const before = process.cpuUsage();
const { triangles } = new Delaunator(points);
const used = process.cpuUsage(before);
const wall = Number(process.hrtime.bigint() - start) / 1e9;
const peak = process.resourceUsage().maxRSS * 1024 - base;
console.log(wall, used.user / 1e6, triangles.length / 3, peak);
