// The dial: arc, band, seam, keep-outs, stops, the named targets, and two handles. Drive angles run clockwise from the top.

import { degrees, draw, fold, make } from "./make.js";
import { STATES, mark, shape } from "./marks.js";

// The geometry of the player's dial.
const { polar, part, keepOutWidth } = window.HalfturnPlayer.dial;

const STEP_DEG = 0.1;
// Widths and heights are pixels, so that names keep their size on a telephone.
const LARGEST = 130;
const LINE = 15;
const LETTER = 6.6;

// A step of the keyboard, or nothing.
function stepOf(event) {
  const small = event.shiftKey ? 10 * STEP_DEG : STEP_DEG;
  const steps = { ArrowRight: small, ArrowUp: small, ArrowLeft: -small, ArrowDown: -small, PageUp: 10, PageDown: -10 };
  return steps[event.key];
}

// What the marks mean: the shape of each, in a box of 20 by 16, and its words.
const KEY = [
  ["M10 0.5A7.5 7.5 0 1 0 10.01 0.5Z", "grip", "chosen target: drag it"],
  ["M10 1L15 6L15 14L5 14L5 6Z", "arc-mark", "start of the arc: drag it"],
  ["M10 1L17 15L3 15Z", "sent", "where its first move goes"],
  ["M8 0H12V16H8Z", "sent", "seam"],
  ["M1 3H19V13H1Z", "arc", "arc"],
  ["M1 3H19V13H1Z", "band", "band"],
  ["M1 3H19V13H1Z", "shut", "keep-out"],
  ["M1 5H19V11H1Z", "stop", "stop"],
  ["M10 4.5A3.5 3.5 0 1 0 10.01 4.5Z", "equal", "frames the same field"],
];

// What of it is on the dial is told to the list: names of KEY and states. `words` are those of the states.
export function dialKey(place, words) {
  const list = make("ul", { class: "key" }, place);
  const items = KEY.map(([d, name, means]) => {
    const item = make("li", {}, list);
    draw("path", { d, class: name }, draw("svg", { viewBox: "0 0 20 16", class: "dial", "aria-hidden": "true" }, item));
    item.append(means);
    return [name + means, item];
  });
  for (const state of STATES) {
    const item = make("li", {}, list);
    mark(state, item);
    item.append(words[state]);
    items.push([state, item]);
  }
  const rare = ["band", "shut", "stop"];
  return (present) => items.forEach(([name, item]) => {
    item.hidden = (STATES.includes(name) || rare.some((r) => name.startsWith(r))) && ![...present].some((p) => name.startsWith(p));
  });
}

// As much of a name as has room: whole words that no other name begins with, else its two ends.
function short(name, names, letters) {
  if (name.length <= letters) return name;
  for (let words = name.split(" "); words.length > 1; ) {
    words.pop();
    const begin = words.join(" ");
    if (/ (and|[A-Z]+)$/.test(begin)) continue;
    if (begin.length <= letters && names.every((other) => other === name || !other.startsWith(begin))) return begin;
  }
  return name.slice(0, letters - 5) + "\u2026" + name.slice(-4);
}

