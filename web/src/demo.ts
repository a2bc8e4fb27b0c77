// The demo's pages as they were written in the field; they lie beside the built page.
import { change } from "./job";

interface DemoPage { kind: string; name: string; visit?: string; gear?: string }
const TITLE = "Quillmarsh Rise, plot 7";
const PAGES: readonly DemoPage[] = [
  { kind: "control", name: "control.csv", visit: "visit 1" },
  { kind: "angles", name: "angles.csv", visit: "visit 1" },
  { kind: "levels", name: "levels.csv", visit: "visit 1" },
  { kind: "legs", name: "legs.csv", visit: "visit 2" },
  { kind: "tape", name: "tape.csv", visit: "visit 2" },
  { kind: "offsets", name: "offsets.csv", visit: "visit 2" },
  { kind: "points", name: "rover.csv", visit: "visit 3", gear: "rover" },
  { kind: "features", name: "features.csv" },
  { kind: "stakes", name: "stakes.csv" },
  { kind: "prices", name: "prices.csv" },
  { kind: "built", name: "built.csv" },
];

async function text(name: string): Promise<string> {
  const response = await fetch(`/demo/${name}`);
  if (!response.ok) throw new Error("The demo is not beside this page; run ./dev build.");
  return response.text();
}

/** Takes the demo in page by page, as a contractor would; stops at the first that is refused. */
export async function openDemo(say: (sentence: string) => void): Promise<void> {
  const steps: (() => Promise<boolean>)[] = [
    () => change("put-setting", { key: "title", value: TITLE }, `Title: ${TITLE}`, true, false),
    () => change("put-setting", { key: "currency", value: "EUR" }, "Currency: EUR", true, false),
    ...PAGES.map(({ kind, ...page }) => async () => {
      say(`Taking in ${page.name}\u2026`);
      return change("import", { page: kind, ...page, text: await text(page.name) }, `Took in ${page.name} as ${kind}`, true, false);
    }),
    async () => change("works", { text: await text("works.json"), name: "works.json" }, "Took in works.json as works", true),
  ];
  for (const step of steps) if (!(await step())) return;
}
