// A sheet that opens below the answer: two states side by side, a mosaic, or what a log tells.

import { post } from "./api.js";
import { answered, asking } from "./form.js";
import { button, make, plain, table, titled } from "./make.js";
import { sign } from "./marks.js";
import { differences, keyOf } from "./state.js";
import { judge, told } from "./verdicts.js";

// Longer lists are cut: the rest is in the list itself.
const MOST_LINES = 20;

const valueOf = (value) => (value === undefined ? "not set" : typeof value === "number" ? plain(value, 9) : typeof value === "string" ? value : JSON.stringify(value));

export function sheet(place, store, words) {
  // What it is of; null where it outlasts changes.
  let of = null;

  function open(title, key = null) {
    of = key;
    place.replaceChildren();
    place.hidden = false;
    const head = make("div", { class: "row" }, place);
    make("h2", { id: "sheet-title", tabindex: -1 }, head, title).focus();
    button(head, "Close", close, { class: "small" });
    return make("div", {}, place);
  }

  function close() {
    place.hidden = true;
  }
  place.addEventListener("keydown", (event) => { if (event.key === "Escape") close(); });
  store.listen((s) => { if (of !== null && of !== keyOf(s)) close(); });

  function settings(box, before, after, heads) {
    const changes = differences(before, after);
    if (changes.length === 0) make("p", {}, box, "No setting differs.");
    else table(box, ["Setting", ...heads], changes.map(([path, one, other]) => [titled(path), valueOf(one), valueOf(other)]));
  }

  // Two states: the settings that differ, and the targets whose verdict does. `act` is a button that the page has elsewhere.
  async function compare(title, heads, before, after, act) {
    const box = open(title, keyOf(store.state));
    settings(box, before.rig, after.rig, heads);
    if (act) button(make("p", { class: "row" }, box), "Apply", () => act.click(), { class: "main" });
    const line = make("p", { role: "status" }, box, "Judging the targets.");
    const all = [before, after].map((s) => new Map());
    await Promise.all([before, after].map((s, k) => judge(s, s.targets.map((t) => t.position_angle_deg), all[k])));
    const names = [...new Set([...before.targets, ...after.targets].map((t) => t.name))];
    const rows = names.map((name) => [before, after].map((s, k) => {
      const target = s.targets.find((t) => t.name === name);
      return target ? told(all[k].get(target.position_angle_deg), words, "not found") : { state: "unknown", words: "not in the list", rank: [99, 0] };
    }).concat(name));
    const other = rows.filter(([one, then]) => one.words !== then.words);
    other.sort(([a], [b]) => a.rank[0] - b.rank[0] || a.rank[1] - b.rank[1]);
    const cell = (verdict) => {
      const span = make("span", { class: "verdict" });
      sign(span, verdict.state, verdict.words);
      return span;
    };
    if (other.length > 0) table(box, ["Target", ...heads], other.slice(0, MOST_LINES).map(([one, then, name]) => [name, cell(one), cell(then)]));
    const same = rows.length - other.length;
    const more = other.length > MOST_LINES ? `${other.length - MOST_LINES} more change. ` : "";
    line.textContent = more + (same === 0 ? "" : same === rows.length ? "Every target keeps its verdict." : `${same} keep${same === 1 ? "s its" : " their"} verdict.`);
    box.append(line);
  }

  // What a log tells of the rig, which can be taken over.
  async function fit(name, text) {
    const s = store.state;
    const { rig, solved, findings } = await post("fit", { rig: s.rig, name, text });
    const box = open(`What ${name} shows of the rig`, keyOf(s));
    make("p", {}, box, `Found from ${solved} solves.`);
    settings(box, s.rig, rig, ["Now", "From the log"]);
    for (const words of findings) make("p", {}, box, words);
    button(make("p", { class: "row" }, box), "Take these settings", () => store.change(null, (next) => { next.rig = rig; }), { id: "take-fit", class: "main" });
  }

  // The panels of a mosaic as targets.
  function mosaic() {
    const box = open("Panels of a mosaic");
    const [form, field] = asking(box);
    const centre = field("Object, or RA and Dec in \u00b0", { value: "M 31", id: "mosaic-centre" });
    const [columns, rows] = [["Columns", 3], ["Rows", 2]].map(([title, value]) => field(title, { type: "number", min: 1, max: 100, value }));
    const angle = field("Position angle (\u00b0)", { type: "number", step: "any", value: 0 });
    const name = field("Name", { value: "panel", maxlength: 80 });
    const add = make("input", { type: "checkbox" }, make("label", {}, form, "keep the present targets "));
    answered(form, { id: "mosaic-go" }, "Make the list", async () => {
      const asked = { rig: store.state.rig, name: name.value, centre: centre.value, columns: columns.valueAsNumber, rows: rows.valueAsNumber, position_angle_deg: angle.valueAsNumber };
      const { targets } = await post("panels", asked);
      const all = add.checked ? [...store.state.targets, ...targets] : targets;
      await post("targets/write", { targets: all });
      store.change(null, (s) => Object.assign(s, { targets: all, targetsName: name.value + ".csv", chosen: all.length - targets.length, targetDeg: targets[0].position_angle_deg }));
      close();
    });
  }

  // Solved images, whose headers make a log.
  function images(files) {
    const box = open(files.length === 1 ? files[0].name : `${files.length} images`);
    const [form, field] = asking(box);
    const key = field("Header key with the drive\u2019s reading", { maxlength: 80, id: "reading-key" });
    answered(form, { id: "images-go" }, "Show what they tell of the rig", async () => {
      const { text } = await post("fits", { files, reading_key: key.value });
      await fit("the log of these images", text);
    });
  }

  return { compare, fit, images, mosaic };
}
