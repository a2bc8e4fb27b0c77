// The sheet: the plan in its frame, and the other ways to look at it.
import { useEffect, useRef, useState } from "preact/hooks";
import { call } from "../api/client";
import type { Level } from "../api/types";
import { addCorner, job, pickEnd } from "../job";
import { useStore } from "../store";
import type { XY } from "./arcs";
import { finderOf, workMarks, type WorkMark } from "./content";
import { Caption } from "./Caption";
import { drawSheet, type Lie, type Window } from "./frame";
import { sheet } from "./lead";
import { Plan } from "./map";
import { Relief } from "./Relief";
import { Section } from "./Section";
import { Strip } from "./Strip";
import { drawWorks } from "./works";

function windowOf(element: HTMLElement): Window {
  const { width, height } = element.getBoundingClientRect();
  return width < 560 ? { width, height, left: 7, top: 7, right: 7, bottom: 7 } : { width, height, left: 30, top: 14, right: 14, bottom: 28 };
}

/** Taps choose a place; while a line is being picked they give its ends. */
async function tapped(pixel: number[], coordinate: number[]): Promise<void> {
  const state = job.get();
  const place = sheet.plan?.placeAt(pixel) ?? null;
  if (state.drawing) {
    const known = place?.type === "point" ? finderOf(state)(place.name) : null;
    addCorner(known ? { name: (place as { name: string }).name, at: known } : { name: null, at: [coordinate[0]!, coordinate[1]!] });
    return;
  }
  if (state.picking) {
    const at = place?.type === "point" ? finderOf(state)(place.name) : null;
    pickEnd(at ?? [coordinate[0]!, coordinate[1]!]);
    return;
  }
  job.set({ place, line: state.view === "section" ? state.line : null, why: null });
  if (!place && state.results.ground) await levelThere(coordinate as XY);
}

async function levelThere(at: XY): Promise<void> {
  try {
    const level: Level = await call("elevation", { easting: at[0], northing: at[1] });
    job.set({ place: { type: "at", easting_m: at[0], northing_m: at[1], label: "ground", level } });
  } catch {
    /* outside the model: nothing to say about an empty place */
  }
}

export function Sheet() {
  const holder = useRef<HTMLDivElement>(null);
  const target = useRef<HTMLDivElement>(null);
  const frame = useRef<HTMLCanvasElement>(null);
  const view = useStore(job, (s) => s.view);
  const [, setReady] = useState(false);

  useEffect(() => {
    const [box, at, canvas] = [holder.current!, target.current!, frame.current!];
    const made = new Plan(at);
    sheet.plan = made;
    let marks: WorkMark[] = [];
    const draw = () => {
      const w = windowOf(box);
      const v = made.map.getView();
      const [east = 0, north = 0] = v.getCenter() ?? [];
      const known = made.extent() !== null;
      const lie: Lie = { east, north, resolution: known ? (v.getResolution() ?? 1) : 0, units: job.get().units, narrow: w.left < 20 };
      made.paintGround();
      drawSheet(canvas, w, lie, made.look.inks);
      if (known) drawWorks(canvas, w, lie, marks, job.get().chapter, made.look.inks);
    };
    const resize = () => {
      const w = windowOf(box);
      Object.assign(at.style, { left: `${w.left}px`, top: `${w.top}px`, width: `${w.width - w.left - w.right}px`, height: `${w.height - w.top - w.bottom}px` });
      made.map.updateSize();
      draw();
    };
    const watcher = new ResizeObserver(resize);
    watcher.observe(box);
    made.map.on("postrender", draw);
    made.map.on("singleclick", (event) => void tapped(event.pixel, event.coordinate));
    let [light, place] = [job.get().light, job.get().place];
    const redraw = () => {
      const state = job.get();
      if (state.light !== light) {
        light = state.light;
        made.relight();
      }
      made.show(state);
      marks = workMarks(state);
      const fly = state.place !== place && !job.get().picking;
      place = state.place;
      made.mark(state, state.place, state.line, fly && sheet.flying);
      sheet.flying = false;
      draw();
    };
    let waiting = 0;
    const stop = job.listen(() => {
      waiting ||= requestAnimationFrame(() => {
        waiting = 0;
        redraw();
      });
    });
    resize();
    redraw();
    setReady(true);
    return () => {
      stop();
      cancelAnimationFrame(waiting);
      watcher.disconnect();
      made.dispose();
      sheet.plan = null;
    };
  }, []);

  return (
    <main class={`sheet view-${view}`} aria-label="The sheet">
      <div class="ground" ref={holder}>
        <div class="plan" ref={target} tabIndex={0} role="application" aria-label="Plan of the site. Arrow keys move it, plus and minus zoom." />
        <canvas class="frame" ref={frame} aria-hidden="true" />
        {view === "relief" && <Relief />}
        <Caption />
      </div>
      {view === "section" && <Section />}
      <Strip />
    </main>
  );
}