// `moved(what, deg, by)` is told of a handle: "target" with the wanted drive angle, "arc" with the start of the arc; `by` where
// it is a step from where the handle is, which may be ahead of what is shown.
// `verdicts.of(deg)` has the verdict on a position angle, `present(names)` is told what is shown.
export function dial(place, verdicts, present, moved, chosen) {
  const svg = draw("svg", { class: "dial", role: "group", "aria-label": "Dial of drive angles, 0\u00b0 at the top, clockwise" }, place);
  const back = draw("g", {}, svg);
  const words = draw("g", { "aria-hidden": "true" }, svg);
  const marks = draw("g", {}, svg);
  const handle = (kind, label) => draw("g", { class: "handle " + kind, role: "slider", tabindex: 0, "aria-label": label, "aria-valuemin": -360000, "aria-valuemax": 360000 }, svg);
  const arc = handle("arc-handle", "Start of the arc");
  draw("circle", { class: "touch", r: 15 }, arc);
  draw("path", { d: "M0 -11L7 -3L7 9L-7 9L-7 -3Z" }, arc);
  const target = handle("target-handle", "Chosen target: wanted drive angle");
  draw("circle", { class: "touch", r: 17 }, target);
  draw("circle", { class: "grip", r: 11 }, target);
  const own = draw("g", {}, target);
  let view = null;
  let state = "unknown";
  let [wide, high, outer] = [0, 0, 0];

  function measure() {
    wide = Math.max(place.clientWidth, 260);
    outer = Math.min(LARGEST, 0.27 * wide - 22);
    high = 2 * (outer + 40);
    svg.setAttribute("viewBox", `${-wide / 2} ${-high / 2} ${wide} ${high}`);
    svg.setAttribute("height", high);
  }

  function angleOf(event) {
    const box = svg.getBoundingClientRect();
    const x = event.clientX - box.left - box.width / 2;
    const y = event.clientY - box.top - box.height / 2;
    return fold((Math.atan2(x, -y) * 180) / Math.PI, 0, 360);
  }

  function draggable(node, what) {
    let held = false;
    node.addEventListener("pointerdown", (event) => {
      held = true;
      node.setPointerCapture(event.pointerId);
      node.focus({ preventScroll: true });
      event.preventDefault();
    });
    node.addEventListener("pointermove", (event) => {
      if (held && view) moved(what, Math.round(angleOf(event) / STEP_DEG) * STEP_DEG);
    });
    const drop = () => { held = false; };
    node.addEventListener("pointerup", drop);
    node.addEventListener("pointercancel", drop);
    node.addEventListener("keydown", (event) => {
      const step = stepOf(event);
      if (step === undefined || !view) return;
      event.preventDefault();
      moved(what, step, true);
    });
  }
  draggable(arc, "arc");
  draggable(target, "target");

  const at = (deg, radius) => polar(deg, radius).map((value) => value.toFixed(2));

  function put(node, deg, radius) {
    node.setAttribute("transform", `translate(${at(deg, radius).join(" ")}) rotate(${deg.toFixed(2)})`);
  }

  // A line along a radius.
  function spoke(name, deg, from, to) {
    const [[x1, y1], [x2, y2]] = [at(deg, from), at(deg, to)];
    draw("line", { class: name, x1, y1, x2, y2 }, back);
  }

  function ring(next) {
    back.replaceChildren();
    words.replaceChildren();
    const inner = outer - 20;
    const sector = (name, from, width, more = 0) => draw("path", { class: name, d: part(from, width, inner - more, outer + more) }, back);
    sector("ring", 0, 360);
    const width = Math.min(next.arc_width_deg, 360);
    if (next.band_deg > 0 && width < 360) {
      const whole = Math.min(width + 2 * next.band_deg, 360);
      sector("band", next.arc_start_deg - (whole - width) / 2, whole);
    }
    sector("arc", next.arc_start_deg, width);
    for (const area of next.keep_outs) {
      const path = sector("shut", area.from_deg, keepOutWidth(area), 4);
      draw("title", {}, path, `keep out of ${degrees(area.from_deg)} to ${degrees(area.to_deg)}${area.why ? ": " + area.why : ""}`);
    }
    const ends = next.seam ? [next.arc_start_deg, next.arc_start_deg + width] : [];
    for (const end of ends) spoke("seam", end, inner - 4, outer + 6);
    for (const stop of next.stops_deg || []) spoke("stop", stop, inner - 8, outer + 10);
    // Its number stands beyond the handle, and the other angles where they are free.
    const near = (a, b) => Math.abs(fold(a - b, -180, 360)) < 24;
    const number = (deg, kind, radius) => {
      const [x, y] = polar(deg, radius);
      draw("text", { x, y: y + 4, class: kind }, words, degrees(fold(deg, 0, 360)));
    };
    for (const quarter of [0, 90, 180, 270]) {
      if (![...ends, next.arc_start_deg, ...next.target.equivalents_deg].some((end) => near(end, quarter))) number(quarter, "soft", inner - 18);
    }
    number(next.arc_start_deg, "strong", inner - 46);
    if (ends.length > 0 && width < 360) number(ends[1], "strong", inner - 22);
  }

  // The names beside the dial, a line to each from its mark; the worst where there is no room for all.
  function names(judged, all) {
    const room = Math.floor(high / LINE);
    const letters = Math.max(6, Math.floor((wide / 2 - outer - 36) / LETTER));
    for (const side of [1, -1]) {
      const own = judged.filter(({ t }) => (polar(t.drive_deg, 1)[0] >= 0 ? 1 : -1) === side).slice(0, room);
      own.sort((a, b) => polar(a.t.drive_deg, 1)[1] - polar(b.t.drive_deg, 1)[1]);
      const heights = own.map(({ t }) => polar(t.drive_deg, outer + 17)[1]);
      for (let i = 1; i < own.length; i += 1) heights[i] = Math.max(heights[i], heights[i - 1] + LINE);
      let most = high / 2 - 8;
      for (let i = own.length - 1; i >= 0; i -= 1) {
        heights[i] = Math.min(heights[i], most);
        most = heights[i] - LINE;
      }
      own.forEach(({ t, i, verdict }, k) => {
        const [x, y] = polar(t.drive_deg, outer + 24);
        // Past the ring, where a name was moved up or down beside it.
        const beside = Math.sqrt(Math.max(0, (outer + 26) ** 2 - heights[k] ** 2));
        const far = side * Math.max(side * x + 6, beside, 8);
        if (Math.abs(y - heights[k]) > 5) draw("polyline", { class: "lead-line", points: `${x.toFixed(1)},${y.toFixed(1)} ${far.toFixed(1)},${heights[k].toFixed(1)}` }, marks);
        const name = draw("text", { x: far + 4 * side, y: heights[k] + 4, class: "label " + verdict.state + (side < 0 ? " right" : " left") }, marks, short(t.name, all, letters));
        draw("title", {}, name, t.name);
        name.addEventListener("click", () => chosen(i));
      });
    }
  }

  function others(next) {
    marks.replaceChildren();
    const judged = next.targets.map((t, i) => ({ t, i, verdict: verdicts.of(t.position_angle_deg) }));
    judged.sort((a, b) => a.verdict.rank[0] - b.verdict.rank[0] || a.verdict.rank[1] - b.verdict.rank[1]);
    names(judged, next.targets.map((t) => t.name));
    // Where several lie at one angle, the worst lies on top.
    for (const { t, i, verdict } of judged.reverse()) {
      const one = shape(verdict.state, marks, { transform: `translate(${at(t.drive_deg, outer + 17).join(" ")})`, "data-target": i });
      draw("title", {}, one, `${t.name}: ${verdict.words}; position angle ${degrees(t.position_angle_deg)}, sent to ${degrees(t.drive_deg)}`);
      one.addEventListener("click", () => chosen(i));
    }
    const parts = [next.band_deg > 0 && "band", next.keep_outs.length > 0 && "shut", next.stops_deg && "stop"].filter(Boolean);
    present(new Set([state, ...judged.map(({ verdict }) => verdict.state), ...parts]));
    next.target.equivalents_deg.forEach((deg) => {
      const [cx, cy] = at(deg, outer - 25);
      draw("circle", { class: "equal", cx, cy, r: 3.5 }, marks);
    });
    put(draw("path", { class: "sent", d: "M0 0L-8 18L8 18Z" }, marks), next.target_drive_deg, outer - 1);
  }

  function paint() {
    ring(view);
    others(view);
    put(arc, view.arc_start_deg, outer - 38);
    put(target, view.target.wanted_deg, outer + 22);
  }
  measure();
  new ResizeObserver(() => {
    if (place.clientWidth === wide) return;
    measure();
    if (view) paint();
  }).observe(place);

  return {
    // `ofTarget` is the state of the target that is dragged.
    show(next, ofTarget) {
      view = next;
      state = ofTarget;
      own.replaceChildren();
      shape(state, own);
      paint();
      arc.setAttribute("aria-valuenow", next.arc_start_deg);
      arc.setAttribute("aria-valuetext", degrees(next.arc_start_deg));
      target.setAttribute("aria-valuenow", next.target.wanted_deg);
      target.setAttribute("aria-valuetext", `${degrees(next.target.wanted_deg)}, position angle ${degrees(next.target.position_angle_deg)}`);
    },
    // More verdicts are known.
    judged() {
      if (view) others(view);
    },
  };
}
