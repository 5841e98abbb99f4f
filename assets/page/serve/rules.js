// The rules side by side at the chosen target.

import { draw, make, percent, plain, seconds, shareOf } from "./make.js";

const { part } = window.HalfturnPlayer.dial;

// A time within which a share of all loops settles.
const within = (time_s) => (time_s === null ? "never" : seconds(time_s));
const mean = ({ mean }, digits) => (mean === null ? "\u2013" : plain(mean, digits));

const ROWS = [
  ["Hunts", "two or more long swings", (p) => percent(shareOf(p.hunting, p.trials))],
  ["Settles", "within tolerance", (p) => percent(p.settled.rate)],
  ["Settle time", "mean of those that settle", (p) => seconds(p.settle_time_s.mean)],
  ["Half settle within", "of all loops", (p) => within(p.settle_time_s.p50)],
  ["90 % settle within", "of all loops", (p) => within(p.settle_time_s.p90)],
  ["Solves", "mean", (p) => mean(p.solves, 3)],
  ["Long swings", "mean", (p) => mean(p.long_swings, 2)],
  ["True error", "mean, in \u00b0", (p) => mean(p.true_error_deg, 2)],
  ["Method", "", (p) => (p.method === "exact" ? "exact" : p.trials + " runs")],
];

// What a rule does, and a picture of it: the arc where the first move goes, and the ground that a correction may enter.
export const RULES = {
  "half-circle": ["Half a turn. An angle outside folds by 180\u00b0, in a correction too.", 180, 0],
  "full-circle": ["The whole turn. Nothing folds by 180\u00b0.", 360, 0],
  "hysteresis-band": ["Half a turn. A correction may leave it by the band.", 180, 25],
  "fold-once": ["Folds the first move into half a turn. Corrections go the short way.", 180, 90],
};

// `names` are all rules; `choose(rule)` sets the rule of the rig.
export function rules(place, names, choose) {
  make("p", { class: "soft" }, place, "At the chosen target. Choose a rule to set it for the rig.");
  const note = make("p", { class: "soft", role: "status" }, place);
  const table = make("table", { class: "figures compared" }, place);
  const head = make("tr", {}, make("thead", {}, table));
  make("td", {}, head);
  const radios = names.map((name) => {
    const cell = make("th", { scope: "col", "data-rule": name }, head);
    const [words, wide, band] = RULES[name];
    const svg = draw("svg", { viewBox: "-20 -20 40 40", class: "rule dial", "aria-hidden": "true" }, cell);
    draw("path", { class: "ring", d: part(0, 360, 11, 18) }, svg);
    if (band) draw("path", { class: "band", d: part(-band, wide + 2 * band, 11, 18) }, svg);
    draw("path", { class: "arc", d: part(0, wide, 11, 18) }, svg);
    for (const y of wide === 360 ? [-14.5] : [-14.5, 14.5]) draw("line", { class: "seam", x1: 0, x2: 0, y1: y - 5, y2: y + 5 }, svg);
    const label = make("label", {}, cell);
    const radio = make("input", { type: "radio", name: "rule", value: name }, label);
    radio.addEventListener("change", () => choose(name));
    label.append(" " + name.replace("-", "-\u200b"));
    make("small", {}, cell, words);
    return radio;
  });
  const body = make("tbody", {}, table);
  const cells = ROWS.map(([title, more]) => {
    const line = make("tr", {}, body);
    const first = make("th", { scope: "row" }, line, title);
    if (more) make("small", {}, first, more);
    return names.map((name) => make("td", { "data-rule": name }, line));
  });

  return {
    show({ compared, rough }, present) {
      const found = new Map(compared.policies.map((p) => [p.rule, p]));
      names.forEach((name, k) => {
        const policy = found.get(name);
        radios[k].checked = name === present;
        ROWS.forEach(([, , words], i) => { cells[i][k].textContent = policy ? words(policy) : "?"; });
        for (const cell of table.querySelectorAll(`[data-rule="${name}"]`)) cell.classList.toggle("present", name === present);
        radios[k].closest("th").dataset.hunting = policy ? policy.hunting.rate : "";
      });
      const missing = names.filter((name) => !found.has(name));
      note.textContent = missing.length > 0 ? `Not computed, needs over 3 s: ${missing.join(", ")}. Run a map or the advice.`
        : rough ? "Rough figures while you drag. Finer ones follow." : "";
    },
  };
}
