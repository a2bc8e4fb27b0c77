import { render } from "preact";
import "ol/ol.css";
import "./style/page.css";
import "./style/sheet.css";
import "./style/ledger.css";
import { job, listenToServer, refresh, sendKept, setLight } from "./job";
import { Ledger } from "./ledger/Ledger";
import { Sheet } from "./sheet/Sheet";

setLight(job.get().light);
render(<><Ledger /><Sheet /></>, document.getElementById("page")!);
listenToServer();
void refresh().then(sendKept);
