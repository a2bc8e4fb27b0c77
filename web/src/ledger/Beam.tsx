// Cut against fill on a beam: each a block as large as its volume, told by pattern, sign and word; the beam leans to the
// heavier side.
import { useStore } from "../store";
import { job } from "../job";
import { say, write } from "../units";

const MOST_TILT = 9; /* degrees: leans enough to be seen, little enough to read the words */

export interface BeamProps { cut_m3: number; fill_m3: number; cut?: readonly [number, number] | undefined; fill?: readonly [number, number] | undefined }

export function Beam({ cut_m3, fill_m3, cut, fill }: BeamProps) {
  const units = useStore(job, (s) => s.units);
  const all = Math.max(cut_m3 + fill_m3, 1e-9);
  const tilt = (MOST_TILT * (fill_m3 - cut_m3)) / all;
  const side = (v: number) => 12 + 44 * Math.sqrt(v / Math.max(cut_m3, fill_m3, 1e-9));
  const [a, b] = [side(cut_m3), side(fill_m3)];
  const words = (v: number, interval?: readonly [number, number]) => {
    const w = write("volume", v, units, interval);
    return { main: `${w.text} ${w.unit}`, band: w.low === undefined || interval?.[0] === null ? "" : `${w.low} to ${w.high}` };
  };
  const [c, f] = [words(cut_m3, cut), words(fill_m3, fill)];
  const net = cut_m3 - fill_m3;
  return (
    <div class="beam">
      <svg viewBox="0 0 320 112" aria-hidden="true">
        <defs>
          <pattern id="cut-strokes" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line class="cut-line" x1="0" y1="0" x2="0" y2="8" /></pattern>
          <pattern id="fill-dots" width="8" height="8" patternUnits="userSpaceOnUse"><circle class="fill-dot" cx="2" cy="2" r="1.5" /><circle class="fill-dot" cx="6" cy="6" r="1.5" /></pattern>
        </defs>
        <path class="stand" d="M160 76 L149 106 H171 Z" />
        <g transform={`rotate(${tilt.toFixed(2)} 160 74)`}>
          <line class="bar" x1="46" x2="274" y1="74" y2="74" />
          <rect class="cut-block" x={82 - a / 2} y={73 - a} width={a} height={a} fill="url(#cut-strokes)" />
          <rect class="fill-block" x={238 - b / 2} y={73 - b} width={b} height={b} fill="url(#fill-dots)" />
        </g>
      </svg>
      <dl>
        <div><dt>&minus; cut</dt><dd><b>{c.main}</b><small>{c.band}</small></dd></div>
        <div class="net"><dt>{net >= 0 ? "over" : "short"}</dt><dd><b>{say("volume", Math.abs(Number(net.toFixed(2))), units)}</b></dd></div>
        <div><dt>+ fill</dt><dd><b>{f.main}</b><small>{f.band}</small></dd></div>
      </dl>
    </div>
  );
}
