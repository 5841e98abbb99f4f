// The map: ping-pong over one or two numbers of the rig or the target, in the background.

import { worker } from "./jobs.js";
import { button, draw, make, percent, plain, shareOf } from "./make.js";
import { read, write } from "./state.js";

const WIDE = 640;
const HIGH = 380;
const LEFT = 70;
const BOTTOM = 52;
const TOP = 14;
const RIGHT = 16;
const DECADES = 1e6;
const DASHES = ["", "11 4", "3 3", "12 4 3 4"];

function rateOf(row) {
  return shareOf({ rate: row.ping_pong_rate, low: row.ping_pong_low }, row.trials);
}

function worstOf(rows) {
  return rows.reduce((a, b) => (rateOf(b) > rateOf(a) ? b : a));
}

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

export function map(place, start, store) {
  const numbers = start.keys.filter((k) => ["number", "count"].includes(k.kind.type) && k.path !== "format");
  const units = new Map([["target", "deg"], ...numbers.map((k) => [k.path, k.unit])]);
  const form = make("div", { class: "axes" }, place);
  const across = axis("Across", { key: "target", from: -3, to: 3, count: 61 });
  const up = axis("Upwards", { key: "loop.tolerance_deg", from: 0.1, to: 1, count: 19 }, true);
  const row = make("p", { class: "row" }, place);
  const rule = make("select", {}, make("label", {}, row, "Rule "));
  for (const name of start.rules) make("option", { value: name }, rule, name);
  rule.value = store.state.rig.wrap.rule;
  const run = button(row, "Draw the map", begin, { id: "draw-map", class: "main" });
  const work = worker(place, "map");
  const svg = draw("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "map", "aria-label": "No map yet", hidden: true }, place);
  const fits = make("p", { class: "outdated-note", role: "status", id: "map-fits", hidden: true }, place, "Made for other settings: draw it again.");
  const readout = make("p", { id: "map-words", class: "soft", role: "status" }, place, "Every cell is solved exactly where that can be, else run 2000 times.");
  const go = button(make("p", { class: "row" }, place), "Go to this cell", () => pick(), { id: "go-to-cell", disabled: true });
  let drawn = null;
  let at = null;

  function axis(title, first, optional = false) {
    const set = make("fieldset", {}, form);
    make("legend", {}, set, title);
    const key = make("select", { "aria-label": title + ": what is varied" }, set);
    if (optional) make("option", { value: "" }, key, "nothing: draw lines");
    make("option", { value: "target" }, key, "target");
    // What the rig has now; entries of its lists come and go.
    const options = () => {
      const fitting = numbers.flatMap((k) => (k.path.includes("*") ? (read(store.state.rig, k.path.split(".*.")[0]) || []).map((_, i) => k.path.replace("*", String(i))) : [k.path]));
      const now = new Set(fitting.filter((path) => read(store.state.rig, path) !== undefined));
      const fixed = ["", "target"];
      const gone = ![...fixed, ...now].includes(key.value);
      for (const option of [...key.options]) if (!fixed.includes(option.value) && !now.delete(option.value)) option.remove();
      for (const path of now) make("option", { value: path }, key, path);
      if (gone) {
        key.value = "target";
        likely();
        readout.textContent = title + ": what was varied is no longer in the rig; now it is the target.";
      }
    };
    key.value = first.key;
    const number = (name, value, attributes) => {
      return make("input", { type: "number", step: "any", value, ...attributes }, make("label", {}, set, name + " "));
    };
    const from = number("from", first.from);
    const to = number("to", first.to);
    const count = number("values", first.count, { min: 2, max: 500, step: 1 });
    // A likely range round what stands there.
    const likely = () => {
      const value = key.value === "target" ? store.state.targetDeg : read(store.state.rig, key.value);
      if (value === undefined) return;
      const reach = key.value.endsWith("_deg") && Math.abs(value) < 1e-9 ? 1 : Math.max(Math.abs(value), 1e-3);
      const free = key.value === "target" || key.value.includes("start") || value < 0;
      from.value = plain(key.value === "target" ? value - 3 : free ? value - reach : value / 4, 4);
      to.value = plain(key.value === "target" ? value + 3 : free ? value + reach : value * 3 || 1, 4);
    };
    key.addEventListener("change", likely);
    options();
    key.value = first.key;
    const whole = () => numbers.some((k) => k.kind.type === "count" && k.path === key.value);
    // As the program rounds them.
    const end = (input) => (whole() ? Math.round(input.valueAsNumber) : input.valueAsNumber);
    return {
      key,
      options,
      text: () => `${key.value}=${from.valueAsNumber}:${to.valueAsNumber}:${count.valueAsNumber}`,
      range: () => ({ from: end(from), to: end(to), count: count.valueAsNumber }),
    };
  }

  async function begin() {
    const s = store.state;
    const axes = [across, up].filter((a) => a.key.value !== "");
    const varied = axes.some((a) => a.key.value === "target");
    const asked = {
      kind: "sweep", rig: s.rig, vary: axes.map((a) => a.text()), target_deg: varied ? null : s.targetDeg,
      rules: axes.length === 2 ? [rule.value] : start.rules, method: "auto", trials: 2000, seed: s.seed,
    };
    run.disabled = true;
    // What it is a map of: the page may change meanwhile.
    const next = {
      axes: axes.map((a) => a.range()), names: axes.map((a) => a.key.value), rows: [], rules: asked.rules,
      rig: s.rig, rigText: s.rigText, rigName: s.rigName, targetDeg: s.targetDeg, seed: s.seed,
    };
    try {
      const status = await work.begin(asked, (told) => {
        next.rows.push(...told.rows);
        if (told.rows.length === 0) return;
        // The old map stays until there is something of the new one.
        if (drawn !== next) {
          drawn = next;
          at = null;
          go.disabled = true;
        }
        paint();
        check(store.state);
      });
      if (drawn === next) tell();
      if (status.problem) throw new Error(status.problem);
    } catch (error) {
      readout.textContent = error.message;
    } finally {
      run.disabled = false;
    }
  }

  // The map is of the present settings, but for what it varies; it has a rule of its own.
  function check(s) {
    if (!drawn) return;
    const rig = structuredClone(s.rig);
    for (const name of [...drawn.names, "wrap.rule"]) if (name !== "target") write(rig, name, read(drawn.rig, name));
    const moved = !drawn.names.includes("target") && s.targetDeg !== drawn.targetDeg;
    const other = moved || s.seed !== drawn.seed || JSON.stringify(rig) !== JSON.stringify(drawn.rig);
    fits.hidden = !other;
    svg.classList.toggle("outdated", other);
  }

  function named(name) {
    const unit = units.get(name.replace(/\.\d+\./, ".*.")) || "";
    return (name === "target" ? "target: position angle" : name) + (unit ? ` [${unit}]` : "");
  }

  // The places of the values of an axis, whose ends are those that were asked for.
  function scale([low, high], from, to) {
    return (value) => from + ((value - low) / (high - low || 1)) * (to - from);
  }

  function paint() {
    svg.removeAttribute("hidden");
    svg.replaceChildren();
    if (drawn.names.length === 2) paintCells();
    else paintLines();
  }

  function frame(x, xs, y, ys, yName) {
    for (const tick of ticks(Math.min(...xs), Math.max(...xs))) {
      draw("line", { class: "tick", x1: x(tick), x2: x(tick), y1: HIGH - BOTTOM, y2: HIGH - BOTTOM + 5 }, svg);
      draw("text", { x: x(tick), y: HIGH - BOTTOM + 19 }, svg, plain(tick));
    }
    for (const tick of ticks(Math.min(...ys), Math.max(...ys))) {
      draw("line", { class: "tick", x1: LEFT - 5, x2: LEFT, y1: y(tick), y2: y(tick) }, svg);
      draw("text", { class: "right", x: LEFT - 9, y: y(tick) + 4 }, svg, plain(tick));
    }
    draw("text", { class: "strong", x: (LEFT + WIDE - RIGHT) / 2, y: HIGH - 8 }, svg, named(drawn.names[0]));
    draw("text", { class: "strong", transform: `translate(15 ${(TOP + HIGH - BOTTOM) / 2}) rotate(-90)` }, svg, yName);
  }

  function paintCells() {
    const [first, second] = drawn.names;
    const [across, up] = drawn.axes;
    const xs = [across.from, across.to];
    const ys = [up.from, up.to];
    const wide = (WIDE - RIGHT - 92 - LEFT) / across.count;
    const high = (HIGH - BOTTOM - TOP) / up.count;
    const rates = drawn.rows.map(rateOf).filter((rate) => rate > 0);
    const most = Math.max(...rates, 0);
    // An exact rate can be as small as one likes: six decades are told apart.
    const least = Math.max(Math.min(...rates), most / DECADES);
    const cut = rates.some((rate) => rate < least);
    const log = rates.length > 0 && most / least >= start.rate_colours.ratio_from;
    const colours = start.rate_colours.steps;
    const shade = (rate) => {
      if (rate <= 0) return start.rate_colours.none;
      const part = log ? Math.log(rate / least) / Math.log(most / least) : rate / most;
      return colours[Math.max(0, Math.min(colours.length - 1, Math.round(part * (colours.length - 1))))];
    };
    // One path for each colour: few elements for many cells.
    const paths = new Map();
    // Rows come in the order of the cells, the second number fastest.
    drawn.cells = drawn.rows.map((row, k) => ({ row, i: Math.floor(k / up.count), j: k % up.count }));
    for (const { row, i, j } of drawn.cells) {
      const colour = shade(rateOf(row));
      const x = LEFT + i * wide;
      const y = HIGH - BOTTOM - (j + 1) * high;
      paths.set(colour, (paths.get(colour) || "") + `M${x.toFixed(2)} ${y.toFixed(2)}h${(wide + 0.2).toFixed(2)}v${(high + 0.2).toFixed(2)}h${(-wide - 0.2).toFixed(2)}z`);
    }
    for (const [colour, d] of paths) draw("path", { d, fill: colour, "shape-rendering": "crispEdges" }, svg);
    const x = scale(xs, LEFT + wide / 2, LEFT + wide * (across.count - 0.5));
    const y = scale(ys, HIGH - BOTTOM - high / 2, HIGH - BOTTOM - high * (up.count - 0.5));
    frame(x, xs, y, ys, named(second));
    legend(colours, least, most, log, rates.length > 0, cut);
    drawn.grid = { wide, high };
    const worst = worstOf(drawn.rows);
    drawn.said = `${drawn.rules[0]}, ${drawn.rows.length} cells; worst ${percent(rateOf(worst))} at ${first} = ${plain(worst[first])}, ${second} = ${plain(worst[second])}.`;
    // Arrow keys are its own.
    svg.setAttribute("role", "application");
    svg.setAttribute("tabindex", 0);
    svg.setAttribute("aria-label", `Map of ping-pong: ${drawn.said} Arrow keys move over the cells, Enter goes to one.`);
    cursor();
  }

  function legend(colours, least, most, log, some, cut) {
    const left = WIDE - RIGHT - 76;
    const step = (HIGH - BOTTOM - TOP - 46) / colours.length;
    draw("text", { x: left + 30, y: TOP + 8 }, svg, "ping-pong");
    if (some) {
      colours.forEach((fill, i) => draw("rect", { x: left, y: HIGH - BOTTOM - 28 - (i + 1) * step, width: 12, height: step + 0.3, fill }, svg));
      for (const part of [0, 0.5, 1]) {
        const rate = log ? least * (most / least) ** part : most * part;
        draw("text", { class: "left", x: left + 17, y: HIGH - BOTTOM - 24 - part * step * colours.length }, svg, (cut && part === 0 ? "\u2264 " : "") + percent(rate));
      }
    }
    draw("rect", { x: left, y: HIGH - BOTTOM - 16, width: 12, height: 12, fill: start.rate_colours.none, class: "none" }, svg);
    draw("text", { class: "left", x: left + 17, y: HIGH - BOTTOM - 6 }, svg, "none");
  }

  function paintLines() {
    const [first] = drawn.names;
    const xs = [drawn.axes[0].from, drawn.axes[0].to];
    const most = Math.max(...drawn.rows.map(rateOf), 0.01);
    const x = scale(xs, LEFT, WIDE - RIGHT - 120);
    const y = scale([0, 100 * most], HIGH - BOTTOM, TOP);
    frame(x, xs, y, [0, 100 * most], "ping-pong [%]");
    drawn.rules.forEach((name, i) => {
      const own = drawn.rows.filter((r) => r.rule === name).sort((a, b) => a[first] - b[first]);
      const points = own.map((r) => `${x(r[first]).toFixed(2)},${y(100 * rateOf(r)).toFixed(2)}`).join(" ");
      draw("polyline", { class: "line line-" + i, points, "stroke-dasharray": DASHES[i] }, svg);
      const height = TOP + 12 + 20 * i;
      draw("line", { class: "line line-" + i, x1: WIDE - RIGHT - 112, x2: WIDE - RIGHT - 88, y1: height - 4, y2: height - 4, "stroke-dasharray": DASHES[i] }, svg);
      draw("text", { class: "left", x: WIDE - RIGHT - 83, y: height }, svg, name);
    });
    drawn.cells = null;
    const worst = worstOf(drawn.rows);
    drawn.said = `Worst: ${worst.rule}, ${percent(rateOf(worst))} at ${first} = ${plain(worst[first])}.`;
    svg.setAttribute("role", "img");
    svg.removeAttribute("tabindex");
    svg.setAttribute("aria-label", "Ping-pong of the rules. " + drawn.said);
  }

  // Said at the end, not while it grows.
  function tell() {
    if (!at) readout.textContent = drawn.said;
  }

  // The chosen cell; `said` where it has just been chosen.
  function cursor(said = false) {
    svg.querySelector(".cursor")?.remove();
    if (!at || !drawn.cells) return;
    const { wide, high } = drawn.grid;
    draw("rect", { class: "cursor", x: LEFT + at.i * wide, y: HIGH - BOTTOM - (at.j + 1) * high, width: wide, height: high }, svg);
    const cell = drawn.cells.find((c) => c.i === at.i && c.j === at.j);
    go.disabled = !cell;
    if (!cell || !said) return;
    const { row } = cell;
    readout.textContent = drawn.names.map((n) => `${n} = ${plain(row[n])}`).join(", ") + `: ping-pong ${percent(rateOf(row))}, settles ${percent(row.settled_rate)}, mean settle time ${row.settle_time_mean_s === null ? "none" : plain(row.settle_time_mean_s, 3) + " s"}.`;
  }

  function cellAt(event) {
    if (!drawn || !drawn.cells) return null;
    const box = svg.getBoundingClientRect();
    const { wide, high } = drawn.grid;
    const [across, up] = drawn.axes;
    const i = Math.floor((((event.clientX - box.left) * WIDE) / box.width - LEFT) / wide);
    const j = Math.floor((HIGH - BOTTOM - ((event.clientY - box.top) * HIGH) / box.height) / high);
    return i >= 0 && j >= 0 && i < across.count && j < up.count ? { i, j } : null;
  }

  function pick() {
    const cell = at && drawn.cells && drawn.cells.find((c) => c.i === at.i && c.j === at.j);
    if (!cell) return;
    store.change(null, (s) => {
      s.rig = structuredClone(drawn.rig);
      s.rigText = drawn.rigText;
      s.rigName = drawn.rigName;
      s.targetDeg = drawn.targetDeg;
      s.seed = drawn.seed;
      for (const name of drawn.names) {
        if (name === "target") s.targetDeg = cell.row[name];
        else write(s.rig, name, cell.row[name]);
      }
      s.rig.wrap.rule = drawn.rules[0];
    });
  }

  svg.addEventListener("click", (event) => { at = cellAt(event) || at; cursor(true); });
  svg.addEventListener("keydown", (event) => {
    if (!drawn || !drawn.cells) return;
    const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const move = moves[event.key];
    if (move) {
      event.preventDefault();
      const [across, up] = drawn.axes;
      const from = at || { i: Math.floor(across.count / 2), j: Math.floor(up.count / 2) };
      at = { i: Math.max(0, Math.min(across.count - 1, from.i + move[0])), j: Math.max(0, Math.min(up.count - 1, from.j + move[1])) };
      cursor(true);
    } else if (event.key === "Enter") pick();
  });

  let rigRule = rule.value;

  return {
    show(state) {
      across.options();
      up.options();
      check(state);
      if (state.rig.wrap.rule !== rigRule) {
        rigRule = state.rig.wrap.rule;
        rule.value = rigRule;
      }
    },
  };
}
