// The whole job in the browser alone: from an empty site to estimate, PDF, DXF and set-out list, with the demo's pages.
import { readFileSync } from "node:fs";
import { example, expect, open, press, settled, test, visit } from "./job";
import { pressKey, reach, write } from "./keys";
import type { Locator, Page } from "@playwright/test";

const PAGES = ["control.csv", "angles.csv", "levels.csv", "legs.csv", "tape.csv", "offsets.csv", "rover.csv", "features.csv", "stakes.csv", "prices.csv", "built.csv", "works.json"];

const VISITS = { control: "visit 1", angles: "visit 1", levels: "visit 1", legs: "visit 2", tape: "visit 2", offsets: "visit 2", rover: "visit 3" };

async function download(page: Page, what: Locator): Promise<Buffer> {
  const [file] = await Promise.all([page.waitForEvent("download"), press(page, what)]);
  return readFileSync(await file.path());
}

/** The total as the core gives it, to the unit: what the page shows is held against it. */
async function totalSaid(job: { post<T>(operation: string): Promise<T> }): Promise<string> {
  const { total } = await job.post<{ total: number }>("estimate");
  return Math.round(total / 100).toFixed(0);
}

test("from an empty site to estimate, plan, drawing file and set-out list", async ({ page, empty }, info) => {
  await visit(page, empty);
  await expect(page.getByText("An empty book and a clean sheet")).toBeVisible();
  await page.screenshot({ path: info.outputPath("first-minute.png") });

  await page.locator(".way input[type=file]").setInputFiles(PAGES.map(example));
  await expect(page.locator(".waiting")).toHaveCount(PAGES.length);
  for (const [name, visit] of Object.entries(VISITS)) {
    const file = page.locator(".waiting", { hasText: `${name}.csv` });
    await expect(file.getByRole("combobox").first()).toHaveValue(name === "rover" ? "points" : name);
    await file.getByLabel("visit").fill(visit);
  }
  await page.locator(".waiting", { hasText: "rover.csv" }).getByLabel("gear").selectOption("rover");
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
  await press(page, levels.getByRole("button", { name: "Keep", exact: true }));
  await expect(page.locator(".notices")).toContainText("moved");
  await page.screenshot({ path: info.outputPath("levels.png") });

  const earth = await open(page, "Earth");
  await expect(earth.locator("table").first()).toContainText("clay");
  const price = await open(page, "Price");
  expect((await price.locator(".figure .amount b").first().textContent())!.replace(/\D/g, "")).toBe(await totalSaid(empty));
  await page.screenshot({ path: info.outputPath("price.png") });
  const stakes = await open(page, "Stakes");
  await expect(stakes.locator(".stakes li").first()).toContainText("from");
  const proof = await open(page, "Proof");
  await expect(proof.locator(".checks li").first()).toBeVisible();
  for (const verdict of ["pass", "fail", "cannot tell"]) await expect(proof.locator(".verdict", { hasText: verdict }).first()).toBeVisible();

  await proof.getByLabel("from", { exact: true }).fill("TC1");
  await proof.getByLabel("down to").fill("TC2");
  await press(page, proof.getByRole("button", { name: "Prove it" }));
  await expect(proof.getByRole("status")).toContainText(/proven|cannot tell/);

  const out = page.locator(".hand-over");
  expect((await download(page, out.getByRole("button", { name: /Plan, PDF/ }))).subarray(0, 5).toString()).toBe("%PDF-");
  const white = await download(page, out.getByRole("button", { name: /Plan, SVG/ }));
  await out.getByLabel("Ground").selectOption({ label: "where it is unsure" });
  expect((await download(page, out.getByRole("button", { name: /Plan, SVG/ }))).length).toBeGreaterThan(white.length);
  expect((await download(page, out.getByRole("button", { name: /^DXF/ }))).toString("latin1")).toContain("AC1015");
  const list = (await download(page, out.getByRole("button", { name: /Set-out list/ }))).toString();
  expect(list).toContain("TC1");
  expect((await download(page, out.getByRole("button", { name: /Plan with stakes, PDF/ }))).subarray(0, 5).toString()).toBe("%PDF-");
  expect((await download(page, out.getByRole("button", { name: /Spreadsheet/ }))).subarray(0, 2).toString()).toBe("PK");
});

