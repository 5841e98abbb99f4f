// The list of targets: choose one, change its angle, add and remove.

import { button, degrees, make } from "./make.js";
import { sign } from "./marks.js";

// `verdicts.of(deg)` has the verdict on a position angle.
export function targets(place, store, verdicts, choose, most) {
  const scroll = make("div", { class: "scroll tall", tabindex: 0, role: "region", "aria-label": "Table of targets" }, place);
  const table = make("table", {}, scroll);
  const head = make("tr", {}, make("thead", {}, table));
  make("th", { scope: "col", class: "text" }, head, "Target");
  for (const [title, more] of [["Angle", "position [deg]"], ["Seam", "distance [deg]"]]) {
    make("small", {}, make("th", { scope: "col" }, head, title), more);
  }
  make("span", { class: "unseen" }, make("th", { scope: "col" }, head), "Remove");
  const body = make("tbody", {}, table);
  const add = make("p", { class: "row" }, place);
  const more = button(add, "Add the present angle", () => {
    store.change(null, (s) => {
      const names = new Set(s.targets.map((t) => t.name));
      let i = s.targets.length + 1;
      while (names.has("target " + i)) i += 1;
      s.targets.push({ name: "target " + i, position_angle_deg: s.targetDeg });
    });
  }, { id: "add-target" });
  let names = "";

  // The line and the control in it that have the keyboard, or nothing.
  function focused() {
    const line = document.activeElement?.closest?.("tr");
    if (!line || line.parentElement !== body) return null;
    return { row: [...body.children].indexOf(line), control: [...line.querySelectorAll("button, input")].indexOf(document.activeElement) };
  }

  function focus({ row, control }) {
    const line = body.children[Math.min(row, body.children.length - 1)];
    const node = line ? line.querySelectorAll("button, input")[control] : more;
    node?.focus({ preventScroll: true });
  }

  function rows(state) {
    const had = focused();
    body.replaceChildren();
    state.targets.forEach((t, i) => {
      const line = make("tr", {}, body);
      const first = make("th", { scope: "row", class: "text" }, line);
      button(first, t.name, () => choose(i), { class: "pick" });
      make("p", { class: "verdict" }, first);
      const angle = make("input", { type: "number", step: "any", value: t.position_angle_deg, "aria-label": "Position angle of " + t.name + " in degrees" }, make("td", {}, line));
      angle.addEventListener("change", () => {
        const value = angle.valueAsNumber;
        if (Number.isFinite(value)) store.change(null, (s) => { s.targets[i].position_angle_deg = value; });
      });
      make("td", { class: "distance" }, line);
      const last = make("td", {}, line);
      button(last, "\u00d7", () => store.change(null, (s) => { s.targets.splice(i, 1); }), { class: "small", "aria-label": "Remove " + t.name });
    });
    more.disabled = state.targets.length >= most;
    if (had) focus(had);
  }

  return {
    show(state, view) {
      const now = JSON.stringify(state.targets.map((t) => t.name));
      if (now !== names) {
        names = now;
        rows(state);
      }
      [...body.children].forEach((line, i) => {
        const angle = line.querySelector("input");
        // What is being typed is not taken away by figures that come in meanwhile.
        if (document.activeElement !== angle) angle.value = state.targets[i].position_angle_deg;
        const t = view && view.targets[i];
        const distance = t ? t.seam_distance_deg : null;
        line.querySelector(".distance").textContent = !t ? "\u2026" : distance === null ? "no seam" : degrees(distance);
        const verdict = verdicts.of(state.targets[i].position_angle_deg);
        sign(line.querySelector(".verdict"), verdict.state, verdict.words);
        line.classList.toggle("present", state.targets[i].position_angle_deg === state.targetDeg);
      });
    },
  };
}
