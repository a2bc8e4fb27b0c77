// The whole job in the browser alone: from an empty site to estimate, PDF, DXF and set-out list, with the demo's pages.
import { readFileSync } from "node:fs";
import { example, expect, open, press, settled, test, visit } from "./job";
import type { Locator, Page } from "@playwright/test";

const PAGES = ["control.csv", "angles.csv", "levels.csv", "legs.csv", "tape.csv", "offsets.csv", "features.csv", "stakes.csv", "prices.csv", "built.csv", "works.json"];

async function download(page: Page, what: Locator): Promise<Buffer> {
  const [file] = await Promise.all([page.waitForEvent("download"), press(page, what)]);
  return readFileSync(await file.path());
}

test("from an empty site to estimate, plan, drawing file and set-out list", async ({ page, empty }, info) => {
  await visit(page, empty);
  await expect(page.getByText("An empty book and a clean sheet")).toBeVisible();
  await page.screenshot({ path: info.outputPath("first-minute.png") });

  await page.locator(".way input[type=file]").setInputFiles(PAGES.map(example));
  await expect(page.locator(".waiting")).toHaveCount(PAGES.length);
  for (const name of ["control", "angles", "tape", "levels", "legs", "offsets"]) {
    const file = page.locator(".waiting", { hasText: `${name}.csv` });
    await expect(file.getByRole("combobox").first()).toHaveValue(name);
    await file.getByLabel("visit").fill(name === "tape" || name === "legs" || name === "offsets" ? "visit 2" : "visit 1");
  }
  await press(page, page.getByRole("button", { name: `Take all ${PAGES.length} in` }));
  await expect(page.locator(".waiting")).toHaveCount(0, { timeout: 60_000 });
  await settled(page);

  const trust = await open(page, "Trust");
  await expect(trust.locator(".state")).toContainText("looks wrong");
  const suspect = trust.locator(".suspect").first();
  await expect(suspect).toContainText(/H4.*BD4/);
  await page.screenshot({ path: info.outputPath("trust.png") });
  await press(page, suspect.getByRole("button", { name: "set it aside" }));
  await press(page, suspect.getByRole("button", { name: "Set aside", exact: true }));
  await expect(trust.locator(".state")).toContainText("The readings agree with their gear.");

  const levels = await open(page, "Levels");
  const slider = levels.getByRole("slider", { name: "terrace: level" });
  await slider.focus();
  for (let i = 0; i < 6; i++) await page.keyboard.press("ArrowRight");
  await expect(levels.locator(".lever .aside")).toContainText("30 mm higher than kept");
  await press(page, levels.getByRole("button", { name: "Keep" }));
  await expect(page.locator(".notices")).toContainText("moved");
  await page.screenshot({ path: info.outputPath("levels.png") });

  const earth = await open(page, "Earth");
  await expect(earth.locator("table").first()).toContainText("clay");
  const price = await open(page, "Price");
  await expect(price.locator(".figure .amount b").first()).toContainText(/\d/);
  await page.screenshot({ path: info.outputPath("price.png") });
  const stakes = await open(page, "Stakes");
  await expect(stakes.locator(".stakes li").first()).toContainText("from");
  const proof = await open(page, "Proof");
  await expect(proof.locator(".checks li").first()).toBeVisible();
  for (const verdict of ["pass", "fail", "cannot tell"]) await expect(proof.locator(".verdict", { hasText: verdict }).first()).toBeVisible();

  const out = page.locator(".hand-over");
  expect((await download(page, out.getByRole("button", { name: /Plan, PDF/ }))).subarray(0, 5).toString()).toBe("%PDF-");
  expect((await download(page, out.getByRole("button", { name: /^DXF/ }))).toString("latin1")).toContain("AC1015");
  const list = (await download(page, out.getByRole("button", { name: /Set-out list/ }))).toString();
  expect(list).toContain("TC1");
  expect((await download(page, out.getByRole("button", { name: /Spreadsheet/ }))).subarray(0, 2).toString()).toBe("PK");
});

test("the demo opens from the empty page", async ({ page, empty }) => {
  await visit(page, empty);
  await press(page, page.getByRole("button", { name: "Open the demo" }));
  await expect(page.getByLabel("Title of the job")).toHaveValue("Quillmarsh Rise, plot 7", { timeout: 60_000 });
  await expect(page.locator("#chapter-Price")).toBeVisible();
  await expect(page.locator(".chapter", { has: page.locator("#chapter-Trust") }).locator(".state")).toContainText("looks wrong");
});
