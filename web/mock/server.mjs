// node mock/server.mjs [--port 8317] [--empty] [--grid N] [--examples FOLDER]: the page with the stand-in behind it.
import { createReadStream, existsSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { openJob } from "./job.mjs";

const option = (name, otherwise) => { const i = process.argv.indexOf(`--${name}`); return i < 0 ? otherwise : process.argv[i + 1]; };
const here = fileURLToPath(new URL("..", import.meta.url));
const examples = option("examples", process.env.MERESTONE_EXAMPLES ?? join(here, "../examples"));
const settings = { empty: process.argv.includes("--empty"), grid: Number(option("grid", 0)) };
let job = openJob(examples, settings);
const listeners = new Set();
const types = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml" };
const codes = { "not found": 404, conflict: 409, machine: 500, invalid: 400 };
const say = () => listeners.forEach((l) => l.write(`event: revision\ndata: {"revision":${job.revision()}}\n\n`));

createServer(async (request, response) => {
  const path = new URL(request.url, "http://x").pathname;
  const json = (code, body) => response.writeHead(code, { "Content-Type": "application/json" }).end(JSON.stringify(body));
  if (path === "/api/events") { response.writeHead(200, { "Content-Type": "text/event-stream" }); listeners.add(response); response.on("close", () => listeners.delete(response)); response.write(`event: revision\ndata: {"revision":${job.revision()}}\n\n`); return; }
  if (path === "/api/operations") return json(200, { operations: Object.keys(job.operations).map((name) => ({ name, summary: "", changes: false })) });
  if (path === "/mock/reset") { job = openJob(examples, { ...settings, empty: request.url.includes("empty") }); say(); return json(200, {}); }
  if (path.startsWith("/api/download/")) return response.writeHead(200, { "Content-Type": "application/octet-stream", "Content-Disposition": "attachment" }).end("stand-in");
  if (path.startsWith("/api/")) {
    let text = ""; for await (const part of request) text += part;
    const before = job.revision();
    try { json(200, job.run(path.slice(5), text ? JSON.parse(text) : {})); } catch (error) { error.sentence ? json(codes[error.status] ?? 422, { error }) : (console.error(error), json(500, { error: { status: "machine", sentence: String(error), page: "", row: 0, column: 0 } })); }
    if (job.revision() !== before) say();
    return;
  }
  const file = join(here, "dist", normalize(path === "/" ? "/index.html" : path));
  if (!existsSync(file) || !statSync(file).isFile()) return response.writeHead(404).end();
  response.writeHead(200, { "Content-Type": types[extname(file)] ?? "application/octet-stream", "Content-Security-Policy": "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'" });
  createReadStream(file).pipe(response);
}).listen(Number(option("port", 8317)), "127.0.0.1");
