// The advice: run it, read its report, take its settings.

import { worker } from "./jobs.js";
import { save } from "./files.js";
import { button, make } from "./make.js";

export function advice(place, store) {
  const form = make("p", { class: "row" }, place);
  const trials = make("input", { type: "number", min: 1, step: 1, value: 20000, id: "advice-trials" }, make("label", {}, form, "Runs for every target "));
  const flips = make("input", { type: "checkbox", id: "advice-flips" }, make("label", {}, form, "Also after a meridian flip "));
  const run = button(form, "Advise", begin, { id: "advise", class: "main" });
  const work = worker(place, "advice");
  const result = make("div", { id: "advice-result", hidden: true }, place);
  const fits = make("p", { class: "outdated-note", role: "status", id: "advice-fits" }, result);
  const verdict = make("p", { class: "lead", role: "status" }, result);
  const acts = make("p", { class: "row" }, result);
  const take = button(acts, "Take these settings", () => store.change(null, (s) => { s.rig = found.rig; }), { id: "take" });
  const open = make("a", { target: "_blank", rel: "noopener" }, acts, "Open the report in its own tab");
  button(acts, "Save the report", async () => {
    const response = await fetch(open.href);
    if (response.ok) save("report.html", await response.text(), "text/html");
    else verdict.textContent = "The report is no longer kept: run the advice again.";
  });
  const changed = make("p", { class: "soft", id: "advised-keys" }, result);
  const frame = make("iframe", { title: "Report of the advice", sandbox: "allow-scripts" }, result);
  let found = null;

  const keyOf = (rig, s, flipped) => JSON.stringify([rig, s.targets, s.seed, flipped]);

  // Only an advice for this rig, this list and this seed can be taken.
  function check(s) {
    if (!found) return;
    const now = keyOf(s.rig, s, flips.checked);
    const [fit, taken] = [now === found.asked, now === found.advised];
    fits.hidden = fit;
    fits.textContent = fit ? "" : taken ? "Taken: the rig has these settings now." : "Made for other settings: run it again.";
    result.classList.toggle("outdated", !fit && !taken);
    take.disabled = !fit || found.changes.length === 0;
  }
  store.listen(check);
  flips.addEventListener("change", () => check(store.state));

  async function begin() {
    const s = store.state;
    run.disabled = true;
    result.hidden = true;
    try {
      const asked = { kind: "advise", rig: s.rig, targets: s.targets, trials: trials.valueAsNumber || 0, seed: s.seed, flips: flips.checked };
      const status = await work.begin(asked, () => {});
      if (!status || status.phase !== "done") {
        if (status && status.problem) throw new Error(status.problem);
        return;
      }
      const { summary, advised_rig: rig } = status.result;
      const { changes } = summary.plan;
      found = { rig, changes, asked: keyOf(s.rig, s, asked.flips), advised: keyOf(rig, s, asked.flips) };
      verdict.textContent = summary.headline;
      open.href = "/api/jobs/" + status.id + "/report";
      frame.src = open.href;
      changed.hidden = changes.length === 0;
      changed.textContent = "The settings that change: " + changes.map(({ key, to }) => `${key} = ${to === null ? "unset" : JSON.stringify(to)}`).join(", ") + ".";
      check(store.state);
      result.hidden = false;
    } catch {
      // The words stand beside the progress bar.
    } finally {
      run.disabled = false;
    }
  }
}
