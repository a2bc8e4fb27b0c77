// Files that are no good, dropped on the page: each gets the sentence that the command line gives, at the same row, and the
// site stays as it was. Two are taken in all the same, with what was done to them said.
import { writeFileSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { spawnSync } from "node:child_process";
import { expect, open, press, program, settled, test, visit, type Job } from "./job";
import type { Page } from "@playwright/test";

const LARGE = 100_000_000;
const points = "point,easting (m),northing (m),elevation (m)\n";
const BAD: readonly { what: string; kind: string; body: Buffer | "large" }[] = [
  { what: "an empty file", kind: "tape", body: Buffer.alloc(0) },
  { what: "a binary file", kind: "tape", body: readFileSync(program).subarray(0, 5000) },
  { what: "a 100 MB page", kind: "tape", body: "large" },
  { what: "a missing unit", kind: "tape", body: Buffer.from("from,to,distance\nH1,H2,12.01\n") },
  { what: "a point twice", kind: "control", body: Buffer.from(`${points}Q1,100,200,99\nQ2,110,200,99\nQ1,105,200,99\n`) },
  { what: "not a number", kind: "control", body: Buffer.from(`${points}Q1,100,200,99\nQ2,110,NaN,99\n`) },
  { what: "a point far away", kind: "control", body: Buffer.from(`${points}Q1,100,200,99\nQ2,1e9,200,99\n`) },
  { what: "a feature that crosses itself", kind: "features", body: Buffer.from("feature,kind,code,point,edge,role\nbow,area,bed,H1,,\nbow,area,bed,H3,,\nbow,area,bed,H2,,\nbow,area,bed,H4,,\n") },
];
const MENDED: readonly { what: string; body: string; says: string }[] = [
  { what: "mixed line ends", body: "from,to,distance (m)\r\nH1,H3,15.01\nH2,H4,15.02\r\n", says: "line ends are mixed" },
  { what: "a byte-order mark", body: "\uFEFFfrom,to,distance (m)\nH1,H3,15.01\n", says: "byte-order mark" },
];

/** As a hand drops it: the page gets the file and nothing else. */
async function drop(page: Page, name: string, body: Buffer | "large"): Promise<void> {
  await page.evaluate(async ([fileName, base64, size]) => {
    const bytes = base64 === null ? ["1,2,3,4,5,6,7,8,9\n".repeat(Math.ceil((size as number) / 18))] : [Uint8Array.from(atob(base64 as string), (c) => c.charCodeAt(0))];
    const transfer = new DataTransfer();
    transfer.items.add(new File(bytes, fileName as string, { type: "text/csv" }));
    document.body.dispatchEvent(new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: transfer }));
  }, [name, body === "large" ? null : body.toString("base64"), LARGE] as const);
}

/* z = 50 + 0.02 e, a metre apart, and a mound of 1 m at its middle: the plane needs no points, the mound does. */
test("a scan comes in thinned; one that is none is refused", async ({ page, empty }) => {
  await visit(page, empty);
  const rows = Array.from({ length: 41 * 41 }, (_, i) => [i % 41, Math.floor(i / 41)] as const).map(([e, n]) => `${100 + e} ${200 + n} ${(50 + 0.02 * e + Math.max(0, 1 - Math.hypot(e - 20, n - 20) / 4)).toFixed(3)}`);
  await drop(page, "garden scan.xyz", Buffer.from(rows.join("\n") + "\n"));
  await drop(page, "broken.las", Buffer.from("LASF and nothing more"));
  const scan = page.locator(".waiting", { hasText: "garden scan.xyz" }), broken = page.locator(".waiting", { hasText: "broken.las" });
  await scan.getByLabel("off by at most").fill("20 mm");
  await press(page, page.getByRole("button", { name: "Take all 2 in" }));
  await expect(scan.locator(".fault")).toContainText("does not say its unit");
  await scan.getByLabel("unit").selectOption("m");
  await press(page, page.getByRole("button", { name: "Take all 2 in" }));
  await expect(broken.locator(".fault")).toContainText("header");
  await expect(scan).toHaveCount(0);
  await press(page, broken.getByRole("button", { name: "leave out" }));
  const site = (await empty.post("site")) as { pages: { name: string; rows: unknown[] }[] };
  expect(site.pages.map((p) => p.name)).toEqual(["garden-scan.xyz"]);
  expect(site.pages[0]!.rows.length).toBeGreaterThan(8);
  expect(site.pages[0]!.rows.length).toBeLessThan(41 * 41 / 4);
  const ground = (await empty.post("ground")) as { highest_m: number };
  expect(ground.highest_m).toBeCloseTo(51.4, 1);
});

/** "page.csv:3:2: sentence" of the program, on a copy of nothing: it refuses, so that the site may be the same one. */
function sentenceOf(job: Job, file: string, kind: string): { row: number; sentence: string } {
  const said = spawnSync(program, ["import", job.site, file, "--as", kind], { encoding: "utf8", cwd: job.folder }).stderr.trim();
  const m = /^[^:]+:(\d+):\d+: (.*)$/.exec(said);
  if (!m) throw new Error(`the program says no place: ${said}`);
  return { row: Number(m[1]), sentence: m[2]! };
}

test("bad files, dropped, give their sentences at the right row and leave the site as it was", async ({ page, demo }) => {
  test.setTimeout(180_000);
  await visit(page, demo);
  await open(page, "Field");
  await settled(page);
  const before = JSON.stringify([await demo.post("site"), await demo.post("history")]);
  for (const { what, kind, body } of BAD) {
    const name = `${kind}-bad.csv`;
    writeFileSync(join(demo.folder, name), body === "large" ? "1,2,3,4,5,6,7,8,9\n".repeat(Math.ceil(LARGE / 18)) : body);
    const { row, sentence } = sentenceOf(demo, name, kind);
    await drop(page, name, body);
    const file = page.locator(".waiting", { hasText: name });
    await expect(file, what).toBeVisible();
    const fault = file.locator(".fault");
    if (!(await fault.count())) {
      await file.getByRole("combobox").first().selectOption(kind);
      await press(page, page.getByRole("button", { name: "Take it in" }));
    }
    const said = page.locator(".waiting .fault, .notice.strong", { hasText: sentence });
    await expect(said, `${what}: ${sentence}`).toBeVisible();
    await expect(said, what).toContainText(`row ${row}`);
    await press(page, file.getByRole("button", { name: "leave out" }));
    await expect(file).toHaveCount(0);
  }
  expect(JSON.stringify([await demo.post("site"), await demo.post("history")])).toBe(before);
});

test("what can be mended is taken in, and said", async ({ page, demo }) => {
  await visit(page, demo);
  await open(page, "Field");
  for (const { what, body, says } of MENDED) {
    const name = `tape-${what.replace(/\W+/g, "-")}.csv`;
    await drop(page, name, Buffer.from(body));
    await expect(page.locator(".waiting", { hasText: name })).toBeVisible();
    await press(page, page.getByRole("button", { name: "Take it in" }));
    await expect(page.locator(".notice", { hasText: says }), what).toBeVisible();
    const rows = body.trim().split("\n").length - 1;
    await expect.poll(() => demo.post<{ pages: { name: string; rows: unknown[] }[] }>("site").then((s) => s.pages.find((p) => p.name === name)?.rows.length)).toBe(rows);
  }
});
