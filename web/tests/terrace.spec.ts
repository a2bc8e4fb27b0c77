// A terrace drawn on the sheet, made a pad with banks, its level dragged: cut and fill, banks and water follow, and every
// figure is what the operation gives.
import { expect, onPhone, open, press, settled, test, visit, type Job } from "./job";
import type { Locator, Page } from "@playwright/test";

interface Volumes { cut_m3: number; fill_m3: number; elements?: { element: string; cut_m3: number; fill_m3: number }[] }

/** "12.3 m³": as many decimals as its interval carries. */
const written = (text: string) => text.replace("m³", "").replace(/[^\d.]/g, "");
const beamOf = async (form: Locator) => (await form.locator(".beam dd b").allTextContents()).filter((_, i) => i !== 1).map(written);

/** What stands on the beam is the operation's, to what is written of it. */
async function agrees(form: Locator, asked: () => Promise<{ cut_m3: number; fill_m3: number }>): Promise<void> {
  await expect(async () => {
    const [beam, core] = [await beamOf(form), await asked()];
    const decimals = beam.map((text) => (text.split(".")[1] ?? "").length);
    expect(beam).toEqual([core.cut_m3.toFixed(decimals[0]), core.fill_m3.toFixed(decimals[1])]);
  }).toPass({ timeout: 15_000 });
}

async function tapSheet(page: Page, across: number, down: number): Promise<void> {
  const box = (await page.locator(".plan").boundingBox())!;
  const [x, y] = [box.x + across * box.width, box.y + down * box.height];
  await (onPhone(page) ? page.touchscreen.tap(x, y) : page.mouse.click(x, y));
  await page.waitForTimeout(350); /* a second tap at once would be a zoom */
}

const inkOf = (page: Page) => page.locator(".plan > canvas").first().evaluate((c: HTMLCanvasElement) => {
  const d = c.getContext("2d")!.getImageData(0, 0, c.width, c.height).data;
  let sum = 0;
  for (let i = 0; i < d.length; i += 4) sum = (sum * 31 + d[i]! + 3 * d[i + 1]! + 7 * d[i + 3]!) % 1_000_000_007;
  return sum;
});

const elementOf = (job: Job, definition: object, name: string) => job.post<Volumes>("preview-volume", { definition, whole: true }).then((v) => v.elements!.find((e) => e.element === name)!);

/** A pad's beam holds the banks that hang on it. */
const together = (v: Volumes, names: readonly string[]) => {
  const each = v.elements!.filter((e) => names.includes(e.element));
  return { cut_m3: each.reduce((sum, e) => sum + e.cut_m3, 0), fill_m3: each.reduce((sum, e) => sum + e.fill_m3, 0) };
};

