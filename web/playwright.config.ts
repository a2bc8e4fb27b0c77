import { defineConfig } from "@playwright/test";

const launchOptions = { executablePath: process.env["CHROMIUM"] ?? "/usr/bin/chromium", args: ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"] };

export default defineConfig({
  testDir: "tests",
  outputDir: "test-results",
  timeout: 90_000,
  expect: { timeout: 15_000 },
  workers: 1,
  reporter: [["list"]],
  use: { launchOptions, trace: "retain-on-failure" },
  projects: [
    { name: "desk", use: { viewport: { width: 1440, height: 900 } } },
    { name: "phone", use: { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 } },
  ],
});
