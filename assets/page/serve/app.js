// The page: what is asked stands on top, the dial in the middle, what follows below.

import { advice } from "./advice.js";
import { Refused, get, post } from "./api.js";
import { dial, dialKey } from "./dial.js";
import { fields } from "./fields.js";
import { files } from "./files.js";
import { degrees, fold, make, percent, plain, shareOf } from "./make.js";
import { map } from "./map.js";
import { mark } from "./marks.js";
import { rules } from "./rules.js";
import { Store, packed, unpacked } from "./state.js";
import { targets } from "./targets.js";
import { verdicts } from "./verdicts.js";

const TRIALS = 20000;
const LATE_MS = 300;
const by = (id) => document.getElementById(id);

function said(text, bad = false) {
  by("done").textContent = text;
  by("done").classList.toggle("fault", bad);
}

// The state of a link, with the rig and the targets as the server understands them.
async function restored(text, limits) {
  const state = await unpacked(text);
  if (Math.abs(state.targetDeg) > limits.angle_deg) throw new Error("no angle of a target");
  const { rig } = await post("rig/write", { rig: state.rig, text: state.rigText });
  if (state.targets.length > 0) await post("targets/write", { targets: state.targets });
  return { ...state, rig };
}

function linked() {
  return /^#state=([\w-]+)$/.exec(location.hash)?.[1];
}

// What to say of a link that failed, and whether it is the link's own fault: the program may be busy or gone.
function faultOf(error) {
  const damaged = !(error instanceof Refused) || [400, 413, 422].includes(error.status);
  return { damaged, words: damaged ? "The link does not hold a state of this page" : "The link cannot be opened now: " + error.message };
}

async function begun(start) {
  const fresh = {
    rig: start.rig, rigText: start.rig_text, rigName: "rig.toml", targets: start.targets, targetsName: "targets.csv",
    targetDeg: start.targets[0].position_angle_deg, seed: start.seed, trial: 0,
  };
  if (!linked()) return fresh;
  try {
    return await restored(linked(), start.limits);
  } catch (error) {
    const { damaged, words } = faultOf(error);
    if (damaged) history.replaceState(null, "", location.pathname);
    said(words + "; this is a fresh one.", true);
    return fresh;
  }
}

// Asks for the live figures of the newest state; never twice at once.
function watcher(store, shown, refused) {
  let asking = false;
  let wanted = false;
  async function ask() {
    if (asking) {
      wanted = true;
      return;
    }
    asking = true;
    do {
      wanted = false;
      const s = store.state;
      const begun = performance.now();
      try {
        const live = await post("live", { rig: s.rig, target_deg: s.targetDeg, targets: s.targets, seed: s.seed, trials: TRIALS, trial: s.trial });
        shown(s, live, begun);
      } catch (error) {
        refused(error);
      }
    } while (wanted);
    asking = false;
  }
  return ask;
}

// How the question is answered; the states that are not here are no answer to it.
const ANSWERS = { "safe": "No, it ", "at-risk": "Perhaps, it ", "hunts": "Yes, it " };

const FAULTS = {
  "keep-out": "turns through a keep-out", "winding": "winds the cable too far", "refused": "wants to go beyond the stops", "ping-pong": "ping-pongs",
  "stuck": "uses up its solves without hunting", "late": "needs more solves than it should", "unsolved": "ends on failed solves",
};

function answer(s, live, does) {
  const mine = live.compared.policies.find((p) => p.rule === s.rig.wrap.rule);
  if (!mine || !live.verdict) return ["This is not found within 3 seconds. A map or the advice takes the time that it needs.", "unknown"];
  const by = mine.method === "exact" ? "" : ` (of ${mine.trials} runs)`;
  const inWords = ({ fault, rate, low, high }) => {
    const share = shareOf({ rate, low }, mine.trials);
    return FAULTS[fault] + " in " + (share > 0 ? "" : "less than ") + percent(share > 0 ? share : high);
  };
  // The question is of ping-pong; another fault within its limit is not worth the words.
  const told = live.verdict.faults.filter((f) => f.standing !== "within" || (f.fault === "ping-pong" && f.high >= 1e-9));
  const found = told.length > 0 ? told.map(inWords).join(", ").replace(" %", " % of the loops") : "never ping-pongs";
  const seam = live.view.target.seam_distance_deg;
  const where = seam === null ? "this rule has no seam" : `the target is sent to ${degrees(live.view.target_drive_deg)}, ${degrees(seam)} from the seam`;
  const px = live.view.tolerance_corner_px;
  const corner = px === null ? "" : ` The tolerance of ${degrees(live.view.tolerance_deg)} moves the corner of the frame by ${plain(px, 3)} px.`;
  const settles = mine.settled.rate > 0.999 ? "" : ` It settles in ${percent(mine.settled.rate)}.`;
  const { verdict } = live.verdict;
  return [`${(ANSWERS[verdict] || "It ") + does[verdict]}: under the rule ${mine.rule} it ${found}${by}; ${where}.${settles}${corner}`, verdict];
}

