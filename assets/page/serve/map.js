// The map: how often it hunts over two numbers of the rig or the target, in the background.

import { worker } from "./jobs.js";
import { button, draw, make, named, percent, plain, seconds, shareOf, titled } from "./make.js";
import { read, write } from "./state.js";

const [WIDE, HIGH] = [720, 400];
const [LEFT, RIGHT, TOP, BOTTOM] = [64, 116, 14, 50];
const DECADES = 1e6;

const rateOf = (row) => shareOf({ rate: row.hunting_rate, low: row.hunting_low }, row.trials);

// About so many round numbers within a range.
function ticks(from, to, count = 6) {
  const [low, high] = from < to ? [from, to] : [to, from];
  const raw = (high - low) / count || 1;
  const size = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((m) => m * size).find((s) => s >= raw);
  const list = [];
  for (let at = Math.ceil(low / step - 1e-9) * step; at <= high + 1e-9 * step; at += step) list.push(Math.abs(at) < 1e-9 * step ? 0 : at);
  return list;
}

// `limit` is the share up to which a target is safe.
export function map(place, start, store, limit) {
  const numbers = start.keys.filter((k) => ["number", "count"].includes(k.kind.type) && k.path !== "format");
  const valueOf = (s, name) => (name === "target" ? s.targetDeg : read(s.rig, name));
  const form = make("div", { class: "row axes" }, place);
  const axes = [axis("Across", "target", 61), axis("Upwards", "loop.tolerance_deg", 19)];
  const row = make("p", { class: "row" }, place);
  const rule = make("select", {}, make("label", {}, row, "Rule "));
  for (const name of start.rules) make("option", { value: name }, rule, name);
  const run = button(row, "Draw the map", begin, { id: "draw-map", class: "main" });
  const work = worker(place, "map");
  const fits = make("p", { class: "stale-note", role: "status", id: "map-fits", hidden: true }, place, "Made for other settings: draw it again.");
  const svg = draw("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "map", role: "application", tabindex: 0, hidden: true }, place);
  const readout = make("p", { id: "map-words", class: "soft", role: "status" }, place, `Point at a cell for its figures. Click it, or press Enter, to go there. The dashed line is the limit of ${percent(limit)}.`);
  let drawn = null;
  let at = null;
  let rigRule = "";

  function axis(title, first, count) {
    const set = make("fieldset", { class: "row" }, form);
    make("legend", {}, set, title);
    const key = make("select", { "aria-label": title + ": what is varied" }, set);
    const number = (name, attributes) => make("input", { type: "number", step: "any", ...attributes }, make("label", {}, set, name + " "));
    const [from, to] = [number("from"), number("to")];
    const values = number("values", { min: 2, max: 500, step: 1, value: count });
    // A likely range round what stands there, until a user writes another.
    let own = false;
    const likely = () => {
      const value = valueOf(store.state, key.value);
      if (own || value === undefined) return;
      const free = key.value === "target" || key.value.includes("start") || value <= 0;
      const reach = key.value === "target" ? 3 : Math.max(Math.abs(value), key.value.endsWith("_deg") ? 1 : 1e-3);
      from.value = plain(free ? value - reach : value / 4, 4);
      to.value = plain(free ? value + reach : value * 3, 4);
    };
    for (const input of [from, to]) input.addEventListener("input", () => { own = true; });
    key.addEventListener("change", () => { own = false; likely(); });
    const end = (input) => (numbers.some((k) => k.kind.type === "count" && k.path === key.value) ? Math.round(input.valueAsNumber) : input.valueAsNumber);
    return {
      key,
      // What the rig has now; entries of its lists come and go.
      options() {
        const paths = numbers.flatMap((k) => (k.path.includes("*") ? (read(store.state.rig, k.path.split(".*.")[0]) || []).map((_, i) => k.path.replace("*", String(i))) : [k.path]));
        const now = ["target", ...paths.filter((path) => read(store.state.rig, path) !== undefined)];
        if (now.join() !== [...key.options].map((o) => o.value).join()) {
          const before = key.value || first;
          key.replaceChildren(...now.map((path) => make("option", { value: path }, null, titled(path))));
          key.value = now.includes(before) ? before : "target";
          own = own && key.value === before;
        }
        likely();
      },
      text: () => `${key.value}=${from.valueAsNumber}:${to.valueAsNumber}:${values.valueAsNumber}`,
      // As the program rounds them.
      range: () => ({ name: key.value, from: end(from), to: end(to), count: values.valueAsNumber }),
    };
  }

  async function begin() {
    const s = store.state;
    const varied = axes.some((a) => a.key.value === "target");
    const asked = {
      kind: "sweep", rig: s.rig, vary: axes.map((a) => a.text()), target_deg: varied ? null : s.targetDeg,
      rules: [rule.value], method: "auto", trials: 2000, seed: s.seed,
    };
    run.disabled = true;
    // What it is a map of: the page may change meanwhile.
    const next = { axes: axes.map((a) => a.range()), rows: [], rule: rule.value, state: s };
    try {
      const status = await work.begin(asked, (told) => {
        next.rows.push(...told.rows);
        if (told.rows.length === 0) return;
        // The old map stays until there is something of the new one.
        if (drawn !== next) at = null;
        drawn = next;
        paint();
        check(store.state);
      });
      if (status?.problem) throw new Error(status.problem);
      readout.classList.remove("fault");
      if (drawn === next) readout.textContent = next.said + (status?.stopped ? " Stopped " + status.stopped + "." : "");
    } catch (error) {
      readout.classList.add("fault");
      readout.textContent = error.message;
    } finally {
      run.disabled = false;
    }
  }

  // The map is of the present settings, but for what it varies; it has a rule of its own.
  function check(s) {
    if (!drawn) return;
    const rig = structuredClone(s.rig);
    const names = drawn.axes.map((a) => a.name);
    for (const name of [...names, "wrap.rule"]) if (name !== "target") write(rig, name, read(drawn.state.rig, name));
    const moved = !names.includes("target") && s.targetDeg !== drawn.state.targetDeg;
    const other = moved || s.seed !== drawn.state.seed || JSON.stringify(rig) !== JSON.stringify(drawn.state.rig);
    fits.hidden = !other;
    svg.classList.toggle("outdated", other);
    here(s, other);
  }

  // The middle of the cell of a value lies where `along` says.
  const along = ({ from, to, count }, low, size) => (value) => low + size * (((value - from) / (to - from || 1)) * (count - 1) + 0.5);

  function paint() {
    svg.replaceChildren();
    const [across, up] = drawn.axes;
    const wide = (WIDE - RIGHT - LEFT) / across.count;
    const high = (HIGH - BOTTOM - TOP) / up.count;
    const rates = drawn.rows.map(rateOf);
    const some = rates.filter((rate) => rate > 0);
    // Where nothing hunts a sentence does.
    svg.toggleAttribute("hidden", some.length === 0);
    const most = Math.max(...some, 0);
    // An exact rate can be as small as one likes: six decades are told apart.
    const least = Math.max(Math.min(...some), most / DECADES);
    const log = some.length > 0 && most / least >= start.rate_colours.ratio_from;
    const { steps, none } = start.rate_colours;
    const part = (rate) => (log ? Math.log(rate / least) / Math.log(most / least) : rate / most);
    const shade = (rate) => (rate <= 0 ? none : steps[Math.max(0, Math.min(steps.length - 1, Math.round(part(rate) * (steps.length - 1))))]);
    // One path for each colour, and one for the contour: few elements for many cells. The second number is the fastest.
    const paths = new Map();
    let contour = "";
    const above = (i, j) => (i < across.count && j < up.count ? rates[i * up.count + j] > limit : undefined);
    rates.forEach((rate, k) => {
      const [i, j] = [Math.floor(k / up.count), k % up.count];
      const [x, y] = [LEFT + i * wide, HIGH - BOTTOM - (j + 1) * high];
      paths.set(shade(rate), (paths.get(shade(rate)) || "") + `M${x.toFixed(2)} ${y.toFixed(2)}h${(wide + 0.2).toFixed(2)}v${(high + 0.2).toFixed(2)}h${(-wide - 0.2).toFixed(2)}z`);
      const differs = (other) => other !== undefined && other !== above(i, j);
      if (k + up.count < rates.length && differs(above(i + 1, j))) contour += `M${(x + wide).toFixed(2)} ${y.toFixed(2)}v${high.toFixed(2)}`;
      if (k + 1 < rates.length && differs(above(i, j + 1))) contour += `M${x.toFixed(2)} ${y.toFixed(2)}h${wide.toFixed(2)}`;
    });
    const cells = draw("g", { class: "cells" }, svg);
    for (const [fill, d] of paths) draw("path", { d, fill, "shape-rendering": "crispEdges" }, cells);
    if (contour) for (const name of ["contour-under", "contour"]) draw("path", { d: contour, class: name }, svg);
    const x = along(across, LEFT, wide);
    const y = along(up, HIGH - BOTTOM, -high);
    for (const tick of ticks(across.from, across.to)) {
      draw("line", { class: "tick", x1: x(tick), x2: x(tick), y1: HIGH - BOTTOM, y2: HIGH - BOTTOM + 5 }, svg);
      draw("text", { x: x(tick), y: HIGH - BOTTOM + 18 }, svg, plain(tick));
    }
    for (const tick of ticks(up.from, up.to)) {
      draw("line", { class: "tick", x1: LEFT - 5, x2: LEFT, y1: y(tick), y2: y(tick) }, svg);
      draw("text", { class: "right", x: LEFT - 9, y: y(tick) + 4 }, svg, plain(tick));
    }
    draw("text", { class: "strong", x: (LEFT + WIDE - RIGHT) / 2, y: HIGH - 8 }, svg, titled(across.name));
    draw("text", { class: "strong", transform: `translate(15 ${(TOP + HIGH - BOTTOM) / 2}) rotate(-90)` }, svg, titled(up.name));
    legend({ least, most, log, part, cut: some.some((rate) => rate < least), some: some.length > 0 }, steps, none);
    Object.assign(drawn, { wide, high, x, y });
    const worst = drawn.rows[rates.indexOf(Math.max(...rates))];
    drawn.said = some.length === 0 ? `${drawn.rule}: 0 % in every cell.` : `${drawn.rule}, ${rates.length} cells. Worst: ${wordsOf(worst)}`;
    svg.setAttribute("aria-label", `Map of hunting: ${drawn.said} Arrow keys move over the cells, Enter goes to one.`);
    cursor();
  }

  function legend({ least, most, log, part, cut, some }, steps, none) {
    const left = WIDE - RIGHT + 20;
    const [low, high] = [HIGH - BOTTOM - 46, TOP + 22];
    draw("text", { class: "left", x: left, y: TOP + 8 }, svg, "hunts");
    const colours = draw("g", { class: "cells" }, svg);
    const note = (y, words) => draw("text", { class: "left", x: left + 17, y: y + 4 }, svg, words);
    if (some) {
      const step = (low - high) / steps.length;
      steps.forEach((fill, i) => draw("rect", { x: left, y: low - (i + 1) * step, width: 12, height: step + 0.3, fill }, colours));
      const decades = ticks(Math.log10(least), Math.log10(most), 8).filter(Number.isInteger).map((k) => 10 ** k);
      const marks = log ? decades : ticks(0, most, 4).filter((rate) => rate > 0);
      for (const rate of marks) note(low - part(rate) * (low - high), (cut && rate === marks[0] && rate <= least ? "\u2264 " : "") + percent(rate));
    }
    draw("rect", { x: left, y: HIGH - BOTTOM - 32, width: 12, height: 12, fill: none, class: "none" }, colours);
    note(HIGH - BOTTOM - 26, "0 %");
    draw("path", { class: "contour", d: `M${left - 2} ${HIGH - BOTTOM - 6}h15` }, svg);
    note(HIGH - BOTTOM - 6, "limit");
  }

  // Where the page is.
  function here(s, other) {
    svg.querySelector(".here")?.remove();
    const [x, y] = drawn.axes.map((a, i) => [drawn.x, drawn.y][i](valueOf(s, a.name)));
    if (other || !(x >= LEFT && x <= WIDE - RIGHT && y >= TOP && y <= HIGH - BOTTOM)) return;
    const group = draw("g", { class: "here", transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` }, svg);
    draw("circle", { r: 6 }, group);
    const right = x < WIDE - RIGHT - 100;
    draw("text", { x: right ? 11 : -11, y: 4, class: right ? "left" : "right" }, group, "you are here");
  }

  function wordsOf(row) {
    const where = drawn.axes.map(({ name }) => `${named(name)[0]} ${plain(row[name])}\u202f${named(name)[1]}`.replace("\u202f\u00b0", "\u00b0")).join(", ");
    return `${where}: hunts in ${percent(rateOf(row))}. Settles in ${percent(row.settled_rate)}, after ${seconds(row.settle_time_mean_s)} on average.`;
  }

  const cellOf = (place) => place && drawn?.rows[place.i * drawn.axes[1].count + place.j];

  function cursor(said) {
    svg.querySelector(".cursor")?.remove();
    const cell = cellOf(at);
    if (!cell) return;
    const { wide, high } = drawn;
    draw("rect", { class: "cursor", x: LEFT + at.i * wide, y: HIGH - BOTTOM - (at.j + 1) * high, width: wide, height: high }, svg);
    if (said) readout.textContent = wordsOf(cell);
  }

  function cellAt(event) {
    if (!drawn) return null;
    const box = svg.getBoundingClientRect();
    const i = Math.floor((((event.clientX - box.left) * WIDE) / box.width - LEFT) / drawn.wide);
    const j = Math.floor((HIGH - BOTTOM - ((event.clientY - box.top) * HIGH) / box.height) / drawn.high);
    return i >= 0 && j >= 0 && i < drawn.axes[0].count && j < drawn.axes[1].count ? { i, j } : null;
  }

  // The rig becomes the one that the map was drawn for, with the numbers of the cell.
  function pick() {
    const cell = cellOf(at);
    if (!cell) return;
    store.change(null, (s) => {
      const { rig, rigText, rigName, targetDeg, seed } = drawn.state;
      Object.assign(s, { rig: structuredClone(rig), rigText, rigName, targetDeg, seed });
      for (const { name } of drawn.axes) {
        const value = Number(cell[name].toPrecision(12));
        if (name === "target") s.targetDeg = value;
        else write(s.rig, name, value);
      }
      s.rig.wrap.rule = drawn.rule;
    });
  }

  svg.addEventListener("pointermove", (event) => {
    const cell = cellAt(event);
    if (!cell || (at && cell.i === at.i && cell.j === at.j)) return;
    at = cell;
    cursor(true);
  });
  svg.addEventListener("click", (event) => {
    at = cellAt(event);
    cursor(true);
    pick();
  });
  svg.addEventListener("keydown", (event) => {
    if (!drawn) return;
    const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (move) {
      event.preventDefault();
      const counts = drawn.axes.map((a) => a.count);
      const from = at || { i: Math.floor(counts[0] / 2), j: Math.floor(counts[1] / 2) };
      at = { i: Math.max(0, Math.min(counts[0] - 1, from.i + move[0])), j: Math.max(0, Math.min(counts[1] - 1, from.j + move[1])) };
      cursor(true);
    } else if (event.key === "Enter") pick();
  });

  // A closed tab needs none of it.
  function show(s) {
    if (place.hidden) return;
    for (const one of axes) one.options();
    check(s);
    if (s.rig.wrap.rule !== rigRule) rule.value = rigRule = s.rig.wrap.rule;
  }
  show(store.state);
  return { show };
}