test("draw a terrace, drag its level: cut and fill, banks and water follow", async ({ page, demo }, info) => {
  await visit(page, demo);
  await settled(page);
  const levels = await open(page, "Levels");
  await press(page, levels.getByRole("button", { name: "Draw an area" }));
  for (const [across, down] of [[0.3, 0.66], [0.46, 0.68], [0.45, 0.75], [0.29, 0.73]] as const) await tapSheet(page, across, down);
  await expect(levels.locator(".drawing p").first()).toContainText("4 corners");
  await levels.getByLabel("Name", { exact: true }).fill("lower terrace");
  await levels.getByLabel("What it is").fill("terrace");
  await press(page, levels.getByRole("button", { name: "Keep the outline" }));
  const form = levels.locator("li", { hasText: "lower terrace" }).locator(".work-form");
  await expect(form).toBeVisible();
  const slider = form.getByRole("slider", { name: "lower terrace: level" });
  const begun = await slider.inputValue();
  const pad = (level: string) => ({ name: "lower terrace", kind: "pad", in: "lower terrace", level });
  await agrees(form, () => demo.post<Volumes>("preview-volume", { definition: pad(Number(begun).toFixed(3)) }));
  await press(page, form.getByRole("button", { name: "Keep", exact: true }));
  await settled(page);

  await levels.getByLabel("Kind of element").selectOption("bank");
  await levels.getByLabel("Where it lies").selectOption("lower terrace");
  await press(page, levels.getByRole("button", { name: "Begin" }));
  const bank = levels.locator("li", { hasText: "lower terrace bank" }).locator(".work-form");
  const banked = { name: "lower terrace bank", kind: "bank", of: "lower terrace", cut: "1:1.5", fill: "1:2" };
  await agrees(bank, () => elementOf(demo, banked, "lower terrace bank"));
  await press(page, bank.getByRole("button", { name: "Keep", exact: true }));
  await settled(page);

  await press(page, levels.locator("button.item", { hasText: /^lower terrace level/ }));
  await expect(slider).toBeVisible();
  await slider.scrollIntoViewIfNeeded();
  await page.waitForTimeout(600);
  const before = await inkOf(page);
  const water = () => levels.locator(".signed li").allTextContents();
  const waterBefore = await water();
  const box = (await slider.boundingBox())!;
  if (onPhone(page)) {
    await slider.focus();
    for (let i = 0; i < 50; i++) await page.keyboard.press("ArrowLeft");
  } else {
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.25, box.y + box.height / 2, { steps: 25 });
  }
  await expect(form.locator(".lever .aside")).toContainText("lower than kept");
  const level = Number(await slider.inputValue()).toFixed(3);
  const both = ["lower terrace", "lower terrace bank"];
  await agrees(form, async () => together(await demo.post<Volumes>("preview-volume", { definition: pad(level), whole: true }), both));
  await expect(form).toContainText("With its banks.");
  const drain = await demo.post<{ low_spots: { sentence: string }[] }>("drain", { definition: pad(level), finished: true, drawn: true });
  await expect(levels.getByRole("heading", { name: "Where water would go" })).toBeVisible();
  for (const spot of drain.low_spots) await expect(levels.locator(".signed")).toContainText([spot.sentence]);
  expect(await water()).not.toEqual(waterBefore);
  await expect.poll(() => inkOf(page)).not.toBe(before);
  await page.screenshot({ path: info.outputPath("terrace.png") });
  if (!onPhone(page)) await page.mouse.up();

  await press(page, form.getByRole("button", { name: "Keep", exact: true }));
  await settled(page);
  const kept = () => demo.post<{ works: { name: string; definition: { level: string } }[] }>("site").then((s) => s.works.find((w) => w.name === "lower terrace")?.definition.level);
  await expect.poll(kept).toBe(level);
  await agrees(form, async () => together(await demo.post<Volumes>("volume"), both));
  const shape = (await demo.post<{ shape: { elements: string[]; faces: number[] } }>("preview-volume", { whole: true, "with-faces": true })).shape;
  const owners = new Set(shape.faces.filter((_, i) => i % 10 === 9).map((o) => shape.elements[o]));
  expect([...owners]).toContain("lower terrace bank"); /* it reaches daylight somewhere */
});

test("grade it for me: the levels that are laid are the operation's", async ({ page, demo }) => {
  await visit(page, demo);
  await settled(page);
  const levels = await open(page, "Levels");
  await press(page, levels.getByRole("button", { name: "Grade it for me" }));
  await levels.getByLabel("The cheapest levels in").selectOption("lower lawn");
  await levels.getByLabel("fall towards, degrees").fill("191");
  await levels.getByLabel("at least").fill("1:50");
  await levels.getByLabel("at most").fill("1:10");
  await press(page, levels.getByRole("button", { name: "Find them" }));
  const found = levels.locator("form", { hasText: "The cheapest levels" });
  await expect(found.locator(".beam")).toBeVisible({ timeout: 30_000 });
  const core = await demo.post<{ met: boolean; exact_cut_m3: number; exact_fill_m3: number }>("grade", { definition: { in: "lower lawn", spacing: "2", falls: [{ towards: 191, least: "1:50", most: "1:10" }], prices: { cut: 9, fill: 7, "cart away": 30, import: 38 } } });
  await agrees(found, async () => ({ cut_m3: core.exact_cut_m3, fill_m3: core.exact_fill_m3 }));
  await press(page, found.getByRole("button", { name: "Lay that plane" }));
  const form = levels.locator("li", { hasText: "lower lawn" }).locator(".work-form");
  await expect(form.locator(".beam")).toBeVisible();
  await levels.getByLabel("The cheapest levels in").isHidden();
});
