// Making elements, and numbers in words.

const SVG = "http://www.w3.org/2000/svg";

// An element with attributes, inside a parent, with a text. An attribute of null or false is left out.
export function make(name, attributes = {}, parent = null, text) {
  return fill(document.createElement(name), attributes, parent, text);
}

// The same for SVG.
export function draw(name, attributes = {}, parent = null, text) {
  return fill(document.createElementNS(SVG, name), attributes, parent, text);
}

function fill(made, attributes, parent, text) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== false) made.setAttribute(key, value === true ? "" : String(value));
  }
  if (text !== undefined) made.textContent = text;
  if (parent) parent.append(made);
  return made;
}

export function button(parent, text, act, attributes = {}) {
  const made = make("button", { type: "button", ...attributes }, parent, text);
  made.addEventListener("click", act);
  return made;
}

// A table: rows of texts and elements; the first of each names it.
export function table(parent, heads, rows) {
  const made = make("table", {}, parent);
  const head = make("tr", {}, make("thead", {}, made));
  for (const text of heads) make("th", { scope: "col" }, head, text);
  const body = make("tbody", {}, made);
  for (const [first, ...others] of rows) {
    const line = make("tr", {}, body);
    make("th", { scope: "row" }, line).append(first);
    for (const cell of others) make("td", {}, line).append(cell);
  }
  return made;
}

// A number without noise of the last bits.
export function plain(value, digits = 6) {
  return String(Number(value.toPrecision(digits)));
}

// An angle as one reads it.
export function degrees(value) {
  return plain(Math.round(value * 1000) / 1000, 9) + "\u00b0";
}

// The name of a key and its unit as one reads them: "loop tolerance" and "°". A target's is that of its angle.
const UNITS = { deg_per_s2: "\u00b0/s\u00b2", deg_per_s: "\u00b0/s", deg: "\u00b0", mm: "mm", um: "\u00b5m", s: "s", h: "h" };
export function named(path) {
  if (path === "target") return ["target", "\u00b0"];
  const [, stem, unit] = /^(.*?)(?:_(deg_per_s2|deg_per_s|deg|mm|um|s|h))?$/.exec(path);
  return [stem.replaceAll(/[._]/g, " "), UNITS[unit] || ""];
}

// The same in one.
export function titled(path) {
  const [name, unit] = named(path);
  return unit ? `${name} (${unit})` : name;
}

// A share in percent, with the digits that say something.
export function percent(share) {
  if (share === 0) return "0 %";
  if (share < 1e-9) return "less than 1e-7 %";
  const value = 100 * share;
  if (value < 0.001) return value.toExponential(1) + " %";
  if (value < 1) return plain(value, 2) + " %";
  if (value >= 100) return "100 %";
  if (value > 99.9999) return "more than 99.9999 %";
  return plain(value, value > 99.9 ? 6 : 3) + " %";
}

// A share that was found: an exact one that its bound does not tell from 0 is 0.
export function shareOf({ rate, low }, trials) {
  return trials === 0 && low === 0 ? 0 : rate;
}

// A time to wait.
export function seconds(value) {
  if (value === null || value === undefined) return "\u2013";
  return value < 100 ? plain(value, 3) + " s" : Math.round(value) + " s";
}

export function fold(value, start, period) {
  const part = (value - start) % period;
  return start + (part < 0 ? part + period : part);
}
