// Ground: what the model is made of, and how it is drawn.
import { derive, job } from "../job";
import { useStore } from "../store";
import { say, readLength, type Units } from "../units";
import { Part } from "./Chapter";

const STEPS: Record<Units, readonly [string, number][]> = {
  metric: [["0.05 m", 0.05], ["0.1 m", 0.1], ["0.25 m", 0.25], ["0.5 m", 0.5], ["1 m", 1]],
  imperial: [["3 in", 0.0762], ["6 in", 0.1524], ["1 ft", 0.3048], ["2 ft", 0.6096]],
};

export function Ground() {
  const g = useStore(job, (s) => s.results.ground);
  const units = useStore(job, (s) => s.units);
  const interval = useStore(job, (s) => s.interval_m);
  const triangles = useStore(job, (s) => s.showTriangles);
  const setInterval = (text: string) => {
    const typed = readLength(text, "m");
    if ("metres" in typed && typed.metres > 0) {
      job.set({ interval_m: typed.metres });
      void derive("contours");
    }
  };
  if (!g) return null;
  return (
    <>
      {g.warnings.length > 0 && <Part title="To look at"><ul class="plain-list">{g.warnings.map((w) => <li key={w}>{w}</li>)}</ul></Part>}
      <Part title="On the sheet">
        <label class="wide">A contour every <select value={String(interval)} onChange={(e) => setInterval(e.currentTarget.value)}>
          {!STEPS[units].some(([, v]) => v === interval) && <option value={String(interval)}>{say("length", interval, units)}</option>}
          {STEPS[units].map(([word, value]) => <option key={word} value={String(value)}>{word}</option>)}
        </select></label>
        <label class="tick"><input type="checkbox" checked={triangles} onChange={(e) => job.set({ showTriangles: e.currentTarget.checked })} /> Show the triangles</label>
        <p class="quiet">Tap anywhere on the ground for its level there; Section, below the sheet, cuts through it.</p>
      </Part>
      <Part title="Made of">
        <p>{g.points} levels, {g.triangles} triangles; {say("area", g.plan_area_m2, units)} in plan, {say("area", g.slope_area_m2, units)} along the slope.</p>
      </Part>
    </>
  );
}
