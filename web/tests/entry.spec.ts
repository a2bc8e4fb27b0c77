// Typing in the field: asked for, read back, kept, undone; units in any form.
import { expect, onPhone, open, press, settled, test, visit } from "./job";

test("a tape is typed on the keypad, read back, kept and undone", async ({ page, demo }) => {
  await visit(page, demo);
  const field = await open(page, "Field");
  await field.getByLabel("From", { exact: true }).fill("H1");
  await field.getByLabel("To", { exact: true }).fill("H3");
  for (const key of ["1", "5"]) await press(page, field.getByRole("button", { name: key, exact: true }));
  await press(page, field.getByRole("button", { name: "point", exact: true }));
  for (const key of ["0", "1", "2"]) await press(page, field.getByRole("button", { name: key, exact: true }));
  await expect(field.locator(".back")).toHaveText('H1 to H3: 15.012 m, that is 49\'-3"');
  await press(page, field.getByRole("button", { name: "Keep", exact: true }));
  await expect(field.locator(".back")).toContainText("Kept: Tape H1 to H3, 15.012 m");
  await expect(field.getByLabel("From", { exact: true })).toHaveValue("H3");
  await settled(page);
  const count = () => demo.post<{ pages: { name: string; rows: unknown[] }[] }>("site").then((s) => s.pages.filter((p) => p.name.startsWith("tape-")).flatMap((p) => p.rows).length);
  expect(await count()).toBe(1);
  await press(page, field.getByRole("button", { name: "Undo" }));
  await expect.poll(count).toBe(0);
});

test("levels are booked in order, in feet and inches", async ({ page, demo }) => {
  await visit(page, demo);
  await press(page, page.getByRole("button", { name: "imperial" }));
  const field = await open(page, "Field");
  await press(page, field.getByRole("button", { name: "Levels", exact: true }));
  await field.getByLabel("Point", { exact: true }).fill("BM1");
  await field.getByLabel("Staff reading").fill("4'-1 1/4\"");
  await expect(field.locator(".back")).toContainText("4'-1 1/4\", that is 1.251 m");
  await field.getByLabel("Staff reading").fill("4'-12\"");
  await expect(field.locator(".back")).toContainText("Inches go up to 12");
  await expect(field.getByRole("button", { name: "Keep", exact: true })).toBeDisabled();
  await field.getByLabel("Staff reading").fill("4'-1 1/4\"");
  await field.getByLabel("Staff reading").press("Enter");
  await expect(field.getByRole("button", { name: "intermediate" })).toHaveAttribute("aria-pressed", "true");
  const rows = () => demo.post<{ pages: { name: string; rows: { cells: string[] }[] }[] }>("site").then((s) => s.pages.find((p) => p.name.startsWith("levels-"))?.rows.map((r) => r.cells.slice(0, 2)));
  await expect.poll(rows).toEqual([["BM1", "1.2510"]].map(([p]) => [p, expect.stringMatching(/^1\.25/)]));
});

test("a feature is walked point by point", async ({ page, demo }) => {
  await visit(page, demo);
  const field = await open(page, "Field");
  await press(page, field.getByRole("button", { name: "Feature", exact: true }));
  await field.getByLabel("Name", { exact: true }).fill("new kerb");
  await field.getByLabel("What it is").fill("kerb");
  for (const point of ["TP1", "L1", "TP2"]) {
    await field.getByLabel("Next point", { exact: true }).fill(point);
    await field.getByLabel("Next point", { exact: true }).press("Enter");
  }
  await expect(field.locator(".back")).toHaveText("new kerb: line of 3 points");
  await press(page, field.getByRole("button", { name: "Keep", exact: true }));
  const features = () => demo.post<{ features: { name: string; points: unknown[] }[] }>("site").then((s) => s.features.find((f) => f.name === "new kerb")?.points.length);
  await expect.poll(features).toBe(3);
});

test("bad pages give their sentence at the right row and change nothing", async ({ page, demo }) => {
  await visit(page, demo);
  await open(page, "Field");
  const before = await demo.post<{ revision: number }>("site");
  const bad = [
    { name: "tape-bad.csv", body: "from,to,distance (m)\nH1,H2,12.01\nH2,H3,\"9,5\"\n", says: "row 3" },
    { name: "levels-bad.csv", body: "point,backsight (m),foresight (m)\nBM1,1.2,\nX,,one\n", says: "row 3" },
    { name: "odd.csv", body: "alpha,beta\n1,2\n", says: "choose what it is" },
  ];
  for (const { name, body, says } of bad) {
    await page.locator(".drop input[type=file]").setInputFiles({ name, mimeType: "text/csv", buffer: Buffer.from(body) });
    const file = page.locator(".waiting", { hasText: name });
    if (says.startsWith("row")) {
      await press(page, page.getByRole("button", { name: "Take it in" }));
      await expect(page.locator(".notice.strong")).toContainText(name);
      await expect(page.locator(".notice.strong")).toContainText(says);
    } else await expect(file).toContainText(says);
    await press(page, file.getByRole("button", { name: "leave out" }));
  }
  expect((await demo.post<{ revision: number }>("site")).revision).toBe(before.revision);
});

test("units are switched at once, everywhere", async ({ page, demo }) => {
  await visit(page, demo);
  const lowest = page.locator(".figure", { hasText: "Lowest ground" }).locator(".amount");
  await expect(lowest).toContainText("97.9");
  await press(page, page.getByRole("button", { name: "imperial" }));
  await expect(lowest).toContainText("321.");
  await expect(lowest).toContainText("ft");
  if (!onPhone(page)) await page.keyboard.press("Tab");
});
