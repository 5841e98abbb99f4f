// The verdicts on all targets, found in the background after every change of rig or list.

import { post } from "./api.js";
import { verdictWords } from "./marks.js";

// A handle rests.
const REST_MS = 200;
const BUSY_MS = 1000;
// So many answers in a row may bring nothing: what takes so long is not found here.
const MOST_FRUITLESS = 3;

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// `words` are those of the states; `shown()` is told when more is known, or less.
export function verdicts(store, words, shown) {
  let ofRig = "";
  // By position angle: a verdict goes by nothing else of a target.
  let known = new Map();
  let asked = "";
  let givenUp = false;
  let running = new AbortController();
  let timer = 0;

  function changed(s) {
    const rig = JSON.stringify([s.rig, s.seed]);
    const angles = [...new Set(s.targets.map((t) => t.position_angle_deg))];
    const now = rig + JSON.stringify(angles);
    if (now === asked) return false;
    asked = now;
    if (rig !== ofRig) known = new Map();
    ofRig = rig;
    givenUp = false;
    running.abort();
    running = new AbortController();
    clearTimeout(timer);
    const { signal } = running;
    timer = setTimeout(() => ask(s, angles.filter((deg) => !known.has(deg)), signal), REST_MS);
    return true;
  }

  async function ask({ rig, seed }, missing, signal) {
    let left = missing;
    for (let fruitless = 0; left.length > 0 && fruitless < MOST_FRUITLESS; ) {
      const before = left.length;
      try {
        const { targets } = await post("verdicts", { rig, seed, targets: left.map((deg, i) => ({ name: String(i), position_angle_deg: deg })) }, signal);
        if (signal.aborted) return;
        targets.forEach((t, i) => { if (t) known.set(left[i], t); });
      } catch (error) {
        // Of a rig that is refused, or a program that is gone, the answer on top tells.
        if (signal.aborted || error.status !== 503) return;
        await pause(BUSY_MS);
        if (signal.aborted) return;
      }
      // The first has most of the time: next time it is another.
      left = left.filter((deg) => !known.has(deg));
      if (left.length === before) left.push(left.shift());
      fruitless = left.length === before ? fruitless + 1 : 0;
      givenUp = fruitless === MOST_FRUITLESS;
      shown();
    }
  }

  store.listen((s) => { if (changed(s)) shown(); });
  changed(store.state);

  return {
    // The state of a position angle, and its words.
    of(deg) {
      const verdict = known.get(deg);
      if (verdict) return { state: verdict.verdict, words: verdictWords(verdict, words) };
      return { state: "unknown", words: givenUp ? "not found within 3 s" : "not known yet" };
    },
  };
}
