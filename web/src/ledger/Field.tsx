// Field: pages come in whole or are typed row by row; raw readings are shown as they came, and never erased.
import { useState } from "preact/hooks";
import type { Page, Row } from "../api/types";
import { change, job } from "../job";
import { useStore } from "../store";
import { Part } from "./Chapter";
import { Entry } from "./Entry";
import { TakeIn } from "./TakeIn";
import { Visits } from "./Visits";

const SHOWN = 200;

function RowLine({ page, row, columns, wrong }: { page: Page; row: Row; columns: readonly number[]; wrong: string | undefined }) {
  const [asking, setAsking] = useState(false);
  const aside = row.set_aside !== null;
  const turn = () => (aside ? void change("set-aside", { reading_id: row.id, "take-back": true }, `Took ${page.name} row ${row.line} back in`) : setAsking(!asking));
  return (
    <>
      <tr class={aside ? "aside-row" : wrong ? "wrong" : ""}>
        <th scope="row">{row.line}</th>
        {columns.map((c) => <td key={c}><span class="raw">{row.cells[c]}</span></td>)}
        <td><button class="plain" onClick={turn}>{aside ? "take back in" : "set aside"}</button></td>
      </tr>
      {(aside || wrong) && <tr class="told"><td colSpan={columns.length + 2}>{aside ? `set aside: ${row.set_aside}` : `! ${wrong}`}</td></tr>}
      {asking && <tr><td colSpan={columns.length + 2}><SetAside page={page.name} row={row.line} id={row.id} onDone={() => setAsking(false)} /></td></tr>}
    </>
  );
}

/** Sets a reading aside, with the reason that the history will show. */
export function SetAside({ page, row, id, onDone }: { page: string; row: number; id: number; onDone(): void }) {
  const [reason, setReason] = useState("looks wrong");
  const go = (event: Event) => {
    event.preventDefault();
    void change("set-aside", { reading_id: id, reason }, `Set aside ${page} row ${row}`).then(onDone);
  };
  return (
    <form class="reason" onSubmit={go}>
      <label>Because <input value={reason} onInput={(e) => setReason(e.currentTarget.value)} /></label>
      <button disabled={!reason.trim()}>Set aside</button>
    </form>
  );
}

function PageTable({ page }: { page: Page }) {
  const suspects = useStore(job, (s) => s.results.adjust?.suspects) ?? [];
  const [all, setAll] = useState(false);
  const wrong = new Map(suspects.filter((s) => s.page === page.name).map((s) => [s.row, s.sentence]));
  const columns = page.columns.map((_, c) => c).filter((c) => page.rows.some((r) => r.cells[c]));
  const rows = all ? page.rows : page.rows.slice(0, SHOWN);
  return (
    <div class="page-table">
      <p class="quiet">{page.visit}{page.gear && `, ${page.gear}`}{page.site_frame && ", in the site's frame"}</p>
      <table>
        <caption class="hidden">Rows of {page.name}, as they came</caption>
        <thead><tr><th scope="col">row</th>{columns.map((c) => <th scope="col" key={c}>{page.columns[c]}</th>)}<th scope="col"><span class="hidden">what to do</span></th></tr></thead>
        <tbody>{rows.map((row) => <RowLine key={row.id} page={page} row={row} columns={columns} wrong={wrong.get(row.line)} />)}</tbody>
      </table>
      {page.rows.length > rows.length && <button class="plain" onClick={() => setAll(true)}>show all {page.rows.length} rows</button>}
    </div>
  );
}

export function Field() {
  const pages = useStore(job, (s) => s.site?.pages) ?? [];
  const features = useStore(job, (s) => s.site?.features) ?? [];
  const [open, setOpen] = useState<string | null>(null);
  return (
    <>
      <Part title="Type a reading"><Entry /></Part>
      <Part title="Take pages in"><TakeIn /></Part>
      {pages.length > 0 && <Part title="Visits and gear"><Visits /></Part>}
      {pages.length > 0 && (
        <Part title="Pages as they came">
          <ul class="list">
            {pages.map((page) => (
              <li key={page.name}>
                <button class="item" aria-expanded={open === page.name} onClick={() => setOpen(open === page.name ? null : page.name)}>
                  <span>{page.name} <small>{page.kind}, {page.visit}</small></span><span class="count">{page.rows.length}</span>
                </button>
                {open === page.name && <PageTable page={page} />}
              </li>
            ))}
          </ul>
          {features.length > 0 && <p class="quiet">{features.length} features. Tap one on the sheet for its length and area.</p>}
        </Part>
      )}
    </>
  );
}
