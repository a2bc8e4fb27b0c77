import preact from "@preact/preset-vite";
import { defineConfig } from "vite";

export default defineConfig({
  plugins: [preact()],
  build: { target: "es2022", modulePreload: { polyfill: false } },
  // `npm run dev` draws on a server that runs beside it: merestone serve, or node mock/server.mjs.
  server: { proxy: { "/api": "http://127.0.0.1:8317" } },
  test: { include: ["src/**/*.test.ts"] },
});
