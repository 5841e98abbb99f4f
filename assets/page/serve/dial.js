// The dial: arc, band, seam, keep-outs, stops, the targets, and two handles. Drive angles run clockwise from the top.

import { degrees, draw, fold, make } from "./make.js";
import { STATES, mark, shape } from "./marks.js";

// The geometry of the player's dial.
const { polar, part, keepOutWidth } = window.HalfturnPlayer.dial;

const RING = 118;
const INNER = 98;
const HANDLE = 58;
const STEP_DEG = 0.1;

// A step of the keyboard, or nothing.
function stepOf(event) {
  const small = event.shiftKey ? 10 * STEP_DEG : STEP_DEG;
  const steps = { ArrowRight: small, ArrowUp: small, ArrowLeft: -small, ArrowDown: -small, PageUp: 10, PageDown: -10 };
  return steps[event.key];
}

// What the marks mean: the shape of each, in a box of 20 by 16, and its words.
const KEY = [
  ["M10 0.5A7.5 7.5 0 1 0 10.01 0.5Z", "grip", "target: drag it"],
  ["M10 1L15 6L15 14L5 14L5 6Z", "arc-mark", "start of the arc: drag it"],
  ["M10 1L17 15L3 15Z", "sent", "where the first move goes"],
  ["M8 0H12V16H8Z", "sent", "seam"],
  ["M1 3H19V13H1Z", "arc", "allowed arc"],
  ["M1 3H19V13H1Z", "band", "band"],
  ["M1 3H19V13H1Z", "shut", "keep-out"],
  ["M10 4.5A3.5 3.5 0 1 0 10.01 4.5Z", "equal", "frames the same field"],
];

// `words` are those of the states. The list is told which of them are on the dial.
export function dialKey(place, words) {
  const list = make("ul", { class: "key" }, place);
  for (const [d, name, means] of KEY) {
    const item = make("li", {}, list);
    draw("path", { d, class: name }, draw("svg", { viewBox: "0 0 20 16", class: "dial", "aria-hidden": "true" }, item));
    item.append(means);
  }
  const marks = STATES.map((state) => {
    const item = make("li", { hidden: true }, list);
    mark(state, item);
    item.append(words[state]);
    return item;
  });
  return (present) => STATES.forEach((state, i) => { marks[i].hidden = !present.has(state); });
}

