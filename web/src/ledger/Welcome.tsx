// The first minute: three ways in.
import { useState } from "preact/hooks";
import { saidOf } from "../api/client";
import { openChapter, refresh } from "../job";
import { openDemo } from "../demo";
import { takeFiles } from "./TakeIn";

export function Welcome() {
  const [said, setSaid] = useState("");
  const demo = () => {
    setSaid("Laying out the demo\u2026");
    openDemo(setSaid).then(refresh).then(() => setSaid(""), (error: unknown) => setSaid(saidOf(error)));
  };
  return (
    <section class="welcome" aria-label="Three ways in">
      <p class="lead">An empty book and a clean sheet. Begin with what you have.</p>
      <label class="way">
        <input type="file" multiple accept=".csv,.txt,.json,text/csv" onChange={(e) => { if (e.currentTarget.files) void takeFiles(e.currentTarget.files); }} />
        <b>Drop a field page</b><span>or choose files: tape, level book, angles, points, features. The page says what each one is.</span>
      </label>
      <button class="way" onClick={() => openChapter("Field")}><b>Type a reading</b><span>One tape, one level, one corner at a time, on big keys.</span></button>
      <button class="way" onClick={demo}><b>Open the demo</b><span>An invented garden: several visits, a terrace, a shed base, and a tape that was read a metre wrong.</span></button>
      <p role="status" class="quiet">{said}</p>
    </section>
  );
}
