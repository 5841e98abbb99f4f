// The verdicts on all targets, found in the background after every change of rig or list.

import { post } from "./api.js";
import { pause } from "./jobs.js";
import { STATES, verdictWords } from "./marks.js";

// A handle rests.
const REST_MS = 150;
const BUSY_MS = 1000;
// So many answers in a row may bring nothing: what takes so long is not found here.
const MOST_FRUITLESS = 3;

// Finds the verdicts on position angles and puts them into a map, a part at a time; after each part `told` gets words of what is still
// missing, empty where more will come.
export async function judge({ rig, seed }, angles, known, signal, told = () => {}) {
  let left = [...new Set(angles)].filter((deg) => !known.has(deg));
  for (let fruitless = 0; left.length > 0 && fruitless < MOST_FRUITLESS; ) {
    const before = left.length;
    try {
      const { targets } = await post("verdicts", { rig, seed, targets: left.map((deg, i) => ({ name: String(i), position_angle_deg: deg })) }, signal);
      if (signal?.aborted) return;
      targets.forEach((t, i) => { if (t) known.set(left[i], t); });
    } catch (error) {
      // Of a rig that is refused, or a program that is gone, the answer on top tells.
      if (signal?.aborted) return;
      if (error.status !== 503) return void told("not judged");
      await pause(BUSY_MS);
      if (signal?.aborted) return;
    }
    // The first has most of the time: next time it is another.
    left = left.filter((deg) => !known.has(deg));
    if (left.length === before) left.push(left.shift());
    fruitless = left.length === before ? fruitless + 1 : 0;
    told(fruitless === MOST_FRUITLESS ? "needs over 3 s" : "");
  }
}

// A verdict with its words, and how bad it is: the first of two is the worse.
export function told(verdict, words, otherwise = "judging") {
  if (!verdict) return { state: "unknown", words: otherwise, rank: [STATES.indexOf("safe") - 0.5, 0] };
  const fault = verdict.faults.find((f) => f.standing === "exceeds") || verdict.faults.find((f) => f.standing === "may-exceed");
  const share = fault ? fault.rate || fault.high : 0;
  return { state: verdict.verdict, words: verdictWords(verdict, words), rank: [STATES.indexOf(verdict.verdict), -share] };
}

// "2 of 8 targets hunt.", "All 8 targets are safe."; `does` are the words of the states after one target.
export function standing(states, does) {
  const all = states.length;
  const some = STATES.map((state) => [state, states.filter((s) => s === state).length]).filter(([, count]) => count > 0);
  const many = (words) => words.replace(/^is /, "are ").replace(/^does /, "do ").replace(/^(\w+)s /, "$1 ").replace(/^hunts$/, "hunt");
  const one = ([state, count], i) => {
    const whole = count === all ? (all === 1 ? "The target" : `All ${all} targets`) : i === 0 ? `${count} of ${all} targets` : String(count);
    return `${whole} ${count === 1 ? does[state] : many(does[state])}`;
  };
  // What is safe goes without saying where something is not.
  const bad = some.filter(([state]) => state !== "safe");
  return (bad.length > 0 ? bad : some).map(one).join(", ") + ".";
}

// `words` are those of the states; `shown()` is told when more is known, or less.
export function verdicts(store, words, shown) {
  let ofRig = "";
  // By position angle: a verdict goes by nothing else of a target.
  let known = new Map();
  let asked = "";
  let givenUp = "";
  let running = new AbortController();
  let timer = 0;

  function changed(s) {
    const rig = JSON.stringify([s.rig, s.seed]);
    const angles = s.targets.map((t) => t.position_angle_deg);
    const now = rig + JSON.stringify(angles);
    const same = now === asked;
    if (same && (givenUp || angles.every((deg) => known.has(deg)))) return false;
    asked = now;
    if (rig !== ofRig) known = new Map();
    ofRig = rig;
    givenUp = "";
    // A handle that moves needs the machine.
    running.abort();
    running = new AbortController();
    clearTimeout(timer);
    const { signal } = running;
    timer = setTimeout(() => judge(s, angles, known, signal, (missing) => { givenUp = missing; shown(); }), REST_MS);
    return !same;
  }

  store.listen((s) => { if (changed(s)) shown(); });
  changed(store.state);

  return {
    // The verdict on a position angle, in words.
    of: (deg) => told(known.get(deg), words, givenUp || undefined),
    // Nothing more will come.
    settled: (s) => givenUp !== "" || s.targets.every((t) => known.has(t.position_angle_deg)),
  };
}
