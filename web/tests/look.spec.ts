// Seen and operated by everybody: axe in three lights, targets for a thumb, keyboard, nothing by colour alone.
import AxeBuilder from "@axe-core/playwright";
import { expect, onPhone, open, press, settled, test, visit } from "./job";

const CHAPTERS = ["Field", "Trust", "Ground", "Levels", "Earth", "Price", "Stakes", "Proof"];

/** What unfolds inside a chapter is looked at as well. */
const UNFOLDS: Record<string, readonly string[]> = { Field: ["name a gear of your own", "write a whole page"], Trust: ["plan it before you go", "Two pegs", "Level book"], Levels: ["write it as text", "Grade it for me", "Draw an area"] };

for (const light of ["paper", "night", "sun"]) {
  test(`axe finds nothing, ${light}`, async ({ page, demo }, info) => {
    test.setTimeout(240_000);
    await page.addInitScript((l) => localStorage.setItem("merestone.light", l), light);
    await visit(page, demo);
    await settled(page);
    await page.screenshot({ path: info.outputPath(`${light}-closed.png`) });
    for (const chapter of CHAPTERS) {
      await open(page, chapter);
      await settled(page);
      await page.waitForTimeout(250);
      await page.screenshot({ path: info.outputPath(`${light}-${chapter}.png`) });
      for (const word of UNFOLDS[chapter] ?? []) await press(page, page.locator(`#inside-${chapter}`).getByRole("button", { name: word, exact: true }).first());
      await settled(page);
      const found = await new AxeBuilder({ page }).analyze();
      expect(found.violations.map((v) => `${chapter}: ${v.id} ${v.nodes.map((n) => n.target.join(" ")).slice(0, 3).join(", ")}`)).toEqual([]);
    }
  });
}

test("axe finds nothing on the empty page", async ({ page, empty }) => {
  await visit(page, empty);
  expect((await new AxeBuilder({ page }).analyze()).violations.map((v) => v.id)).toEqual([]);
});

test("targets are 48 px for a thumb", async ({ page, demo }) => {
  test.skip(!onPhone(page), "the phone's rule");
  await visit(page, demo);
  for (const chapter of CHAPTERS) {
    await open(page, chapter);
    await settled(page);
    const small = await page.evaluate(() => [...document.querySelectorAll<HTMLElement>("button, select, input:not([type=file]):not([type=checkbox])")].filter((e) => e.offsetParent && !e.closest("datalist")).flatMap((e) => {
      const box = (e.closest("label.wide, .pair label, .tick, .along label, .reason label, .reading") ?? e).getBoundingClientRect();
      const handle = e.classList.contains("handle"); /* its ::before reaches over the edge */
      return !handle && (box.height < 47.5 || (e.tagName === "BUTTON" && box.width < 28)) ? [`${e.tagName} ${e.className} "${e.textContent?.slice(0, 20)}" ${Math.round(box.width)}x${Math.round(box.height)}`] : [];
    }));
    expect(small, chapter).toEqual([]);
  }
});

test("every control by keyboard, with a focus that is seen", async ({ page, demo }) => {
  test.skip(onPhone(page), "keyboards stand on desks");
  await visit(page, demo);
  await settled(page);
  const reached = new Set<string>();
  for (let i = 0; i < 70; i++) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement as HTMLElement;
      const style = getComputedStyle(e);
      const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
      return { name: e.getAttribute("aria-label") ?? e.textContent?.trim().slice(0, 40) ?? "", seen, body: e === document.body };
    });
    if (at.body) continue;
    expect(at.seen, `focus on ${at.name}`).toBe(true);
    reached.add(at.name);
  }
  for (const chapter of CHAPTERS) expect([...reached].some((n) => n.includes(chapter)), chapter).toBe(true);
  await page.locator("#chapter-Ground button").focus();
  await page.keyboard.press("Enter");
  await expect(page.locator("#inside-Ground")).toBeVisible();
  await page.locator(".plan").focus();
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("+");
});

test("a figure opens its chain and leads to its place", async ({ page, demo }, info) => {
  await visit(page, demo);
  await settled(page);
  const cut = page.locator(".figure", { hasText: "Cut, in the bank" });
  await press(page, cut.locator(".row"));
  await expect(cut.locator(".chain")).toContainText("decided");
  await expect(cut.locator(".chain")).toContainText("read");
  await expect(cut.locator(".chain")).toContainText("follows");
  await page.screenshot({ path: info.outputPath("why.png") });
  await press(page, cut.locator(".chain .place").first());
});

test("find, measure, section and the standing ground", async ({ page, demo }, info) => {
  await visit(page, demo);
  await settled(page);
  const find = page.getByLabel("Find a point, feature or stake by name");
  await find.fill("H4");
  await find.press("Enter");
  await expect(page.locator(".caption")).toContainText("H4");
  await expect(page.locator(".caption")).toContainText("level");
  await page.screenshot({ path: info.outputPath("found.png") });
  await find.fill("terrace");
  await find.press("Enter");
  await expect(page.locator(".caption")).toContainText("area");
  await press(page, page.getByRole("button", { name: "Section", exact: true }));
  await page.getByLabel("or between").fill("BD1 to L2");
  await page.getByLabel("or between").press("Enter");
  await expect(page.locator(".profile .surface").first()).toBeAttached();
  await expect(page.locator(".along")).toContainText("from end to end");
  await page.screenshot({ path: info.outputPath("section.png") });
  await press(page, page.getByRole("button", { name: "3-D" }));
  await expect(page.locator(".relief .quiet")).toHaveCount(0, { timeout: 30_000 });
  await page.waitForTimeout(500);
  const inked = await page.locator(".relief canvas").evaluate((c: HTMLCanvasElement) => {
    const copy = document.createElement("canvas");
    [copy.width, copy.height] = [c.width, c.height];
    const g = copy.getContext("2d")!;
    g.drawImage(c, 0, 0);
    const d = g.getImageData(0, 0, c.width, c.height).data;
    const seen = new Set<number>();
    for (let i = 0; i < d.length; i += 4 * 37) seen.add((d[i]! << 16) | (d[i + 1]! << 8) | d[i + 2]!);
    return seen.size;
  });
  expect(inked).toBeGreaterThan(20);
  await page.screenshot({ path: info.outputPath("relief.png") });
});
