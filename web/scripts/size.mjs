// After a build: what the first view loads must stay small; three.js comes only when it is asked for.
import { gzipSync } from "node:zlib";
import { readFileSync, readdirSync } from "node:fs";

const MOST = 250_000;
const assets = new URL("../dist/assets/", import.meta.url);
const names = readdirSync(assets);
const main = names.filter((n) => n.startsWith("index-")).reduce((sum, n) => sum + gzipSync(readFileSync(new URL(n, assets))).length, 0);
if (main >= MOST || !names.some((n) => n.startsWith("relief-"))) {
  console.error(`The first view loads ${main} bytes packed; ${MOST} is the most, three.js in a chunk of its own.`);
  process.exit(1);
}
console.log(`The first view loads ${main} bytes packed, of ${MOST} at the most.`);
