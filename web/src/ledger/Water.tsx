// Where water goes on the ground as it will be: it stands, runs to a building, runs off too slowly, or leaves.
import type { Drain } from "../api/types";
import { derive, isHeavy, job, type Place } from "../job";
import { leadTo } from "../sheet/lead";
import { useStore } from "../store";
import { Part } from "./Chapter";

interface Said { sentence: string; place?: Place; sign: string }

const at = (easting_m: number, northing_m: number, label: string): Place => ({ type: "at", easting_m, northing_m, label });

function standing(d: Drain): Said[] {
  return d.low_spots.map((s) => ({ sentence: s.sentence, sign: s.proven ? "!" : "?", place: at(s.easting_m, s.northing_m, `${Math.round(s.depth_m * 1000)} mm deep`) }));
}
function beside(d: Drain): Said[] {
  const rank = (towards: string) => ["building", "not proven", "level", "unknown", "away"].indexOf(towards);
  return [...d.buildings].sort((a, b) => rank(a.towards) - rank(b.towards)).map((b) => ({ sentence: b.sentence, sign: b.towards === "building" ? "!" : b.towards === "away" ? "\u2713" : "?", place: { type: "feature", name: b.feature } }));
}
/** A fall is in order where it is proven to reach the least that is usual; without one it is only said. */
function falling(d: Drain): Said[] {
  const sign = (f: Drain["falls"][number]) => (!f.limit ? "\u2013" : f.interval_percent[0] >= f.limit.least_percent - 1e-9 ? "\u2713" : f.interval_percent[1] < f.limit.least_percent ? "!" : "?");
  return d.falls.map((f) => ({ sentence: f.sentence, sign: sign(f), place: { type: "feature", name: f.feature } }));
}
const along = (d: Drain): Said[] => d.lines.map((l) => ({ sentence: l.sentence, sign: l.stands ? "!" : "\u2013" }));
const carrying = (d: Drain): Said[] => (d.flows ?? []).map((f) => ({ sentence: f.sentence, sign: f.enough === false ? "!" : f.enough ? "\u2713" : "\u2013" }));
const leaving = (d: Drain): Said[] => d.outfalls.slice(0, 5).map((o) => ({ sentence: o.sentence, sign: "\u2013", place: at(o.easting_m, o.northing_m, "leaves here") }));

const SIGN_WORDS: Record<string, string> = { "!": "wants a look", "?": "not proven", "\u2713": "in order", "\u2013": "for the record" };

function List({ title, said }: { title: string; said: readonly Said[] }) {
  if (!said.length) return null;
  return (
    <>
      <h4>{title}</h4>
      <ul class="signed">
        {said.map((s) => (
          <li key={s.sentence}><span class={`mark ${s.sign === "!" ? "strong" : ""}`} aria-hidden="true">{s.sign}</span><span><span class="hidden">{SIGN_WORDS[s.sign]}: </span>{s.place ? <button class="place" onClick={() => leadTo(s.place!)}>{s.sentence}</button> : s.sentence}</span></li>
        ))}
      </ul>
    </>
  );
}

export function Water() {
  const stored = useStore(job, (s) => s.results.drain);
  const live = useStore(job, (s) => s.live?.water);
  const shown = useStore(job, (s) => s.showWater);
  const heavy = useStore(job, isHeavy);
  const busy = useStore(job, (s) => s.slow.includes("drain"));
  const d = live ?? stored;
  if (!d && heavy) return <Part title="Where water goes"><div class="acts"><button disabled={busy} onClick={() => void derive("drain")}>{busy ? "Working it out\u2026" : "Work it out"}</button></div><p class="quiet">On a ground of this size it takes some seconds.</p></Part>;
  if (!d) return null;
  return (
    <Part title={live ? "Where water would go" : d.surface === "Finished" ? "Where water goes when it is built" : "Where water goes"}>
      <label class="tick"><input type="checkbox" checked={shown} onChange={(e) => job.set({ showWater: e.currentTarget.checked })} /> Show ponds and flow on the sheet</label>
      <List title="Stands" said={standing(d)} />
      <List title="Beside buildings" said={beside(d)} />
      <List title="Falls" said={falling(d)} />
      <List title="Along lines" said={along(d)} />
      <List title="Swales and pipes" said={carrying(d)} />
      <List title="Leaves" said={leaving(d)} />
      {d.warnings.map((w) => <p class="quiet" key={w}>{w}</p>)}
    </Part>
  );
}
