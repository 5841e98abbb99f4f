// A field for every key of the rig, made from the table of keys that the program has: the main ones, the others folded.

import { button, fold, make, plain, titled } from "./make.js";
import { RULES } from "./rules.js";
import { read, write } from "./state.js";

const MAIN = {
  "wrap.rule": "Rule", "wrap.arc_start_deg": "Arc", "loop.tolerance_deg": "Tolerance", "wrap.band_deg": "Band",
  "drive.backlash_deg": "Backlash", "drive.zero_point_sigma_deg": "Zero point uncertainty",
};

const SECTIONS = [
  ["wrap", "More of the arc"],
  ["loop", "Loop"],
  ["drive", "Drive"],
  ["drive.periodic", "Periodic error"],
  ["solve", "Exposures and solves"],
  ["keep_out", "Keep-outs"],
  ["framing", "Camera"],
  ["", "Name of the rig"],
];

// Where a key has no effect, and why.
const IDLE = {
  "wrap.band_deg": (rig) => rig.wrap.rule !== "hysteresis-band" && "Only the rule hysteresis-band uses it.",
  "loop.overrun_deg": (rig) => rig.loop.approach === "direct" && "Only an approach from one side uses it.",
  "solve.outlier_deg": (rig) => rig.solve.outlier_rate === 0 && "There are no outliers.",
  "solve.failure_s": (rig) => rig.solve.failure_rate === 0 && "No solve fails.",
  "solve.max_failures": (rig) => rig.solve.failure_rate === 0 && "No solve fails.",
  "drive.stop_from_deg": (rig) => rig.drive.travel !== "stops" && "This drive has no stops.",
  "drive.stop_to_deg": (rig) => rig.drive.travel !== "stops" && "This drive has no stops.",
};

// Where a slider ends. Its field takes all that is allowed; a slider without an entry ends at twice what stands there.
const SPANS = {
  "drive.step_deg": [0, 1], "drive.speed_deg_per_s": [0.1, 20], "drive.acceleration_deg_per_s2": [0, 20], "drive.overhead_s": [0, 20],
  "drive.backlash_deg": [0, 2], "drive.repeatability_deg": [0, 0.5], "drive.gain_error": [-0.02, 0.02],
  "drive.periodic.*.cycles": [1, 20], "drive.periodic.*.amplitude_deg": [0, 1], "drive.periodic.*.phase_deg": [0, 360],
  "drive.zero_point_deg": [-180, 180], "drive.zero_point_sigma_deg": [0, 5], "drive.park_deg": [-180, 360], "drive.winding_limit_deg": [0, 720],
  "drive.stop_from_deg": [-360, 360], "drive.stop_to_deg": [-360, 720],
  "solve.noise_deg": [0, 0.5], "solve.bias_deg": [-2, 2], "solve.outlier_rate": [0, 0.2], "solve.outlier_deg": [0, 20], "solve.failure_rate": [0, 1],
  "solve.exposure_s": [0, 60], "solve.solve_s": [0, 60], "solve.failure_s": [0, 120], "solve.max_failures": [1, 20],
  "loop.tolerance_deg": [0.02, 2], "loop.max_solves": [1, 50], "loop.confirm": [1, 5], "loop.correction": [0.1, 2], "loop.overrun_deg": [0, 5],
  "loop.field_rotation_deg_per_s": [-0.01, 0.01],
  "wrap.arc_start_deg": [0, 360], "wrap.band_deg": [0, 10],
  "keep_out.*.from_deg": [0, 360], "keep_out.*.to_deg": [0, 360],
  "framing.sensor_width_mm": [1, 60], "framing.sensor_height_mm": [1, 60], "framing.focal_length_mm": [50, 3000], "framing.pixel_um": [1, 10], "framing.mosaic_overlap": [0, 0.5],
};

const BLANK = {
  "drive.periodic": { cycles: 1, amplitude_deg: 0.1, phase_deg: 0 },
  "keep_out": { from_deg: 200, to_deg: 220, why: "" },
  "framing": { sensor_width_mm: 23.5, sensor_height_mm: 15.7, focal_length_mm: 480, pixel_um: 3.76, mosaic_overlap: 0.15 },
};

// The steps of a slider: about 400, of a round size.
function stepOf(low, high) {
  const raw = (high - low) / 400;
  const size = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((m) => m * size).find((step) => step >= raw * 0.999);
}

