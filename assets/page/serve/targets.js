// The list of targets, the worst first: choose one, rename it, change its angle, write a dragged angle back, add and remove.

import { button, degrees, make, plain } from "./make.js";
import { sign } from "./marks.js";

// A longer list is folded.
const SHOWN = 20;

// `verdicts` has the verdict on a position angle; `why(i)` has a sentence on the target of that place, or nothing.
export function targets(place, store, verdicts, choose, why, most) {
  const list = make("ul", { class: "targets" }, place);
  const all = button(place, "", () => { open = !open; show(store.state); }, { id: "show-all", hidden: true });
  const more = button(make("p", { class: "row" }, place), "Add as target", () => {
    store.change(null, (s) => {
      const names = new Set(s.targets.map((t) => t.name));
      let i = s.targets.length + 1;
      while (names.has("target " + i)) i += 1;
      s.chosen = s.targets.push({ name: "target " + i, position_angle_deg: s.targetDeg }) - 1;
    });
  }, { id: "add-target" });
  let open = false;
  // The places of the targets as they are shown; they keep it until all verdicts are there.
  let order = [];
  let lines = new Map();

  function sorted(s) {
    const places = s.targets.map((_, i) => i);
    if (order.length === places.length && !verdicts.settled(s)) return order;
    const rank = s.targets.map((t) => verdicts.of(t.position_angle_deg).rank);
    return places.sort((a, b) => rank[a][0] - rank[b][0] || rank[a][1] - rank[b][1] || a - b);
  }

  // The line of a target; the one that is there, as long as it would be made again.
  function row(i, s) {
    const t = s.targets[i];
    const built = JSON.stringify([t.name, s.chosen === i]);
    const old = lines.get(i);
    if (old?.dataset.built === built) return old;
    const line = make("li", { "data-target": i, "data-built": built });
    const pick = button(line, "", () => choose(i), { class: "pick", "aria-pressed": String(s.chosen === i) });
    make("span", { class: "verdict" }, pick);
    make("span", { class: "name" }, pick, t.name);
    make("span", { class: "angle" }, pick);
    make("p", { class: "soft why" }, line);
    if (s.chosen === i) edit(line, i, t);
    return line;
  }

  function edit(line, i, t) {
    const box = make("div", { class: "row edit" }, line);
    const name = make("input", { type: "text", value: t.name, maxlength: 200, class: "rename" }, make("label", {}, box, "Name "));
    name.addEventListener("change", () => {
      const value = name.value.trim();
      const fault = value === "" ? "A target needs a name." : store.state.targets.some((other, k) => k !== i && other.name === value) ? "Another target has this name." : "";
      wrong.hidden = fault === "";
      wrong.textContent = fault;
      if (fault === "") store.change(null, (s) => { s.targets[i].name = value; });
    });
    const angle = make("input", { type: "number", step: "any", "aria-label": "Position angle of " + t.name + " in degrees", class: "of-target" }, make("label", {}, box, "Angle (\u00b0) "));
    angle.addEventListener("change", () => {
      const value = angle.valueAsNumber;
      if (Number.isFinite(value)) store.change(null, (s) => { s.targets[i].position_angle_deg = s.targetDeg = value; });
    });
    button(box, "Delete", () => store.change(null, (s) => {
      s.targets.splice(i, 1);
      s.chosen = s.targets.length > 0 ? Math.min(i, s.targets.length - 1) : null;
      if (s.chosen !== null) s.targetDeg = s.targets[s.chosen].position_angle_deg;
    }), { class: "small", "aria-label": "Delete " + t.name });
    const wrong = make("p", { class: "fault", role: "alert", hidden: true }, box);
    const moved = make("p", { class: "row moved", hidden: true }, line);
    make("span", {}, moved);
    button(moved, "Write it to the list", () => store.change(null, (s) => { s.targets[i].position_angle_deg = s.targetDeg; }), { class: "small", id: "write-back" });
    button(moved, "Back", () => choose(i), { class: "small" });
  }

  // The line and the control in it that have the keyboard, or nothing.
  function focused() {
    const line = document.activeElement?.closest?.("li[data-target]");
    return line && { i: line.dataset.target, control: [...line.querySelectorAll("button, input")].indexOf(document.activeElement) };
  }

  function show(s) {
    order = sorted(s);
    const shown = open ? order : order.filter((i, k) => k < SHOWN || i === s.chosen);
    const had = focused();
    lines = new Map(shown.map((i) => [i, row(i, s)]));
    const made = [...lines.values()];
    if (made.length !== list.children.length || made.some((line, k) => line !== list.children[k])) {
      const stay = new Set(made);
      for (const line of [...list.children]) if (!stay.has(line)) line.remove();
      // A line that moves loses the keyboard: the others move round it.
      const held = made.findIndex((line) => line.contains(document.activeElement));
      if (held > 0) made[held].before(...made.slice(0, held));
      list.append(...made.slice(held + 1));
      if (had && held < 0) {
        const line = lines.get(Number(had.i)) || list.lastElementChild;
        (line?.querySelectorAll("button, input")[had.control] || line?.querySelector("button") || more).focus({ preventScroll: true });
      }
    }
    all.hidden = order.length <= SHOWN;
    all.textContent = open ? "Show the worst alone" : `Show all ${order.length}`;
    more.disabled = s.targets.length >= most;
    for (const line of list.children) {
      const i = Number(line.dataset.target);
      const t = s.targets[i];
      const verdict = verdicts.of(t.position_angle_deg);
      sign(line.querySelector(".verdict"), verdict.state, verdict.words);
      line.querySelector(".angle").textContent = degrees(t.position_angle_deg);
      const sentence = verdict.state === "safe" ? "" : why(i) || "";
      line.querySelector(".why").textContent = sentence;
      line.querySelector(".why").hidden = sentence === "";
      const angle = line.querySelector(".of-target");
      if (!angle) continue;
      // What is being typed is not taken away by figures that come in meanwhile.
      if (document.activeElement !== angle) angle.value = plain(t.position_angle_deg, 12);
      const moved = line.querySelector(".moved");
      moved.hidden = s.targetDeg === t.position_angle_deg;
      moved.firstChild.textContent = "Dragged to " + degrees(s.targetDeg) + ".";
    }
  }

  return { show };
}
