// Long work: begin it, show how far it is, stop it.

import { get, leave, post, remove } from "./api.js";
import { button, make } from "./make.js";

const POLL_MS = 250;
// How often in a row the program may not answer.
const MOST_MISSED = 8;
const MISSED_MS = 1000;

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function inWords(status) {
  if (status.phase === "waiting") return status.before > 0 ? `waiting: ${status.before} before it` : "waiting: it is next";
  return status.stopped ? "stopped: " + status.stopped : status.phase;
}

// A place with a progress bar and a stop button. `begin(asked, told)` resolves to the last status; `told` gets every one.
export function worker(place, name) {
  const line = make("p", { class: "row work", hidden: true }, place);
  const bar = make("progress", { max: 1, value: 0, "aria-label": "Progress of the " + name }, line);
  const part = make("span", {}, line);
  const words = make("span", { role: "status" }, line);
  const stop = button(line, "Stop", halt, { "aria-label": "Stop the " + name });
  let id = null;
  let stopping = false;

  function halt() {
    stopping = true;
    stop.disabled = true;
    words.textContent = "stopping";
    // Before it has a name it is stopped as soon as it gets one.
    if (id) remove("jobs/" + id).catch(notStopped);
  }

  function notStopped(error) {
    stopping = false;
    stop.disabled = id === null;
    words.textContent = "not stopped: " + error.message;
  }

  // A page that is closed does not leave its work behind.
  window.addEventListener("pagehide", (event) => { if (id && !event.persisted) leave("jobs/" + id); });

  async function asked(from) {
    for (let missed = 0; ; missed += 1) {
      try {
        return await get("jobs/" + id + "?from=" + from);
      } catch (error) {
        if (error.status !== 0 || missed === MOST_MISSED) throw error;
        await pause(MISSED_MS);
      }
    }
  }

  async function follow(told) {
    let from = 0;
    for (;;) {
      const status = await asked(from);
      from += status.rows.length;
      bar.value = status.of > 0 ? Math.min(1, status.done / status.of) : 0;
      part.textContent = `${Math.round(100 * bar.value)} %`;
      // A reader of the screen hears what changes, not every percent.
      if (!stopping && words.textContent !== inWords(status)) words.textContent = inWords(status);
      told(status);
      const ended = !["waiting", "running"].includes(status.phase);
      if (ended && from >= status.rows_total) return status;
      if (!ended) await pause(POLL_MS);
    }
  }

  return {
    async begin(asked, told) {
      if (id !== null) return null;
      id = "";
      stopping = false;
      line.hidden = false;
      stop.disabled = false;
      bar.value = 0;
      part.textContent = "";
      words.textContent = "";
      try {
        ({ id } = await post("jobs", asked));
        if (stopping) await remove("jobs/" + id);
        const status = await follow(told);
        words.textContent = inWords(status);
        return status;
      } catch (error) {
        words.textContent = error.message;
        if (id) leave("jobs/" + id);
        throw error;
      } finally {
        id = null;
        stop.disabled = true;
      }
    },
  };
}
