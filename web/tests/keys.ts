// The keyboard alone: from control to control by Tab, each with a focus that is seen, as somebody without a mouse goes.
import type { Locator, Page } from "@playwright/test";
import { expect } from "./job";

const MOST = 500; /* controls between two of a way: more is no way that anybody goes */

/** What has the focus, and whether it shows that. */
async function focused(page: Page): Promise<{ name: string; seen: boolean; body: boolean }> {
  return page.evaluate(() => {
    const e = document.activeElement as HTMLElement;
    const rings = [e, e.closest(".way, .drop") as HTMLElement | null].filter((x): x is HTMLElement => x !== null).map((x) => getComputedStyle(x));
    const seen = rings.some((s) => s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2);
    return { name: e.getAttribute("aria-label") ?? e.textContent?.trim().slice(0, 40) ?? e.tagName, seen, body: e === document.body };
  });
}

const has = (what: Locator): Promise<boolean> => what.evaluate((e) => e === document.activeElement);

/** Goes to a control by Tab, or by Shift and Tab. Fails where a focus is not seen, or where the keyboard cannot get there. */
export async function reach(page: Page, what: Locator, back = false): Promise<void> {
  await expect(what).toBeAttached();
  for (let i = 0; i < MOST; i++) {
    if (await has(what)) return;
    await page.keyboard.press(back ? "Shift+Tab" : "Tab");
    const at = await focused(page);
    if (!at.body) expect(at.seen, `the focus on "${at.name}" is seen`).toBe(true);
  }
  throw new Error(`the keyboard does not reach ${String(what)}`);
}

export async function pressKey(page: Page, what: Locator, back = false): Promise<void> {
  await reach(page, what, back);
  await page.keyboard.press("Enter");
}

/** Writes over what stands in a field. */
export async function write(page: Page, what: Locator, text: string, back = false): Promise<void> {
  await reach(page, what, back);
  await page.keyboard.press("Control+a");
  await page.keyboard.type(text);
}
