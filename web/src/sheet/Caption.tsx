// One line at the foot of the drawing on what was tapped: its figures, and what to ask of it.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { AdjustedPoint, Level, Measure } from "../api/types";
import { about, levelSteps, pointSteps, type Step } from "../figures";
import { job, type Place } from "../job";
import { Chain, Amount } from "../ledger/Figure";
import { useStore } from "../store";
import { lengthElsewhere, lengthSaid, slopeSaid } from "../units";
import { lengthOf } from "./arcs";

function useMeasure(name: string | null, revision: number): { measure: Measure | null; said: string } {
  const [answer, setAnswer] = useState<{ measure: Measure | null; said: string }>({ measure: null, said: "" });
  useEffect(() => {
    setAnswer({ measure: null, said: "" });
    if (name === null) return;
    let current = true;
    call("measure", { feature: name }).then(
      (measure) => current && setAnswer({ measure, said: "" }),
      (error: unknown) => current && setAnswer({ measure: null, said: saidOf(error) }),
    );
    return () => {
      current = false;
    };
  }, [name, revision]);
  return answer;
}

function PointFigures({ p }: { p: AdjustedPoint }) {
  const readings = p.readings <= 1 ? "one reading only: nothing checks it" : `${p.readings} readings`;
  return (
    <>
      {p.easting_m !== null && <Amount label="E" kind="length" value={p.easting_m} interval={about(p.easting_m, p.sd_easting_m)} />}
      {p.northing_m !== null && <Amount label="N" kind="length" value={p.northing_m} interval={about(p.northing_m, p.sd_northing_m)} />}
      {p.elevation_m !== null && <Amount label="level" kind="level" value={p.elevation_m} interval={about(p.elevation_m, p.sd_elevation_m)} />}
      <span class="aside">{readings}</span>
    </>
  );
}

function FeatureFigures({ name }: { name: string }) {
  const revision = useStore(job, (s) => s.revision);
  const feature = useStore(job, (s) => s.site?.features.find((f) => f.name === name));
  const { measure, said } = useMeasure(feature && feature.kind !== "spot" ? name : null, revision);
  if (said) return <span class="aside">{said}</span>;
  if (!measure) return <span class="aside">{feature?.code}</span>;
  return (
    <>
      {measure.length_m !== null && <Amount label={feature?.kind === "area" ? "round" : "length"} kind="length" value={measure.length_m} interval={measure.length_m_interval} />}
      {measure.area_m2 !== null && <Amount label="area" kind="area" value={measure.area_m2} interval={measure.area_m2_interval} />}
    </>
  );
}

function LevelFigures({ level }: { level: Level }) {
  const units = useStore(job, (s) => s.units);
  return (
    <>
      <Amount label="level" kind="level" value={level.elevation_m} interval={level.interval_m} />
      <span class="aside">{level.slope_percent > 0.05 && `falls ${slopeSaid(level.slope_percent / 100, units)}`}</span>
    </>
  );
}

function LineCaption({ line }: { line: readonly [number, number][] }) {
  const units = useStore(job, (s) => s.units);
  const picking = useStore(job, (s) => s.picking);
  if (line.length < 2) return <p class="caption" role="status"><b>{picking === "section" ? "Section" : "Measure"}</b> <span>Tap the other end.</span></p>;
  const metres = lengthOf([...line]);
  const bearing = ((Math.atan2(line[1]![0] - line[0]![0], line[1]![1] - line[0]![1]) * 180) / Math.PI + 360) % 360;
  return (
    <p class="caption" role="status">
      <b>{lengthSaid(metres, units)}</b> <span class="aside">{lengthElsewhere(metres, units)}, bearing {bearing.toFixed(1)}&deg;, straight in plan</span>
      <button onClick={() => job.set({ line: null })}>Done</button>
    </p>
  );
}

const stepsOf = (place: Place): Step[] => {
  const state = job.get();
  if (place.type === "at" && place.level) return levelSteps(state, place);
  if (place.type !== "point") return [];
  const p = state.results.adjust?.points.find((x) => x.point === place.name);
  return p ? pointSteps(state, p) : [];
};

export function Caption() {
  const place = useStore(job, (s) => s.place);
  const line = useStore(job, (s) => s.line);
  const picking = useStore(job, (s) => s.picking);
  const points = useStore(job, (s) => s.results.adjust?.points);
  const view = useStore(job, (s) => s.view);
  const [why, setWhy] = useState(false);
  useEffect(() => setWhy(false), [place]);
  const drawing = useStore(job, (s) => s.drawing);
  if (view === "relief") return null;
  if (drawing) return <p class="caption" role="status"><b>Drawing</b> <span>{drawing.corners.length ? "Tap the next corner; points catch it." : "Tap where the outline starts."}</span></p>;
  if (line && (line.length || picking) && view !== "section") return <LineCaption line={line} />;
  if (picking) return <p class="caption" role="status"><b>{picking === "section" ? "Section" : "Measure"}</b> <span>Tap where the line starts.</span></p>;
  if (!place || place.type === "between") return null;
  const point = place.type === "point" ? points?.find((p) => p.point === place.name) : undefined;
  const steps = why ? stepsOf(place) : [];
  return (
    <div class="caption" role="status">
      {steps.length > 0 && <Chain steps={steps} />}
      <div class="line">
        <b>{place.type === "at" ? place.label || "here" : place.name}</b>
        {point && <PointFigures p={point} />}
        {place.type === "at" && place.level && <LevelFigures level={place.level} />}
        {place.type === "feature" && <FeatureFigures name={place.name} />}
        <span class="acts">
          {(point || (place.type === "at" && place.level)) && <button aria-expanded={why} onClick={() => setWhy(!why)}>Why?</button>}
          {point && <button onClick={() => job.set({ line: [[point.easting_m ?? 0, point.northing_m ?? 0]], picking: "measure" })}>Measure from</button>}
          <button aria-label="Let go of this place" onClick={() => job.set({ place: null })}>Let go</button>
        </span>
      </div>
    </div>
  );
}
