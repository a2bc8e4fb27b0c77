// The 3-D way to look: its canvas, and the one control that it needs, by how much heights are drawn.
import { useEffect, useRef, useState } from "preact/hooks";
import { job } from "../job";
import { useStore } from "../store";
import { readInks } from "./ink";
import { sheet } from "./lead";
import type { ReliefView } from "./relief";

export function Relief() {
  const canvas = useRef<HTMLCanvasElement>(null);
  const view = useRef<ReliefView | null>(null);
  const [times, setTimes] = useState(3);
  const [said, setSaid] = useState("Raising the ground\u2026");
  const mesh = useStore(job, (s) => s.mesh);
  const finished = useStore(job, (s) => s.finished);
  const light = useStore(job, (s) => s.light);
  const [willBe, setWillBe] = useState(true);
  const surface = willBe && finished ? finished : null;
  useEffect(() => {
    if (!mesh?.triangles.length) {
      setSaid("There is no ground to raise yet.");
      return;
    }
    let gone = false;
    import("./relief").then(({ showRelief }) => {
      if (gone || !canvas.current) return;
      sheet.relief = view.current = showRelief(canvas.current, job.get(), readInks(), times, surface);
      setSaid("");
    }, () => setSaid("The 3-D view could not be loaded; is the server away?"));
    return () => {
      gone = true;
      view.current?.dispose();
      sheet.relief = view.current = null;
    };
  }, [mesh, light, surface]);
  const turn = (event: KeyboardEvent) => {
    const by = { ArrowLeft: -0.15, ArrowRight: 0.15 }[event.key];
    if (by) { view.current?.turn(by); event.preventDefault(); }
  };
  return (
    <div class="relief">
      <canvas ref={canvas} tabIndex={0} role="img" aria-label="The ground in three dimensions. Left and right arrows turn it." onKeyDown={turn} />
      {said && <p class="quiet" role="status">{said}</p>}
      <div class="how">
      {finished && <div class="states" role="group" aria-label="The ground">{[false, true].map((state) => <button key={String(state)} aria-pressed={willBe === state} onClick={() => setWillBe(state)}>{state ? "as it will be" : "as it is"}</button>)}</div>}
      <label class="heights">Heights drawn {times} times <input type="range" min={1} max={10} step={1} value={times} onInput={(e) => { const v = Number(e.currentTarget.value); setTimes(v); view.current?.exaggerate(v); }} /></label>
      </div>
    </div>
  );
}