async function downloadByKey(page: Page, what: Locator): Promise<Buffer> {
  await reach(page, what);
  const [file] = await Promise.all([page.waitForEvent("download"), page.keyboard.press("Enter")]);
  return readFileSync(await file.path());
}

async function openByKey(page: Page, chapter: string): Promise<Locator> {
  const section = page.locator(".chapter", { has: page.locator(`#chapter-${chapter}`) });
  await pressKey(page, section.locator("h2 button"));
  await expect(section.locator("h2 button")).toHaveAttribute("aria-expanded", "true");
  await settled(page);
  return section;
}

test("the same by the keyboard alone", async ({ page, empty }) => {
  test.setTimeout(180_000);
  await visit(page, empty);
  const files = page.locator(".way input[type=file]");
  await reach(page, files);
  const [chooser] = await Promise.all([page.waitForEvent("filechooser"), page.keyboard.press("Space")]);
  await chooser.setFiles(PAGES.map(example));
  await expect(page.locator(".waiting")).toHaveCount(PAGES.length);
  for (const [name, visited] of Object.entries(VISITS)) await write(page, page.locator(".waiting", { hasText: `${name}.csv` }).getByLabel("visit"), visited);
  await pressKey(page, page.getByRole("button", { name: `Take all ${PAGES.length} in` }));
  await expect(page.locator(".waiting")).toHaveCount(0, { timeout: 90_000 });
  await settled(page);

  const trust = await openByKey(page, "Trust");
  await pressKey(page, trust.getByRole("button", { name: "set it aside" }));
  await pressKey(page, trust.getByRole("button", { name: "Set aside", exact: true }));
  await expect(trust.locator(".suspect")).toHaveCount(0);

  const levels = await openByKey(page, "Levels");
  await reach(page, levels.getByRole("slider", { name: "terrace: level" }));
  for (let i = 0; i < 6; i++) await page.keyboard.press("ArrowRight");
  await expect(levels.locator(".lever .aside")).toContainText("30 mm higher than kept");
  await pressKey(page, levels.getByRole("button", { name: "Keep", exact: true }));
  const level = () => empty.post<{ works: { name: string; definition: { level: string } }[] }>("site").then((s) => s.works.find((w) => w.name === "terrace")?.definition.level);
  await expect.poll(level).toBe("100.030");
  await settled(page);

  const price = await openByKey(page, "Price");
  const total = await totalSaid(empty);
  await expect.poll(async () => (await price.locator(".figure .amount b").first().textContent())!.replace(/\D/g, "")).toBe(total);
  const stakes = await openByKey(page, "Stakes");
  await pressKey(page, stakes.getByRole("button", { name: "Angle and distance" }));
  await expect(stakes.locator(".stakes li").first()).toContainText("turn");

  const out = page.locator(".hand-over");
  expect((await downloadByKey(page, out.getByRole("button", { name: /Plan, PDF/ }))).subarray(0, 5).toString()).toBe("%PDF-");
  expect((await downloadByKey(page, out.getByRole("button", { name: /^DXF/ }))).toString("latin1")).toContain("AC1015");
  expect((await downloadByKey(page, out.getByRole("button", { name: /Set-out list/ }))).toString()).toContain("TC1");
  expect((await downloadByKey(page, out.getByRole("button", { name: /Plan with stakes, PDF/ }))).subarray(0, 5).toString()).toBe("%PDF-");
});

test("the demo opens from the empty page", async ({ page, empty }) => {
  await visit(page, empty);
  await press(page, page.getByRole("button", { name: "Open the demo" }));
  await expect(page.getByLabel("Title of the job")).toHaveValue("Quillmarsh Rise, plot 7", { timeout: 60_000 });
  await expect(page.locator("#chapter-Price")).toBeVisible();
  await expect(page.locator(".chapter", { has: page.locator("#chapter-Trust") }).locator(".state")).toContainText("looks wrong");
});
