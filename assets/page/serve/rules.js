// The rules side by side at the chosen target.

import { make, percent, plain, seconds, shareOf } from "./make.js";

// A time within which a share of all loops settles.
const within = (time_s) => (time_s === null ? "never" : seconds(time_s));

const COLUMNS = [
  ["Ping-pongs", "two or more long swings", (p) => percent(shareOf(p.ping_pong, p.trials))],
  ["Settles", "within tolerance", (p) => percent(p.settled.rate)],
  ["Settle time", "mean of those that settle", (p) => seconds(p.settle_time_s.mean)],
  ["Half", "of all settle within", (p) => within(p.settle_time_s.p50)],
  ["90 %", "of all settle within", (p) => within(p.settle_time_s.p90)],
  ["Solves", "mean", (p) => (p.solves.mean === null ? "\u2013" : plain(p.solves.mean, 3))],
  ["Long swings", "mean", (p) => (p.long_swings.mean === null ? "\u2013" : plain(p.long_swings.mean, 2))],
  ["True error", "mean [deg]", (p) => (p.true_error_deg.mean === null ? "\u2013" : plain(p.true_error_deg.mean, 2))],
];

// `names` are all rules; `choose(rule)` sets the rule of the rig.
export function rules(place, names, choose) {
  const scroll = make("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Table of the rules" }, place);
  const table = make("table", {}, scroll);
  const head = make("tr", {}, make("thead", {}, table));
  make("th", { scope: "col", class: "text" }, head, "Rule");
  for (const [title, more] of COLUMNS) {
    const cell = make("th", { scope: "col" }, head, title);
    make("small", {}, cell, more);
  }
  make("th", { scope: "col", class: "text" }, head, "Found by");
  const body = make("tbody", {}, table);
  const missing = make("p", { class: "soft", hidden: true }, place);
  const rows = new Map();

  function row(name) {
    const line = make("tr", { "data-rule": name }, body);
    const label = make("label", {}, make("th", { scope: "row", class: "text" }, line));
    const radio = make("input", { type: "radio", name: "rule", value: name }, label);
    radio.addEventListener("change", () => choose(name));
    label.append(" " + name);
    const cells = COLUMNS.map((_, i) => {
      const cell = make("td", {}, line);
      if (i > 0) return { text: cell };
      const text = make("span", {}, cell);
      const bar = make("meter", { min: 0, max: 1, value: 0, "aria-hidden": "true" }, cell);
      return { text, bar };
    });
    return { line, radio, cells, found: make("td", { class: "text" }, line) };
  }

  return {
    show(compared, present) {
      for (const policy of compared.policies) {
        if (!rows.has(policy.rule)) rows.set(policy.rule, row(policy.rule));
        const { line, radio, cells, found } = rows.get(policy.rule);
        line.classList.toggle("present", policy.rule === present);
        line.dataset.pingPong = policy.ping_pong.rate;
        radio.checked = policy.rule === present;
        COLUMNS.forEach(([, , words], i) => {
          cells[i].text.textContent = words(policy);
          if (cells[i].bar) cells[i].bar.value = shareOf(policy.ping_pong, policy.trials);
        });
        found.textContent = policy.method === "exact" ? "solving" : policy.trials + " runs";
      }
      const shown = new Set(compared.policies.map((p) => p.rule));
      for (const [name, { line }] of rows) line.hidden = !shown.has(name);
      const left = names.filter((name) => !shown.has(name));
      missing.hidden = left.length === 0;
      missing.textContent = left.length === 0 ? "" : `Not found within 3 seconds: ${left.join(", ")}. A map or the advice takes the time that they need.`;
    },
  };
}
