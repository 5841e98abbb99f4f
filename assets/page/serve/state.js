// The state of the page, its history, and the link that restores it.
// A state: { rig, rigText, rigName, targets, targetsName, chosen, targetDeg, seed, trial }. States are never changed, only replaced.
// `chosen` is the place in the list of the target that is looked at; it may be dragged to another angle, `targetDeg`.

const MOST_STEPS = 200;
// Longest text of a link, unpacked; rig and targets of a request have at most 1 MiB.
const MOST_UNPACKED = 4 * 1024 * 1024;
// Changes of the same thing within this time are one step of the history.
const SAME_MS = 1200;

export class Store {
  constructor(state) {
    this.state = state;
    this.past = [];
    this.future = [];
    this.last = { what: null, at: 0 };
    this.listeners = [];
    this.changedMs = 0;
  }

  listen(told) {
    this.listeners.push(told);
  }

  // Replaces the state by what `change` makes of a copy. `what` names what is changed: a drag is one step.
  change(what, change) {
    const next = structuredClone(this.state);
    change(next);
    if (JSON.stringify(next) === JSON.stringify(this.state)) return;
    const now = performance.now();
    const same = what !== null && what === this.last.what && now - this.last.at < SAME_MS;
    if (!same) {
      this.past.push(this.state);
      if (this.past.length > MOST_STEPS) this.past.shift();
    }
    this.future = [];
    this.last = { what, at: now };
    this.state = next;
    this.tell();
  }

  undo() {
    this.travel(this.past, this.future);
  }

  redo() {
    this.travel(this.future, this.past);
  }

  travel(from, to) {
    if (from.length === 0) return;
    to.push(this.state);
    this.state = from.pop();
    this.last = { what: null, at: 0 };
    this.tell();
  }

  tell() {
    this.changedMs = performance.now();
    for (const told of this.listeners) told(this.state);
  }
}

// What figures of the whole list go by.
export const keyOf = (s) => JSON.stringify([s.rig, s.targets, s.seed]);

// Reads and writes of a path such as "drive.periodic.0.phase_deg".
export function read(rig, path) {
  return path.split(".").reduce((at, part) => (at === undefined ? undefined : at[part]), rig);
}

export function write(rig, path, value) {
  const parts = path.split(".");
  const last = parts.pop();
  let at = rig;
  for (const part of parts) {
    if (at[part] === undefined) at[part] = {};
    at = at[part];
  }
  if (value === undefined) delete at[last];
  else at[last] = value;
}

// What differs between two rigs: the path of each key with both values; undefined where it is not set.
export function differences(before, after, path = "") {
  const leaf = (value) => value === null || typeof value !== "object";
  if (leaf(before) || leaf(after)) {
    return before === after ? [] : [[path, before, after]];
  }
  const keys = new Set([...Object.keys(before), ...Object.keys(after)]);
  return [...keys].flatMap((key) => differences(before[key], after[key], path ? path + "." + key : key));
}

// The state as text for an address, and back. The part behind # is never sent to the server.
export async function packed(state) {
  const bytes = new TextEncoder().encode(JSON.stringify(state));
  const stream = new Blob([bytes]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  const short = new Uint8Array(await new Response(stream).arrayBuffer());
  let text = "";
  for (const byte of short) text += String.fromCharCode(byte);
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

// A name without what steers a terminal or turns the writing round.
export const plain = (name) => name.replace(/[\p{Cc}\u2028-\u202e\u2066-\u2069]/gu, "?");

// The server says whether rig and targets are right; here only what it does not see is checked.
export async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
  const { rig, rigText, rigName, targets, targetsName, chosen = null, targetDeg, seed, trial } = JSON.parse(await inflated(bytes));
  const right =
    [rigText, rigName, targetsName].every((text) => typeof text === "string") && Array.isArray(targets) && Number.isFinite(targetDeg) &&
    [seed, trial].every((number) => Number.isSafeInteger(number) && number >= 0);
  if (!right) throw new Error("not a state");
  const names = { rigName: plain(rigName), targetsName: plain(targetsName) };
  return { rig, rigText, ...names, targets, chosen: Number.isInteger(chosen) && targets[chosen] ? chosen : null, targetDeg, seed, trial };
}

// A short link can be made to unpack to any size.
async function inflated(bytes) {
  const reader = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw")).pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return text;
    text += value;
    if (text.length > MOST_UNPACKED) {
      await reader.cancel();
      throw new Error("too large");
    }
  }
}
