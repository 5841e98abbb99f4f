// Long work: begin it, show how far it is, stop it.

import { get, post, remove } from "./api.js";
import { leave } from "./door.js";
import { button, make } from "./make.js";

const POLL_MS = 250;
// How often in a row the program may not answer.
const MOST_MISSED = 8;
const MISSED_MS = 1000;

export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function inWords(status) {
  if (status.phase === "waiting") return status.before > 0 ? `waiting: ${status.before} before it` : "waiting: it is next";
  return status.stopped ? "stopped " + status.stopped : status.phase;
}

// A line with what is done, a bar and a stop button, there while work goes on. `begin(asked, told)` gives up what runs, and resolves
// to the last status; to null where it is given up itself. `told` gets every status. `whole(asked)` is for work that is no use
// before its end: it fails where it does not get there.
export function worker(place, name) {
  const line = make("span", { class: "row work", hidden: true }, place);
  const words = make("span", { role: "status" }, line);
  const bar = make("progress", { max: 1, value: 0, "aria-label": "Progress of the " + name }, line);
  const stop = button(line, "Stop", () => {
    stop.disabled = true;
    words.textContent = "stopping";
    // Before it has a name it is stopped as soon as it gets one.
    job.stopped = true;
    if (job.id) remove("jobs/" + job.id).catch((error) => { words.textContent = "not stopped: " + error.message; });
  }, { "aria-label": "Stop the " + name, class: "small" });
  let job = null;

  function giveUp() {
    if (job?.id) leave("jobs/" + job.id);
    job = null;
    line.hidden = true;
  }
  // A page that is closed does not leave its work behind.
  window.addEventListener("pagehide", (event) => { if (!event.persisted) giveUp(); });

  async function status(of, from) {
    for (let missed = 0; ; missed += 1) {
      try {
        return await get("jobs/" + of.id + "?from=" + from);
      } catch (error) {
        if (error.status !== 0 || missed === MOST_MISSED || of !== job) throw error;
        await pause(MISSED_MS);
      }
    }
  }

  async function follow(mine, told) {
    for (let from = 0; ; ) {
      const now = await status(mine, from);
      if (mine !== job) return null;
      from += now.rows.length;
      bar.value = now.of > 0 ? Math.min(1, now.done / now.of) : 0;
      // A reader of the screen hears what changes, not every percent.
      if (!mine.stopped && words.textContent !== inWords(now)) words.textContent = inWords(now);
      told(now);
      const ended = !["waiting", "running"].includes(now.phase);
      if (ended && from >= now.rows_total) {
        words.textContent = inWords(now);
        return now;
      }
      if (!ended) await pause(POLL_MS);
    }
  }

  async function begin(asked, told) {
    giveUp();
    const mine = (job = { id: "", stopped: false });
    line.hidden = stop.disabled = false;
    bar.value = 0;
    words.textContent = "";
    try {
      const { id } = await post("jobs", asked);
      mine.id = id;
      if (mine !== job || mine.stopped) leave("jobs/" + id);
      return mine === job ? await follow(mine, told) : null;
    } catch (error) {
      if (mine !== job) return null;
      if (mine.id) leave("jobs/" + mine.id);
      throw error;
    } finally {
      if (mine === job) {
        job = null;
        line.hidden = true;
      }
    }
  }

  async function whole(asked) {
    const status = await begin(asked, () => {});
    if (status && status.phase !== "done") throw new Error(status.problem || "Stopped " + (status.stopped || "") + ".");
    return status;
  }

  return { giveUp, begin, whole };
}
