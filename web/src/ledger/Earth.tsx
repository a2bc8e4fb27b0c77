// Earth: the same soil in its three states, its loads, and where it comes from.
import { useEffect, useState } from "preact/hooks";
import { call, saidOf } from "../api/client";
import type { ElementVolume, Haul, Material } from "../api/types";
import { placesOfWork, plural, volumeSteps } from "../figures";
import { job } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { say, type Units } from "../units";
import { Beam } from "./Beam";
import { Part } from "./Chapter";
import { Why } from "./Figure";

const cubic = (v: number | null, units: Units) => (v !== null && v > 0.005 ? say("volume", Number(v.toFixed(1)), units).replace(/ .*$/, "") : "\u2013");

function Materials({ list, units }: { list: readonly Material[]; units: Units }) {
  return (
    <table class="figures">
      <caption class="hidden">Materials in their three states</caption>
      <thead><tr><th scope="col">{units === "imperial" ? "yd\u00b3" : "m\u00b3"}</th><th scope="col">bank</th><th scope="col">loose</th><th scope="col">compacted</th><th scope="col">loads</th></tr></thead>
      <tbody>{list.map((m) => <tr key={m.material}><th scope="row">{m.material}</th><td>{cubic(m.bank_m3, units)}</td><td>{cubic(m.loose_m3, units)}</td><td>{cubic(m.compacted_m3, units)}</td><td>{m.loads || "\u2013"}</td></tr>)}</tbody>
    </table>
  );
}

function Elements({ list, units }: { list: readonly ElementVolume[]; units: Units }) {
  const lead = (name: string) => { const place = placesOfWork(job.get(), name)[0]; if (place) leadTo(place); };
  return (
    <table class="figures">
      <caption class="hidden">Cut and fill of each element</caption>
      <thead><tr><th scope="col">{units === "imperial" ? "yd\u00b3" : "m\u00b3"}</th><th scope="col">&minus; cut</th><th scope="col">+ fill</th><th scope="col">strip</th></tr></thead>
      <tbody>
        {list.map((e) => (
          <tr key={e.element}>
            <th scope="row"><button class="place" onClick={() => lead(e.element)}>{e.element}</button></th>
            <td>{cubic(e.cut_m3, units)}<small>{say("volume", e.cut_interval_m3[0], units).replace(/ .*$/, "")} to {say("volume", e.cut_interval_m3[1], units).replace(/ .*$/, "")}</small></td>
            <td>{cubic(e.fill_m3, units)}<small>{say("volume", e.fill_interval_m3[0], units).replace(/ .*$/, "")} to {say("volume", e.fill_interval_m3[1], units).replace(/ .*$/, "")}</small></td>
            <td>{cubic(e.strip_m3 ?? 0, units)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** Which cut feeds which fill, by the shortest way; what is over leaves, what is short is brought. */
function Hauls() {
  const revision = useStore(job, (s) => s.revision);
  const units = useStore(job, (s) => s.units);
  const [haul, setHaul] = useState<Haul | null>(null);
  const [said, setSaid] = useState("");
  useEffect(() => {
    let current = true;
    call("haul").then((h) => { if (current) { setHaul(h); setSaid(""); } }, (error: unknown) => { if (current) { setHaul(null); setSaid(saidOf(error)); } });
    return () => {
      current = false;
    };
  }, [revision]);
  if (said) return <p class="quiet">{said}</p>;
  if (!haul?.hauls.length) return null;
  const way = (metres: number) => (metres > 0.5 ? `, ${say("length", Number(metres.toFixed(0)), units).replace(/\.0+ /, " ")} on the whole` : "");
  return (
    <Part title="What goes where">
      <ul class="plain-list">{haul.hauls.map((h) => <li key={`${h.from} ${h.to}`}>{h.from} to {h.to}: {cubic(h.bank_m3, units)} {units === "imperial" ? "yd\u00b3" : "m\u00b3"} in the bank, {plural(h.loads, "load")}{way(h.distance_m)}</li>)}</ul>
      <p class="quiet">{plural(haul.loads_away, "load")} away, {plural(haul.loads_in, "load")} in.</p>
    </Part>
  );
}

export function Earth() {
  const v = useStore(job, (s) => s.results.volume);
  const units = useStore(job, (s) => s.units);
  if (!v) return null;
  return (
    <>
      <Beam cut_m3={v.cut_m3} fill_m3={v.fill_m3} cut={v.cut_interval_m3} fill={v.fill_interval_m3} />
      <Part title="In the bank, on the lorry, rolled"><Materials list={v.materials} units={units} /></Part>
      {v.elements && v.elements.length > 0 && <Part title="Element by element"><Elements list={v.elements} units={units} /><Why of="the elements" steps={() => volumeSteps(job.get())} /></Part>}
      <Hauls />
      {v.uncovered_m2 > 0.05 && <p class="fault">! {say("area", v.uncovered_m2, units)} of the works lies outside the ground that was measured and is not counted. Measure levels there.</p>}
      {(v.cautions ?? []).map((c) => <p class="quiet" key={c}>{c}</p>)}
      <p class="quiet">Volumes are from stripped ground to formation. Before digging, ask where services lie and defer to local codes on batters and support.</p>
    </>
  );
}
