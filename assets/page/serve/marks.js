// The mark of a verdict: a shape and a colour for every state, the same in the list, on the dial and on top.

import { draw, make, percent } from "./make.js";

// A ring round the middle, and the disc of that radius.
const disc = (r) => `M0 ${-r}A${r} ${r} 0 1 1 -0.01 ${-r}Z`;
const ring = (r) => disc(r) + disc(r - 1.8);

// Class and shape, in a box of 16 by 16 with its middle at 0. The report has the same as letters, and the sheet
// `palette.css` a colour for each class.
const MARKS = {
  "turns-through-keep-out": ["keep-out", ring(7) + "M-4.3 3L3 -4.3L4.3 -3L-3 4.3Z"],
  "winds-too-far": ["winding", ring(7) + disc(3)],
  "out-of-reach": ["out-of-reach", "M-6 -4L-4 -6L0 -2L4 -6L6 -4L2 0L6 4L4 6L0 2L-4 6L-6 4L-2 0Z"],
  "hunts": ["hunts", "M0 -7L7 0L0 7L-7 0Z"],
  "does-not-settle": ["does-not-settle", "M-5.5 -5.5H5.5V5.5H-5.5Z"],
  "no-solution": ["no-solution", "M0 -7L7 0L0 7L-7 0ZM0 -4.2L-4.2 0L0 4.2L4.2 0Z"],
  "at-risk": ["at-risk", "M0 -6.5L7 5.5H-7Z"],
  "safe": ["safe", disc(6)],
  "unknown": ["unknown", ring(6)],
};

// All of them, the worst first.
export const STATES = Object.keys(MARKS);

// The mark by itself, to be put inside an SVG.
export function shape(state, parent, attributes = {}) {
  const [name, d] = MARKS[state];
  return draw("path", { d, class: "mark " + name, ...attributes }, parent);
}

// The mark among words.
export function mark(state, parent) {
  const svg = draw("svg", { viewBox: "-8 -8 16 16", class: "sign", "aria-hidden": "true" }, parent);
  shape(state, svg);
  return svg;
}

// A verdict in words, with the share of the fault that decides it: the worst kind of those that exceed their limit, else
// of those that may. `words` are those of the states.
export function verdictWords({ verdict, faults }, words) {
  const of = (standing) => faults.find((f) => f.standing === standing);
  const fault = of("exceeds") || of("may-exceed");
  if (!fault) return words[verdict];
  const share = (of) => percent(of).replace(" %", "\u00a0%");
  return words[verdict] + (fault.rate > 0 ? " " + share(fault.rate) : ", up to " + share(fault.high));
}

// A mark with its words, put in the place of what stands there.
export function sign(place, state, words) {
  if (place.dataset.state === state && place.textContent === words) return;
  place.dataset.state = state;
  place.replaceChildren();
  mark(state, place);
  make("span", {}, place, words);
}
