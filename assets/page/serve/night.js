// The night: the list at a place on a date, planned and run as `sky night` does it. Its page, run sheet and picture can be saved.

import { reportText } from "./door.js";
import { save } from "./files.js";
import { answered, asking } from "./form.js";
import { worker } from "./jobs.js";
import { button, make } from "./make.js";
import { reader } from "./reader.js";
import { keyOf } from "./state.js";

const NIGHTS = 20000;
const ORDERS = { list: "as in the list", meridian: "the earliest crossing first", best: "what loses least time" };

export function night(place, store) {
  make("p", { class: "soft" }, place, "Plans the list for one night, from dusk on, and runs it 20 000 times under every rule. Every target needs coordinates and minutes in its file.");
  const [form, field] = asking(place);
  const site = field("Degrees north, degrees east", { id: "night-site", placeholder: "47.3,12.1", size: 12 });
  const date = field("Evening of", { id: "night-date", type: "date", min: "1960-01-01", max: "2099-12-31", value: new Date().toISOString().slice(0, 10) });
  const local = field("Local time less UT", { required: false, placeholder: "+02:00", size: 6 });
  const altitude = field("Lowest altitude (\u00b0)", { type: "number", min: 0, max: 89, step: "any", value: 0 });
  const order = make("select", {}, make("label", {}, form, "Order "));
  for (const [value, text] of Object.entries(ORDERS)) make("option", { value }, order, text);
  const flips = field("Flips at the meridian", { type: "checkbox", required: false, checked: true });
  // The newest night, with the state that it is for.
  let found = null;
  answered(form, { id: "night-go" }, "Run the night", async () => {
    const { rig, targets, seed } = store.state;
    const key = keyOf(store.state);
    const status = await work.whole({
      kind: "night", rig, targets, seed, site: site.value, date: date.value, local: local.value, order: order.value,
      flips: flips.checked, least_altitude_deg: altitude.valueAsNumber, trials: NIGHTS,
    });
    if (!status) return;
    found = { id: status.id, key, ...status.result };
    acts.hidden = false;
    notes.replaceChildren(...found.warnings.map((text) => make("li", {}, null, text)));
    show(status.id);
    changed();
  });
  const work = worker(form, "night");
  const acts = make("p", { class: "row", hidden: true }, place);
  const keep = (title, name, kind, text) => button(acts, title, async () => save(name, await text(), kind));
  keep("Save the page", "night.html", "text/html", () => reportText(found.id, false));
  keep("Save the run sheet", "sheet.csv", "text/csv", () => found.sheet);
  keep("Save the picture", "night.svg", "image/svg+xml", () => found.picture);
  const note = make("span", { class: "soft", role: "status" }, acts);
  const notes = make("ul", { class: "notes" }, place);
  const show = reader(place, "The night");

  function changed() {
    const old = found !== null && found.key !== keyOf(store.state);
    place.classList.toggle("outdated", old);
    note.textContent = old ? "Of other settings." : "";
  }
  store.listen(changed);
}
