// The page: names on top, the answer, then targets, dial and settings, and tabs with the rest.

import { advice } from "./advice.js";
import { Refused, get, post } from "./api.js";
import { dial, dialKey } from "./dial.js";
import { LINK } from "./door.js";
import { files } from "./files.js";
import { degrees, fold, make, percent, shareOf } from "./make.js";
import { map } from "./map.js";
import { mark } from "./marks.js";
import { night } from "./night.js";
import { rules } from "./rules.js";
import { settings } from "./settings.js";
import { sheet } from "./sheet.js";
import { Store, packed, unpacked } from "./state.js";
import { targets } from "./targets.js";
import { standing, verdicts } from "./verdicts.js";

const TRIALS = 20000;
// A handle rests: finer figures are asked for.
const REST_MS = 150;
// Figures that are older than this are marked.
const LATE_MS = 200;
// Largest share of hunting loops of a safe target, as `advise` has it.
const LIMIT = 0.001;
const by = (id) => document.getElementById(id);

function said(text, bad = false) {
  by("done").textContent = text;
  by("done").hidden = text === "";
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
  return { damaged, words: damaged ? "The link does not hold a state of this page" : "The link does not open now: " + error.message };
}

async function begun(fresh, limits) {
  if (!linked()) return fresh;
  try {
    return await restored(linked(), limits);
  } catch (error) {
    const { damaged, words } = faultOf(error);
    if (damaged) history.replaceState(null, "", location.pathname);
    said(words + ". This is a fresh page.", true);
    return fresh;
  }
}

// Asks for the figures of the newest state, never twice at once: rough ones while a handle moves, fine ones when it rests.
function watcher(store, shown, refused) {
  let fine = new AbortController();
  let [busy, again, rest] = [false, false, 0];

  async function look(moving, signal) {
    const { rig, targetDeg, targets, seed, trial } = store.state;
    const [s, since] = [store.state, store.changedMs];
    try {
      const live = await post("live", { rig, target_deg: targetDeg, targets, seed, trials: TRIALS, trial, moving }, signal);
      shown(s, live, since);
      return live.rough;
    } catch (error) {
      if (!signal?.aborted) refused(error);
      return false;
    }
  }

  return async function ask() {
    clearTimeout(rest);
    fine.abort();
    again = true;
    if (busy) return;
    busy = true;
    let rough = false;
    while (again) {
      again = false;
      rough = await look(true);
    }
    busy = false;
    fine = new AbortController();
    if (rough) rest = setTimeout(() => look(false, fine.signal), REST_MS);
  };
}

const FAULTS = {
  "keep-out": "turns through a keep-out", "winding": "winds the cable too far", "refused": "wants to go beyond the stops", "hunting": "hunts",
  "stuck": "uses up its solves", "late": "needs too many solves", "unsolved": "ends on failed solves",
};

// The verdict on the chosen target: its state, and a sentence.
function verdictOf(s, live, does) {
  const mine = live.compared.policies.find((p) => p.rule === s.rig.wrap.rule);
  if (!mine || !live.verdict) return ["unknown", "Not computed: needs over 3 s. Run the advice."];
  const { verdict, faults } = live.verdict;
  // A thousand runs cannot show that a target is safe.
  const state = live.rough && mine.trials > 0 && verdict === "at-risk" ? "unknown" : verdict;
  const inWords = ({ fault, rate, low, high }) => {
    const share = shareOf({ rate, low }, mine.trials);
    return `${FAULTS[fault]} in ${share > 0 ? "" : "less than "}${percent(share > 0 ? share : high)}`;
  };
  const found = faults.filter((f) => f.standing !== "within").map(inWords).join(", ") || does[verdict];
  const seam = live.view.target.seam_distance_deg;
  const to = live.view.stops_deg ? live.view.target_drive_deg : fold(live.view.target_drive_deg, 0, 360);
  const where = seam === null ? "This rule has no seam." : `First move to ${degrees(to)}, ${seam < 5e-4 ? "on the seam" : degrees(seam) + " from the seam"}.`;
  return [state, `It ${found}${mine.trials > 0 ? ` (of ${mine.trials} runs)` : ""}. ${where}`];
}

function theme() {
  const set = (name) => {
    if (name) document.documentElement.dataset.theme = name;
    else delete document.documentElement.dataset.theme;
  };
  // A browser may keep nothing.
  try {
    by("theme").value = localStorage.getItem("theme") || "";
  } catch { /* Auto, then. */ }
  set(by("theme").value);
  by("theme").addEventListener("change", () => {
    set(by("theme").value);
    try {
      localStorage.setItem("theme", by("theme").value);
    } catch { /* Only for now, then. */ }
  });
}