// The mark of the answer.
function top(state) {
  by("answer").dataset.state = state;
  by("answer-mark").replaceChildren();
  mark(state, by("answer-mark"));
}

async function main() {
  top("unknown");
  const start = await get("start");
  by("version").textContent = `halfturn ${start.version}. Everything is computed on this machine.`;
  const store = new Store(await begun(start));
  const choose = (i) => store.change(null, (s) => { s.targetDeg = s.targets[i].position_angle_deg; });
  const wordsFor = (what) => Object.fromEntries([["unknown", "not known yet"], ...start.states.map((s) => [s.state, s[what]])]);
  const does = wordsFor("does");
  const judged = verdicts(store, wordsFor("words"), () => {
    wheel.judged();
    list.show(store.state, fitting());
  });
  const present = dialKey(by("dial-key"), wordsFor("words"));
  const wheel = dial(by("dial"), judged, present, moved, choose);
  const form = fields(by("fields"), start.keys, store);
  const table = rules(by("rules"), start.rules, (rule) => store.change(null, (s) => { s.rig.wrap.rule = rule; }));
  const list = targets(by("targets"), store, judged, choose, start.limits.targets);
  const sweep = map(by("map"), start, store);
  advice(by("advice"), store);
  files(store, said);
  let player = null;
  let view = null;
  let traced = "";
  let reading = 0;
  // What a run that ping-pongs was looked for in.
  let hunted = "";
  const looked = (s) => JSON.stringify([s.rig, s.targetDeg, s.seed]);

  function moved(what, deg, by = false) {
    // Round the circle from where it is, not back to the first turn.
    const near = (next, present) => present + fold(next - present, -180, 360);
    const rounded = (value) => Number(value.toFixed(4));
    store.change("handle " + what, (s) => {
      const start = s.rig.wrap.arc_start_deg;
      if (what === "arc") s.rig.wrap.arc_start_deg = rounded(by ? start + deg : near(deg, start));
      else if (by) s.targetDeg = rounded(s.targetDeg + view.believed_sense * deg);
      else s.targetDeg = rounded(near(view.believed_zero_point_deg + view.believed_sense * deg, s.targetDeg));
    });
  }

  const ask = watcher(store, shown, (error) => {
    by("fault").hidden = false;
    by("fault").textContent = "Not shown: " + error.message;
    outdated();
    form.blame(error.key, error.allowed);
  });

  // What is shown is of other settings than those that are set.
  function outdated() {
    document.body.classList.add("stale");
    by("loop-fits").hidden = false;
    top("unknown");
  }

  // An answer that comes soon enough needs no mark on what it replaces.
  let late = 0;
  function pending() {
    late ||= setTimeout(outdated, LATE_MS);
  }

  function shown(s, live, begun) {
    clearTimeout(late);
    late = 0;
    view = live.view;
    by("fault").hidden = true;
    document.body.classList.remove("stale");
    by("loop-fits").hidden = true;
    form.blame(null, "");
    const [words, state] = answer(s, live, does);
    by("answer").textContent = words;
    top(state);
    // Read out when the handle rests, not at every step.
    clearTimeout(reading);
    reading = setTimeout(() => { by("answer-said").textContent = words; }, 800);
    by("answer").dataset.digest = live.digest;
    by("answer").dataset.target = s.targetDeg;
    by("warnings").hidden = live.warnings.length === 0;
    by("warnings").replaceChildren(...live.warnings.map((w) => make("li", {}, null, `${w.key}: ${w.text}`)));
    wheel.show(view, state);
    by("dial-words").textContent = `Wanted ${degrees(view.target.wanted_deg)}, sent to ${degrees(view.target_drive_deg)}; arc from ${degrees(view.arc_start_deg)}, ${degrees(view.arc_width_deg)} wide.`;
    table.show(live.compared, s.rig.wrap.rule);
    list.show(s, view);
    const now = JSON.stringify(live.trace);
    if (now !== traced) {
      traced = now;
      if (player) player.load(live.trace);
      else player = window.HalfturnPlayer.mount(by("player"), live.trace);
    }
    document.documentElement.dataset.frameMs = (performance.now() - begun).toFixed(1);
    document.documentElement.dataset.solveMs = live.compared_ms.toFixed(1);
    if (s !== store.state) pending();
  }

  // Where the targets lie, if that is known of this list.
  const fitting = () => (view && view.targets.length === store.state.targets.length ? view : null);

  let keep = 0;
  store.listen((s) => {
    fromState(s);
    pending();
    ask();
    clearTimeout(keep);
    keep = setTimeout(async () => history.replaceState(null, "", "#state=" + (await packed(s))), 400);
  });

  function fromState(s) {
    const names = s.targets.map((t) => t.name);
    const select = by("target-choice");
    const here = s.targets.findIndex((t) => t.position_angle_deg === s.targetDeg);
    select.replaceChildren();
    if (here < 0) make("option", { value: "" }, select, "this angle");
    names.forEach((name, i) => make("option", { value: i }, select, name));
    select.value = here < 0 ? "" : String(here);
    const angle = by("target-angle");
    if (document.activeElement !== angle || angle.valueAsNumber !== s.targetDeg) angle.value = plain(s.targetDeg, 12);
    if (document.activeElement !== by("seed")) by("seed").value = s.seed;
    if (document.activeElement !== by("trial")) by("trial").value = s.trial;
    by("undo").disabled = store.past.length === 0;
    by("redo").disabled = store.future.length === 0;
    form.show(s.rig);
    list.show(s, fitting());
    if (hunted !== looked(s)) by("hunt-words").textContent = "";
    sweep.show(s);
  }

  by("target-choice").addEventListener("change", (event) => { if (event.target.value !== "") choose(Number(event.target.value)); });
  by("target-angle").addEventListener("input", (event) => {
    const value = event.target.valueAsNumber;
    if (Number.isFinite(value)) store.change("angle", (s) => { s.targetDeg = value; });
  });
  for (const name of ["seed", "trial"]) {
    by(name).max = start.limits.seed;
    by(name).addEventListener("input", (event) => {
      const value = event.target.valueAsNumber;
      if (Number.isSafeInteger(value) && value >= 0) store.change(name, (s) => { s[name] = value; });
    });
  }
  by("hunt").addEventListener("click", async () => {
    const s = store.state;
    hunted = looked(s);
    by("hunt-words").textContent = "searching …";
    try {
      const { trial } = await post("hunting", { rig: s.rig, target_deg: s.targetDeg, seed: s.seed });
      if (hunted !== looked(store.state)) return;
      by("hunt-words").textContent = `run ${trial} ping-pongs`;
      store.change(null, (next) => { next.trial = trial; });
    } catch (error) {
      if (hunted === looked(store.state)) by("hunt-words").textContent = error.message;
    }
  });
  by("undo").addEventListener("click", () => store.undo());
  by("redo").addEventListener("click", () => store.redo());
  by("link").addEventListener("click", async () => {
    history.replaceState(null, "", "#state=" + (await packed(store.state)));
    try {
      await navigator.clipboard.writeText(location.href);
      said("The link is copied. It opens this state on a machine where the program serves the page.");
    } catch {
      said("The address of this page is the link.");
    }
  });
  document.addEventListener("keydown", (event) => {
    const undo = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z";
    if (!undo || event.target.matches("input[type=text]")) return;
    event.preventDefault();
    if (event.shiftKey) store.redo();
    else store.undo();
  });
  window.addEventListener("hashchange", async () => {
    if (!linked()) return;
    try {
      const next = await restored(linked(), start.limits);
      store.change(null, (s) => Object.assign(s, next));
    } catch (error) {
      history.replaceState(null, "", "#state=" + (await packed(store.state)));
      said(faultOf(error).words + "; nothing is changed.", true);
    }
  });
  fromState(store.state);
  ask();
}

main().catch((error) => {
  by("answer").textContent = "The page cannot start: " + error.message;
});
