// The advice: run it, read its report, take its settings.

import { worker } from "./jobs.js";
import { save } from "./files.js";
import { button, make } from "./make.js";
import { read, write } from "./state.js";

// Paths and new values of what differs between two rigs: keys of sections, whole lists.
function changes(before, after) {
  const section = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
  const paths = [...new Set([...Object.keys(before), ...Object.keys(after)])].flatMap((key) => {
    if (!section(before[key]) || !section(after[key])) return [key];
    return [...new Set([...Object.keys(before[key]), ...Object.keys(after[key])])].map((inner) => key + "." + inner);
  });
  return paths.map((path) => [path, read(after, path)]).filter(([path, value]) => JSON.stringify(read(before, path)) !== JSON.stringify(value));
}

export function advice(place, store) {
  const form = make("p", { class: "row" }, place);
  const trials = make("input", { type: "number", min: 1, step: 1, value: 20000, id: "advice-trials" }, make("label", {}, form, "Runs for every target "));
  const flips = make("input", { type: "checkbox" }, make("label", {}, form, "Also after a meridian flip "));
  const run = button(form, "Advise", begin, { id: "advise", class: "main" });
  const work = worker(place, "advice");
  const result = make("div", { id: "advice-result", hidden: true }, place);
  const verdict = make("p", { class: "lead", role: "status" }, result);
  const acts = make("p", { class: "row" }, result);
  // Only what the advice changes: edits that were made since stay.
  const take = button(acts, "Take these settings", () => {
    if (store.state.rigText !== askedText) verdict.textContent = "This advice is for the rig file that was here before: run it again.";
    else store.change(null, (s) => { for (const [path, value] of advised) write(s.rig, path, value); });
  }, { id: "take" });
  const open = make("a", { target: "_blank", rel: "noopener" }, acts, "Open the report in its own tab");
  button(acts, "Save the report", async () => {
    const response = await fetch(open.href);
    if (response.ok) save("report.html", await response.text(), "text/html");
    else verdict.textContent = "The report is no longer kept: run the advice again.";
  });
  const changed = make("p", { class: "soft", id: "advised-keys" }, result);
  const frame = make("iframe", { title: "Report of the advice", sandbox: "allow-scripts" }, result);
  let found = null;
  let advised = [];
  let askedText = "";

  function words(summary) {
    const count = (list, verdict) => list.filter((t) => t.verdict === verdict).length;
    const of = (setting) => {
      const total = setting.targets.length;
      const safe = count(setting.targets, "safe");
      return safe === total ? `all ${total} targets are safe` : `${safe} of ${total} targets are safe`;
    };
    return `Now ${of(summary.before)}. With the advised start of the arc ${of(summary.after)}.`;
  }

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
      found = status.result;
      verdict.textContent = words(found.summary);
      open.href = "/api/jobs/" + status.id + "/report";
      frame.src = open.href;
      advised = changes(s.rig, found.advised_rig);
      askedText = s.rigText;
      take.disabled = advised.length === 0;
      changed.textContent = advised.length === 0 ? "The advice keeps the rig as it is." : "The settings that change: " + advised.map(([path, value]) => `${path} = ${JSON.stringify(value)}`).join(", ") + ".";
      result.hidden = false;
    } catch {
      // The words stand beside the progress bar.
    } finally {
      run.disabled = false;
    }
  }
}
