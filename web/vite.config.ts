import preact from "@preact/preset-vite";
import { readFileSync, readdirSync } from "node:fs";
import { defineConfig, type Plugin } from "vite";

const EXAMPLES = new URL("../examples/", import.meta.url);

/** The demo's pages beside the page, so that an empty site can be filled from the browser. */
const demo = (): Plugin => ({
  name: "demo",
  generateBundle() {
    for (const name of readdirSync(EXAMPLES).filter((n) => /\.(csv|json)$/.test(n) && n !== "truth.csv"))
      this.emitFile({ type: "asset", fileName: `demo/${name}`, source: readFileSync(new URL(name, EXAMPLES)) });
  },
});

export default defineConfig({
  plugins: [preact(), demo()],
  build: { chunkSizeWarningLimit: 700, target: "es2022", modulePreload: { polyfill: false } },
  // `npm run dev` draws on a server that runs beside it: merestone serve, or node mock/server.mjs.
  server: { proxy: { "/api": "http://127.0.0.1:8317" } },
  test: { include: ["src/**/*.test.ts"] },
});
