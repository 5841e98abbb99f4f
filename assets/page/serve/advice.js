// The advice: it runs by itself when the page rests, and says which settings are best. Its report stands in a tab.

import { reportAddress, reportText, showReport } from "./door.js";
import { worker } from "./jobs.js";
import { save } from "./files.js";
import { button, make } from "./make.js";

// After the last change.
const REST_MS = 700;
const TRIALS = 20000;

// `compare(before, after, act)` shows two states side by side; `report` is the place of the whole report; `told()` hears of news.
export function advice(place, report, store, compare, told) {
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
    const text = await reportText(found.id);
    if (text) save("report.html", text, "text/html");
    else note.textContent = "The report is gone. Look again.";
  }, { hidden: true });
  // It is as high as its page, so that only this page scrolls. A frame that runs scripts could not be measured.
  const frame = make("iframe", { title: "Report of the advice", sandbox: "allow-same-origin allow-popups", hidden: true }, report);
  let reading = false;
  const load = () => {
    if (reading && found && frame.dataset.job !== found.id) showReport(frame, (frame.dataset.job = found.id));
    fit();
  };
  const fit = () => {
    const page = frame.contentDocument?.documentElement;
    if (page) frame.style.height = page.scrollHeight + 4 + "px";
  };
  const dress = () => {
    if (frame.contentDocument) frame.contentDocument.documentElement.dataset.theme = document.documentElement.dataset.theme ?? "";
  };
  new MutationObserver(dress).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  frame.addEventListener("load", () => {
    dress();
    fit();
    frame.contentDocument?.addEventListener("toggle", fit, true);
  });
  // The newest advice, with the state that it is for.
  let found = null;
  let timer = 0;
  let asked = "";

  const keyOf = (s) => JSON.stringify([s.rig, s.targets, s.seed, flips.checked]);
  const current = () => found !== null && found.key === keyOf(store.state);

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
    const key = keyOf(s);
    again.hidden = true;
    try {
      const status = await work.begin({ kind: "advise", rig: s.rig, targets: s.targets, trials: TRIALS, seed: s.seed, flips: flips.checked }, () => {});
      if (!status) return;
      if (status.phase !== "done") throw new Error(status.problem || "Stopped " + (status.stopped || "") + ".");
      const { summary, advised_rig: rig } = status.result;
      found = { id: status.id, key, state: s, rig, headline: summary.headline, changes: summary.plan.changes, gain: summary.times, before: summary.before };
      open.hidden = keep.hidden = frame.hidden = false;
      open.href = reportAddress(status.id);
      load();
      show();
    } catch (error) {
      if (key !== keyOf(store.state)) return;
      again.hidden = false;
      show("No advice: " + error.message);
    }
  }

  function changed(s) {
    const key = keyOf(s);
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
