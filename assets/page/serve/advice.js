// The advice: it runs by itself when the page rests, and says which settings are best. Its report stands in a tab.

import { reportAddress, reportText } from "./door.js";
import { worker } from "./jobs.js";
import { save } from "./files.js";
import { button, make } from "./make.js";
import { reader } from "./reader.js";
import { keyOf } from "./state.js";

// After the last change.
const REST_MS = 700;
const TRIALS = 20000;

// `compare(before, after, act)` shows two states side by side; `report` is the place of the whole report, to which an engine adds
// `engineBytes`; `told()` hears of news.
export function advice(place, report, store, engineBytes, compare, told) {
  const words = make("p", { class: "lead", id: "headline", role: "status" }, place);
  const acts = make("p", { class: "row" }, place);
  const apply = button(acts, "Apply", () => store.change(null, (s) => { s.rig = found.rig; }), { id: "apply", class: "main", disabled: true });
  const side = button(acts, "Compare", () => compare(found.state, { ...found.state, rig: found.rig }, apply), { id: "compare", disabled: true });
  const flips = make("input", { type: "checkbox", id: "advice-flips" });
  make("label", { class: "soft" }, acts).append(flips, "also after a meridian flip");
  const again = button(acts, "Look again", () => begin(), { id: "look-again", class: "small", hidden: true });
  // In the row of buttons, and below it room for a line: what comes and goes would push the dial from under a hand.
  const work = worker(acts, "advice");
  const gain = make("p", { id: "gain", class: "soft" }, place);
  const line = make("p", { class: "row" }, report, "");
  const note = make("span", { role: "status" }, line);
  const open = make("a", { target: "_blank", rel: "noopener", hidden: true }, line, "Open in its own tab");
  const keep = button(line, "Save the report", async () => {
    const text = await reportText(found.id, engine.checked);
    if (text) save("report.html", text, "text/html");
    else note.textContent = "The report is gone. Look again.";
  }, { hidden: true });
  const carries = make("label", { class: "soft", hidden: true }, line);
  const engine = make("input", { type: "checkbox", id: "report-engine", checked: true }, carries);
  carries.append(`with its engine (${(engineBytes / 1e6).toFixed(1)} MB): a reader can try other settings`);
  const page = reader(report, "Report of the advice");
  let reading = false;
  const load = () => { if (reading && found) page(found.id); };
  // The newest advice, with the state that it is for.
  let found = null;
  let timer = 0;
  let asked = "";

  const keyWith = (s) => keyOf(s) + flips.checked;
  const current = () => found !== null && found.key === keyWith(store.state);

  function show(said) {
    const now = current();
    place.classList.toggle("outdated", !now);
    words.textContent = said ?? (now ? found.headline : found ? "Of other settings: " + found.headline : "Looking for the best settings.");
    gain.textContent = now ? found.gain : "";
    apply.disabled = !now || found.changes.length === 0;
    side.disabled = !now || found.changes.length === 0;
    note.textContent = now ? "" : found ? "Of other settings." : "The report comes with the advice.";
    report.classList.toggle("outdated", !now);
    told();
  }

  async function begin() {
    const s = store.state;
    const key = keyWith(s);
    again.hidden = true;
    try {
      const status = await work.whole({ kind: "advise", rig: s.rig, targets: s.targets, trials: TRIALS, seed: s.seed, flips: flips.checked, rig_text: s.rigText });
      if (!status) return;
      const { summary, advised_rig: rig } = status.result;
      found = { id: status.id, key, state: s, rig, headline: summary.headline, changes: summary.plan.changes, gain: summary.times, before: summary.before };
      open.hidden = keep.hidden = carries.hidden = false;
      open.href = reportAddress(status.id);
      load();
      show();
    } catch (error) {
      if (key !== keyWith(store.state)) return;
      again.hidden = false;
      show("No advice: " + error.message);
    }
  }

  function changed(s) {
    const key = keyWith(s);
    const same = key === asked;
    // Stopped or refused, it waits to be asked again.
    if (same && (current() || !again.hidden)) return;
    asked = key;
    // A handle that moves needs the machine.
    work.giveUp();
    clearTimeout(timer);
    again.hidden = true;
    if (!current() && s.targets.length > 0) timer = setTimeout(begin, REST_MS);
    if (!same) show(s.targets.length > 0 ? undefined : "Add targets to get advice.");
  }
  store.listen(changed);
  flips.addEventListener("change", () => changed(store.state));
  changed(store.state);

  return {
    // Why a target of the list is not safe, if that is known of the present state.
    why: (i) => (current() && !flips.checked ? found.before.targets?.[i]?.reason : ""),
    // The report is open, or not.
    read(open) {
      reading = open;
      load();
    },
  };
}