function label(path) {
  const key = titled(path.split(".").pop());
  return MAIN[path] ? key.replace(/^[^(]*?( \(|$)/, MAIN[path] + "$1") : key;
}

export function settings(place, keys, store, said) {
  const entries = []; // { path, box, help, fault, inputs, idle, update(rig) }
  let number = 0;
  let arcWidth = 180;
  // Angles of the arc run from -180 to 180, else from 0 to 360.
  let signed = false;

  // The key of a path with an index.
  const sectionOf = (key) => {
    if (key.path.includes(".*.")) return key.path.split(".*.")[0];
    return key.path.includes(".") ? key.path.split(".")[0] : "";
  };

  function set(path, value) {
    store.change("rig " + path, (s) => {
      write(s.rig, path, value);
      for (const area of s.rig.keep_out || []) if (area.when && Object.keys(area.when).length === 0) delete area.when;
      // Stops belong to one kind of travel.
      if (path === "drive.travel" && value === "stops") {
        s.rig.drive.stop_from_deg ??= -10;
        s.rig.drive.stop_to_deg ??= 370;
      } else if (path === "drive.travel") {
        delete s.rig.drive.stop_from_deg;
        delete s.rig.drive.stop_to_deg;
      }
    });
  }

  function field(parent, key, path) {
    const id = "field-" + number++;
    const box = make("div", { class: "field", "data-key": path }, parent);
    make("label", { for: id }, box, label(key.path));
    const describe = { id, "aria-describedby": id + "-help" };
    const update = (input) => input(box, key, path, describe);
    const show = update(path === "wrap.arc_start_deg" ? arc : { number: numeric, count: numeric, choice, text, span }[key.kind.type]);
    const help = make("small", { id: id + "-help", class: "help" }, box, key.help);
    const fault = make("small", { class: "fault", role: "alert", hidden: true }, box);
    const inputs = box.querySelectorAll("input, select");
    entries.push({ path, box, fault, update: (rig) => {
      show(read(rig, path));
      const why = IDLE[key.path]?.(rig);
      if (why !== undefined) for (const input of inputs) input.disabled = Boolean(why);
      const said = { "wrap.rule": () => RULES[rig.wrap.rule][0], "loop.tolerance_deg": () => corner }[path]?.();
      help.textContent = why || said || key.help;
    } });
  }
  // What the tolerance does to the frame.
  let corner = "";

  // Both ends of the arc; its width is that of the rule.
  function arc(box, key, path, describe) {
    const line = make("span", { class: "row arc-ends" }, box);
    const copied = (input) => async () => {
      try {
        await navigator.clipboard.writeText(input.value);
        said(`Copied ${input.value}.`);
      } catch {
        input.select();
        said("The browser does not let the page copy. The number is selected: copy it by keyboard.");
      }
    };
    const ends = [0, 1].map((i) => {
      if (i === 1) line.append("to");
      const input = make("input", { ...(i === 0 ? describe : { "aria-label": "End of the arc" }), type: "number", step: "any", title: key.allowed }, line);
      input.addEventListener("input", () => {
        const value = input.valueAsNumber;
        if (Number.isFinite(value)) set(path, i === 0 ? value : Number((value - arcWidth).toFixed(9)));
      });
      button(line, "Copy", copied(input), { class: "small", "aria-label": i === 0 ? "Copy the start of the arc" : "Copy the end of the arc" });
      return input;
    });
    const kind = make("select", { "aria-label": "How angles of the arc are written", class: "signs" }, line);
    for (const [value, words] of [["", "0 to 360\u00b0"], ["1", "\u00b1180\u00b0"]]) make("option", { value }, kind, words);
    kind.value = signed ? "1" : "";
    const slider = make("input", { type: "range", "aria-label": "Start of the arc, slider", min: 0, max: 360, step: 1 }, box);
    slider.addEventListener("input", () => set(path, slider.valueAsNumber));
    const show = (start) => {
      const written = (deg) => (read(store.state.rig, "drive.travel") === "stops" ? deg : fold(deg, signed ? -180 : 0, 360));
      [start, start + arcWidth].forEach((deg, i) => {
        const same = document.activeElement === ends[i] && Math.abs(fold(ends[i].valueAsNumber - deg, -180, 360)) < 1e-9;
        if (!same) ends[i].value = plain(written(deg), 12);
      });
      slider.value = fold(start, 0, 360);
    };
    kind.addEventListener("change", () => {
      signed = kind.value === "1";
      show(read(store.state.rig, path));
    });
    return show;
  }

  function numeric(box, key, path, describe) {
    const whole = key.kind.type === "count";
    const pair = make("span", { class: "pair" }, box);
    const slider = make("input", { type: "range", "aria-label": label(key.path) + ", slider", tabindex: 0 }, pair);
    const input = make("input", { ...describe, type: "number", step: whole ? 1 : "any", min: key.kind.or_zero ? 0 : key.kind.low, max: key.kind.high, title: key.allowed }, pair);
    const span = SPANS[key.path];
    const take = (value) => { if (Number.isFinite(value)) set(path, whole ? Math.round(value) : value); };
    slider.addEventListener("input", () => take(slider.valueAsNumber));
    input.addEventListener("input", () => {
      if (input.value === "" && key.kind.unset) set(path, undefined);
      else take(input.valueAsNumber);
    });
    return (value) => {
      const known = value !== undefined;
      const [low, high] = span || [0, 2 * Math.max(1e-3, Math.abs(value || 1))];
      slider.min = Math.min(low, known ? value : low);
      slider.max = Math.max(high, known ? value : high);
      slider.step = whole ? 1 : stepOf(low, high);
      slider.value = known ? value : low;
      slider.disabled = !known;
      if (document.activeElement !== input || input.valueAsNumber !== value) input.value = known ? plain(value, 12) : "";
    };
  }

  function choice(box, key, path, describe) {
    const select = make("select", describe, box);
    if (key.kind.unset) make("option", { value: "" }, select, "by the rule");
    for (const name of key.kind.names) make("option", { value: name }, select, String(name));
    select.addEventListener("change", () => {
      const value = key.kind.names.find((name) => String(name) === select.value);
      set(path, value);
    });
    return (value) => { select.value = value === undefined ? "" : String(value); };
  }

  function text(box, key, path, describe) {
    const input = make("input", { ...describe, type: "text", maxlength: 200 }, box);
    input.addEventListener("input", () => set(path, input.value));
    return (value) => { if (document.activeElement !== input) input.value = value ?? ""; };
  }

  // Two ends, or nothing.
  function span(box, key, path, describe) {
    const pair = make("span", { class: "ends" }, box);
    const ends = [{ ...describe, title: key.allowed }, { "aria-label": label(key.path) + ", to", title: key.allowed }].map((more) => {
      return make("input", { ...more, type: "number", step: "any", min: key.kind.low, max: key.kind.high }, pair);
    });
    pair.insertBefore(document.createTextNode(" to "), ends[1]);
    const take = () => {
      const values = ends.map((end) => end.valueAsNumber);
      if (values.every(Number.isFinite)) set(path, values);
      else if (ends.every((end) => end.value === "")) set(path, undefined);
    };
    for (const end of ends) end.addEventListener("change", take);
    return (value) => ends.forEach((end, i) => { if (document.activeElement !== end) end.value = value ? plain(value[i], 12) : ""; });
  }

  // The shape of what can come and go: it is built anew when that changes.
  const shapeOf = (rig) => JSON.stringify([(rig.drive.periodic || []).length, (rig.keep_out || []).length, Boolean(rig.framing)]);
  let shape = "";

  function build(rig) {
    const open = new Map([...place.querySelectorAll("details")].map((d) => [d.dataset.section, d.open]));
    const focused = place.contains(document.activeElement) ? document.activeElement.closest("[data-key]")?.dataset.key : null;
    entries.length = 0;
    place.replaceChildren();
    for (const path of Object.keys(MAIN)) field(place, keys.find((key) => key.path === path), path);
    for (const [section, title] of SECTIONS) {
      const details = make("details", { "data-section": section, open: open.get(section) ?? false }, place);
      details.addEventListener("toggle", update);
      make("summary", {}, details, title);
      const own = keys.filter((key) => sectionOf(key) === section && key.path !== "format" && !MAIN[key.path]);
      if (section === "drive.periodic" || section === "keep_out") list(details, section, own, rig);
      else if (section === "framing") optional(details, section, own, rig);
      else for (const key of own) field(details, key, key.path);
    }
    if (focused) place.querySelector(`[data-key="${focused}"] input, [data-key="${focused}"] select`)?.focus();
  }

  // What is folded is brought up to date when it is opened.
  function update() {
    for (const entry of entries) if (!entry.box.closest("details:not([open])")) entry.update(store.state.rig);
  }

  function list(details, section, own, rig) {
    (read(rig, section) || []).forEach((_, i) => {
      const group = make("fieldset", {}, details);
      make("legend", {}, group, "Entry " + (i + 1));
      for (const key of own) field(group, key, key.path.replace("*", String(i)));
      button(group, "Remove", () => store.change(null, (s) => { read(s.rig, section).splice(i, 1); }), { "aria-label": `Remove entry ${i + 1} of ${section}` });
    });
    button(details, "Add one", () => store.change(null, (s) => write(s.rig, section, [...(read(s.rig, section) || []), structuredClone(BLANK[section])])), { "aria-label": "Add an entry to " + section });
  }

  function optional(details, section, own, rig) {
    if (!rig[section]) {
      button(details, "Add the camera", () => store.change(null, (s) => write(s.rig, section, structuredClone(BLANK[section]))));
      return;
    }
    for (const key of own) field(details, key, key.path);
    button(details, "Leave the camera out", () => store.change(null, (s) => write(s.rig, section, undefined)));
  }

  return {
    show(rig) {
      const now = shapeOf(rig);
      if (now !== shape) {
        shape = now;
        build(rig);
      }
      update();
    },
    // What is known of the rig besides its keys: how wide the arc is, and how far the tolerance moves the frame's corner, in pixels.
    known(view) {
      arcWidth = view.arc_width_deg;
      const px = view.tolerance_corner_px;
      corner = px === null ? "" : `It moves the corner of the frame by ${plain(px, 3)} px.`;
      for (const { path, update } of entries) if (path === "wrap.arc_start_deg" || path === "loop.tolerance_deg") update(store.state.rig);
    },
    // Marks the field of a key as not allowed, or none; whether there is such a field.
    blame(key, allowed) {
      let found = false;
      for (const { path, box, fault } of entries) {
        const here = path === key;
        found ||= here;
        box.classList.toggle("wrong", here);
        fault.hidden = !here;
        fault.textContent = here ? allowed.replaceAll(" deg", "\u00b0") : "";
        if (here && box.closest("details")) box.closest("details").open = true;
      }
      return found;
    },
  };
}