// `opened(id)` is told which panel is shown.
function tabs(opened) {
  const all = [...by("tabs").children];
  const open = (tab) => {
    for (const other of all) {
      other.setAttribute("aria-selected", other === tab);
      other.tabIndex = other === tab ? 0 : -1;
      by(other.getAttribute("aria-controls")).hidden = other !== tab;
    }
    opened(tab.getAttribute("aria-controls"));
  };
  by("tabs").addEventListener("click", (event) => { if (all.includes(event.target)) open(event.target); });
  by("tabs").addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = all[(all.indexOf(document.activeElement) + step + all.length) % all.length];
    next.focus();
    open(next);
  });
  open(all[0]);
}

async function main() {
  theme();
  mark("unknown", by("answer-mark"));
  const start = await get("start");
  by("version").textContent = `halfturn ${start.version}. Everything is computed on this machine.`;
  const fresh = {
    rig: start.rig, rigText: start.rig_text, rigName: start.rig_file ?? "", targets: start.targets, targetsName: start.targets_file ?? "",
    chosen: 0, targetDeg: start.targets[0].position_angle_deg, seed: start.seed, trial: 0,
  };
  const store = new Store(await begun(fresh, start.limits));
  const choose = (i) => store.change(null, (s) => { s.chosen = i; s.targetDeg = s.targets[i].position_angle_deg; });
  const wordsFor = (what) => Object.fromEntries([["unknown", "not known yet"], ...start.states.map((s) => [s.state, s[what]])]);
  const [words, does] = [wordsFor("words"), wordsFor("does")];
  const judged = verdicts(store, words, () => {
    wheel.judged();
    list.show(store.state);
    whole();
  });
  const wheel = dial(by("dial"), judged, dialKey(by("dial-key"), words), moved, choose);
  const form = settings(by("fields"), start.keys, store, said);
  const table = rules(by("rules"), start.rules, (rule) => store.change(null, (s) => { s.rig.wrap.rule = rule; }));
  const side = sheet(by("sheet"), store, words);
  let advised = null;
  const list = targets(by("targets"), store, judged, choose, (i) => advised?.why(i), start.limits.targets);
  const sweep = map(by("map"), start, store, LIMIT);
  advised = advice(by("advice"), by("report"), store, start.engine_bytes, (...both) => side.compare("What the advice changes", ["Now", "Advised"], ...both), () => list.show(store.state));
  night(by("night"), store);
  // What is in a file, or was there at the start.
  const kept = { rig: JSON.stringify(fresh.rig), targets: JSON.stringify(fresh.targets) };
  files(store, side, said, (what) => {
    kept[what] = JSON.stringify(store.state[what]);
    names(store.state);
  });
  let view = null;
  let late = 0;
  let reading = 0;
  // The newest loop, and whether the player is open and shows it.
  let loop = { trace: null, shown: "", open: false, player: null };
  // What a run that hunts was looked for in.
  let hunted = "";
  const looked = (s) => JSON.stringify([s.rig, s.targetDeg, s.seed]);

  function moved(what, deg, by = false) {
    // Round the circle from where it is, not back to the first turn.
    const near = (next, present) => present + fold(next - present, -180, 360);
    const rounded = (value) => Number(value.toFixed(4));
    store.change("handle " + what, (s) => {
      const from = s.rig.wrap.arc_start_deg;
      if (what === "arc") s.rig.wrap.arc_start_deg = rounded(by ? from + deg : near(deg, from));
      else if (by) s.targetDeg = rounded(s.targetDeg + view.believed_sense * deg);
      else s.targetDeg = rounded(near(view.believed_zero_point_deg + view.believed_sense * deg, s.targetDeg));
    });
  }

  const ask = watcher(store, shown, (error) => {
    clearTimeout(late);
    outdated();
    const told = form.blame(error.key, error.allowed);
    by("fault").hidden = false;
    by("fault").textContent = told ? "A setting is wrong. Its field says what is allowed." : "Not shown: " + error.message;
  });

  // What is shown is of other settings than those that are set.
  function outdated() {
    document.body.classList.add("stale");
  }

  function shown(s, live, since) {
    clearTimeout(late);
    view = live.view;
    by("fault").hidden = true;
    document.body.classList.remove("stale");
    form.blame(null, "");
    form.known(view);
    const name = s.targets[s.chosen]?.name ?? "This angle";
    const [state, sentence] = verdictOf(s, live, does);
    by("now").replaceChildren();
    mark(state, by("now"));
    by("now").append(`${name} at ${degrees(s.targetDeg)}`);
    by("now-words").textContent = sentence;
    by("now-words").classList.toggle("rough", live.rough);
    // Read out when the handle rests, not at every step.
    clearTimeout(reading);
    reading = setTimeout(() => { by("now-said").textContent = `${name}: ${sentence}`; }, 800);
    by("warnings").hidden = live.warnings.length === 0;
    by("warnings").replaceChildren(...live.warnings.map((w) => make("li", {}, null, `${w.key}: ${w.text}`)));
    wheel.show(view, state);
    table.show(live, s.rig.wrap.rule);
    loop.trace = live.trace;
    play();
    if (s !== store.state) late = setTimeout(outdated, LATE_MS);
    // Once it is painted.
    requestAnimationFrame(() => setTimeout(() => {
      const figures = { digest: live.digest, target: s.targetDeg, state, rough: live.rough, changedMs: since, frameMs: (performance.now() - since).toFixed(1) };
      Object.assign(document.body.dataset, figures);
    }));
  }

  function play() {
    const now = JSON.stringify(loop.trace);
    if (!loop.open || !loop.trace || now === loop.shown) return;
    loop.shown = now;
    if (loop.player) loop.player.load(loop.trace);
    else loop.player = window.HalfturnPlayer.mount(by("player"), loop.trace);
  }

  // The verdict on the whole list.
  function whole() {
    const s = store.state;
    const all = s.targets.map((t) => judged.of(t.position_angle_deg).state);
    const known = all.filter((state) => state !== "unknown");
    const ready = judged.settled(s);
    const worst = ready && known.length > 0 ? [...by("targets").querySelectorAll(".verdict")][0]?.dataset.state : "unknown";
    by("answer-mark").replaceChildren();
    mark(worst ?? "unknown", by("answer-mark"));
    const missing = all.length - known.length;
    by("answer").textContent = all.length === 0 ? "The list has no targets." : !ready ? "Judging the targets \u2026" : known.length === 0 ? "Not judged." : standing(known, does) + (missing > 0 ? ` ${missing} need over 3 s.` : "");
    by("answer").dataset.state = worst ?? "unknown";
  }

  function names(s) {
    by("rig-name").textContent = s.rig.name || s.rigName || "Rig without a name";
    by("demo").hidden = s.rigName !== "";
    const count = `${s.targets.length} target${s.targets.length === 1 ? "" : "s"}`;
    by("list-name").textContent = s.targetsName ? `${s.targetsName}, ${count}` : count;
    by("rig-changed").hidden = JSON.stringify(s.rig) === kept.rig;
    by("list-changed").hidden = JSON.stringify(s.targets) === kept.targets;
  }

  function fromState(s) {
    names(s);
    for (const name of ["seed", "trial"]) if (document.activeElement !== by(name)) by(name).value = s[name];
    by("undo").disabled = store.past.length === 0;
    by("redo").disabled = store.future.length === 0;
    form.show(s.rig);
    list.show(s);
    if (hunted !== looked(s)) by("hunt-words").textContent = "";
    sweep.show(s);
    whole();
  }

  let keep = 0;
  store.listen((s) => {
    ask();
    clearTimeout(late);
    late = setTimeout(outdated, LATE_MS);
    fromState(s);
    clearTimeout(keep);
    keep = setTimeout(async () => history.replaceState(null, "", "#state=" + (await packed(s))), 400);
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
    const tell = (text, bad) => {
      if (hunted !== looked(store.state)) return;
      by("hunt-words").textContent = text;
      by("hunt-words").classList.toggle("fault", bad);
    };
    tell("searching …", false);
    try {
      const { trial, searched } = await post("hunting", { rig: s.rig, target_deg: s.targetDeg, seed: s.seed });
      tell(trial === null ? `None of the first ${searched} runs hunts here.` : `Run ${trial} hunts.`, false);
      if (trial !== null && hunted === looked(store.state)) store.change(null, (next) => { next.trial = trial; });
    } catch (error) {
      tell(error.message, true);
    }
  });
  by("undo").addEventListener("click", () => store.undo());
  by("redo").addEventListener("click", () => store.redo());
  by("reset").addEventListener("click", () => store.change(null, (s) => Object.assign(s, structuredClone(fresh))));
  by("compare-start").addEventListener("click", () => side.compare("Since the start", ["Start", "Now"], fresh, store.state));
  by("mosaic").addEventListener("click", () => side.mosaic());
  by("link").addEventListener("click", async () => {
    history.replaceState(null, "", "#state=" + (await packed(store.state)));
    try {
      await navigator.clipboard.writeText(location.href);
      said("The link is copied. " + LINK);
    } catch {
      said("The address of this page is the link.");
    }
  });
  const menu = document.querySelector(".menu");
  document.addEventListener("click", (event) => { if (!menu.querySelector("summary").contains(event.target)) menu.open = false; });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && menu.open) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
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
      said(faultOf(error).words + ". Nothing has changed.", true);
    }
  });
  fromState(store.state);
  ask();
  tabs((id) => {
    loop.open = id === "loop";
    play();
    advised.read(id === "report");
    sweep.show(store.state);
  });
}

main().catch((error) => {
  by("answer").textContent = "The page does not start: " + error.message;
  by("answer").classList.add("fault");
});