// `moved(what, deg, by)` is told of a handle: "target" with the wanted drive angle, "arc" with the start of the arc; `by` where
// it is a step from where the handle is, which may be ahead of what is shown.
// `verdicts.of(deg)` has the verdict on a position angle, `present(states)` is told which states are shown.
export function dial(place, verdicts, present, moved, chosen) {
  const svg = draw("svg", { viewBox: "-160 -160 320 320", class: "dial", role: "group", "aria-label": "Dial of drive angles" }, place);
  const back = draw("g", {}, svg);
  const words = draw("g", { "aria-hidden": "true" }, svg);
  const marks = draw("g", {}, svg);
  const handle = (kind, label) => draw("g", { class: "handle " + kind, role: "slider", tabindex: 0, "aria-label": label, "aria-valuemin": -360000, "aria-valuemax": 360000 }, svg);
  const arc = handle("arc-handle", "Start of the arc");
  draw("circle", { class: "touch", r: 16 }, arc);
  draw("path", { d: "M0 -11L7 -3L7 9L-7 9L-7 -3Z" }, arc);
  const target = handle("target-handle", "Target: wanted drive angle");
  draw("circle", { class: "touch", r: 18 }, target);
  draw("circle", { class: "grip", r: 11 }, target);
  const own = draw("g", {}, target);
  let view = null;
  let state = "unknown";

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

  function put(node, deg, radius) {
    const [x, y] = polar(deg, radius);
    node.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)}) rotate(${deg.toFixed(2)})`);
  }

  function ring(next) {
    back.replaceChildren();
    words.replaceChildren();
    draw("path", { class: "ring", d: part(0, 360, INNER, RING) }, back);
    const width = Math.min(next.arc_width_deg, 360);
    const seam = next.seam;
    if (next.band_deg > 0 && width < 360) {
      const wide = Math.min(width + 2 * next.band_deg, 360);
      draw("path", { class: "band", d: part(next.arc_start_deg - (wide - width) / 2, wide, INNER, RING) }, back);
    }
    draw("path", { class: "arc", d: part(next.arc_start_deg, width, INNER, RING) }, back);
    for (const area of next.keep_outs) {
      const path = draw("path", { class: "shut", d: part(area.from_deg, keepOutWidth(area), INNER - 4, RING + 4) }, back);
      draw("title", {}, path, `keep out of ${degrees(area.from_deg)} to ${degrees(area.to_deg)}${area.why ? ": " + area.why : ""}`);
    }
    const ends = seam ? [next.arc_start_deg, next.arc_start_deg + width] : [];
    for (const end of ends) {
      const [[x1, y1], [x2, y2]] = [polar(end, INNER - 5), polar(end, RING + 6)];
      draw("line", { class: "seam", x1, y1, x2, y2 }, back);
    }
    const [[x1, y1], [x2, y2]] = [polar(next.arc_start_deg, HANDLE), polar(next.arc_start_deg, INNER)];
    draw("line", { class: "lead-line", x1, y1, x2, y2 }, back);
    for (const stop of next.stops_deg || []) {
      const [[x1, y1], [x2, y2]] = [polar(stop, INNER - 8), polar(stop, RING + 10)];
      draw("line", { class: "stop", x1, y1, x2, y2 }, back);
    }
    const near = (a, b) => Math.min(fold(a - b, 0, 360), fold(b - a, 0, 360)) < 22;
    for (const quarter of [0, 90, 180, 270]) {
      if (!ends.some((end) => near(end, quarter))) number(quarter, "soft");
    }
    ends.forEach((end, i) => { if (i === 0 || !near(end, ends[0])) number(end, "strong"); });
    ["drive angle", "[deg],", "clockwise", "from the top"].forEach((line, i) => {
      draw("text", { x: 0, y: -18 + 14 * i, class: "soft" }, words, line);
    });
  }

  function number(deg, kind) {
    const [x, y] = polar(deg, INNER - 17);
    draw("text", { x, y: y + 4, class: kind }, words, degrees(fold(deg, 0, 360)));
  }

  function others(next) {
    marks.replaceChildren();
    const judged = next.targets.map((t, i) => ({ t, i, verdict: verdicts.of(t.position_angle_deg) }));
    // Where several lie at one angle, the worst lies on top.
    judged.sort((a, b) => STATES.indexOf(b.verdict.state) - STATES.indexOf(a.verdict.state));
    for (const { t, i, verdict } of judged) {
      const [x, y] = polar(t.drive_deg, RING + 17);
      const one = shape(verdict.state, marks, { transform: `translate(${x.toFixed(2)} ${y.toFixed(2)})`, "data-target": i });
      draw("title", {}, one, `${t.name}: ${verdict.words}; position angle ${degrees(t.position_angle_deg)}, sent to ${degrees(t.drive_deg)}`);
      one.addEventListener("click", () => chosen(i));
    }
    present(new Set([state, ...judged.map(({ verdict }) => verdict.state)]));
    next.target.equivalents_deg.forEach((deg) => {
      const [x, y] = polar(deg, INNER - 5);
      draw("circle", { class: "equal", cx: x, cy: y, r: 3.5 }, marks);
    });
    const [x, y] = polar(next.target_drive_deg, RING - 1);
    draw("path", { class: "sent", d: "M0 0L-8 18L8 18Z", transform: `translate(${x.toFixed(2)} ${y.toFixed(2)}) rotate(${next.target_drive_deg.toFixed(2)})` }, marks);
  }

  return {
    // `ofTarget` is the state of the target that is dragged.
    show(next, ofTarget) {
      view = next;
      state = ofTarget;
      own.replaceChildren();
      shape(state, own);
      ring(next);
      others(next);
      put(arc, next.arc_start_deg, HANDLE);
      put(target, next.target.wanted_deg, RING + 22);
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
