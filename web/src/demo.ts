// The demo's pages, as they were written in the field; the server hands them out beside the page.
import { Refused, call } from "./api/client";
import type { Work } from "./api/types";

interface DemoPage { kind: string; name: string; visit?: string; gear?: string; frame?: string }
interface Demo { title: string; pages: DemoPage[]; works: string }

async function text(name: string): Promise<string> {
  const response = await fetch(`/demo/${name}`);
  if (!response.ok) throw new Error("The demo is not installed beside this page; run ./dev build.");
  return response.text();
}

/** Takes the demo in page by page, as a contractor would. */
export async function openDemo(): Promise<void> {
  const demo = JSON.parse(await text("demo.json")) as Demo;
  await call("put-setting", { key: "title", value: demo.title });
  for (const { kind, ...page } of demo.pages) {
    try {
      await call("import", { page: kind, ...page, text: await text(page.name) });
    } catch (error) {
      if (error instanceof Refused) throw new Error(`${page.name}: ${error.message}`);
      throw error;
    }
  }
  const works = JSON.parse(await text(demo.works)) as (Work["definition"] & { name: string })[];
  for (const { name, ...definition } of works) await call("put-work", { name, definition });
}
