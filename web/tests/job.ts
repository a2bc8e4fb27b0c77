// A site and its server for one test: the real program on a port of its own, in a folder of its own.
import { test as base, expect, type Locator, type Page } from "@playwright/test";
import { spawn, spawnSync, type ChildProcess } from "node:child_process";
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("../../", import.meta.url));
export const program = process.env["MERESTONE_PROGRAM"] ?? join(root, "build/merestone");
export const examples = join(root, "examples");
export const example = (name: string) => join(examples, name);

const freePort = () => new Promise<number>((done) => {
  const probe = createServer().listen(0, "127.0.0.1", () => {
    const { port } = probe.address() as { port: number };
    probe.close(() => done(port));
  });
});

export const DEMO: readonly (readonly string[])[] = [
  ["control.csv", "control", "--visit", "visit 1"], ["angles.csv", "angles", "--visit", "visit 1"], ["levels.csv", "levels", "--visit", "visit 1"],
  ["legs.csv", "legs", "--visit", "visit 2"], ["tape.csv", "tape", "--visit", "visit 2"], ["offsets.csv", "offsets", "--visit", "visit 2"],
  ["rover.csv", "points", "--visit", "visit 3", "--gear", "rover"], ["features.csv", "features"], ["stakes.csv", "stakes"], ["prices.csv", "prices"], ["built.csv", "built"],
];

export class Job {
  private server: ChildProcess | null = null;
  readonly folder = mkdtempSync(join(tmpdir(), "merestone-page-"));
  readonly site = join(this.folder, "site.gpkg");
  constructor(readonly port: number) {}
  get address() { return `http://127.0.0.1:${this.port}/`; }

  run(...words: string[]): string {
    const done = spawnSync(program, words, { encoding: "utf8" });
    if (done.status === null || done.status > 1) throw new Error(`merestone ${words.join(" ")}: ${done.stderr}`);
    return done.stdout;
  }
  make(): void { this.run("new", this.site, "--title", "Trial plot"); }
  fill(): void {
    for (const [name, kind, ...rest] of DEMO) this.run("import", this.site, example(name!), "--as", kind!, ...rest);
    this.run("works", this.site, "--file", example("works.json"));
    this.run("set", this.site, "currency", "EUR");
  }
  async start(): Promise<void> {
    const server = spawn(program, ["serve", this.site, "--port", String(this.port), "--web", join(root, "web/dist")]);
    this.server = server;
    await new Promise<void>((ready, failed) => {
      server.stdout!.on("data", (text: Buffer) => text.toString().includes("is open at") && ready());
      server.on("exit", (code) => failed(new Error(`the server ended with ${code}`)));
    });
  }
  /** Ends the server at once, as a power cut would. */
  async kill(): Promise<void> {
    const { server } = this;
    this.server = null;
    if (!server) return;
    server.removeAllListeners("exit");
    const gone = new Promise((done) => server.once("exit", done));
    server.kill("SIGKILL");
    await gone;
  }
  async post<T>(operation: string, args: object = {}): Promise<T> {
    const response = await fetch(`${this.address}api/${operation}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(args) });
    return (await response.json()) as T;
  }
  async end(): Promise<void> {
    await this.kill();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** `empty`: a site with nothing in it; `demo`: the demo's pages and works taken in. A page that complains fails its test. */
export const test = base.extend<{ empty: Job; demo: Job; quiet: void }, { filled: Job }>({
  /* Made once for all tests of a worker, copied for each. */
  filled: [async ({}, use) => {
    const job = new Job(0);
    job.make();
    job.fill();
    await use(job);
    await job.end();
  }, { scope: "worker" }],
  empty: async ({}, use) => {
    const job = new Job(await freePort());
    job.make();
    await job.start();
    await use(job);
    await job.end();
  },
  demo: async ({ filled }, use) => {
    const job = new Job(await freePort());
    copyFileSync(filled.site, job.site);
    await job.start();
    await use(job);
    await job.end();
  },
  quiet: [async ({ page }, use, info) => {
    const complaints: string[] = [];
    page.on("pageerror", (error) => complaints.push(error.message));
    page.on("console", (message) => { if (message.type() === "error" && !/ERR_CONNECTION|409|net::ERR|Failed to load resource/.test(message.text())) complaints.push(message.text()); });
    await use();
    if (info.status === info.expectedStatus) expect(complaints).toEqual([]);
  }, { auto: true }],
});
export { expect };

export const onPhone = (page: Page): boolean => (page.viewportSize()?.width ?? 0) < 760;
export const text = (name: string): string => readFileSync(example(name), "utf8");

/** Presses by thumb on the phone, by mouse on the desk. */
export const press = (page: Page, what: Locator): Promise<void> => (onPhone(page) ? what.tap() : what.click());

export async function open(page: Page, chapter: string): Promise<Locator> {
  const section = page.locator(".chapter", { has: page.locator(`#chapter-${chapter}`) });
  const button = section.locator("h2 button");
  if ((await button.getAttribute("aria-expanded")) !== "true") await press(page, button);
  await expect(button).toHaveAttribute("aria-expanded", "true");
  return section;
}

export async function visit(page: Page, job: Job): Promise<void> {
  await page.goto(job.address);
  await expect(page.locator(".chapter, .welcome").first()).toBeVisible();
}
/** Waits until nothing is being worked out. */
export async function settled(page: Page, timeout = 15_000): Promise<void> {
  await page.waitForLoadState("networkidle", { timeout: 2000 }).catch(() => undefined); /* the event stream stays open */
  await expect(page.locator(".busy")).toHaveCount(0, { timeout });
}
