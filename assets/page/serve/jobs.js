// Long work: begin it, show how far it is, stop it.

import { get, post, remove } from "./api.js";
import { button, make } from "./make.js";

const POLL_MS = 250;

// A place with a progress bar and a stop button. `begin(asked, told)` resolves to the last status; `told` gets every one.
export function worker(place, name) {
  const line = make("p", { class: "row work", hidden: true }, place);
  const bar = make("progress", { max: 1, value: 0, "aria-label": "Progress of the " + name }, line);
  const words = make("span", { role: "status" }, line);
  const stop = button(line, "Stop", () => { if (id) remove("jobs/" + id).catch(() => {}); }, { "aria-label": "Stop the " + name });
  let id = null;

  async function follow(told) {
    let from = 0;
    for (;;) {
      const status = await get("jobs/" + id + "?from=" + from);
      from += status.rows.length;
      bar.value = status.of > 0 ? Math.min(1, status.done / status.of) : 0;
      words.textContent = status.phase === "waiting" ? `waiting: ${status.before} before it` : `${Math.round(100 * bar.value)} %`;
      told(status);
      const ended = !["waiting", "running"].includes(status.phase);
      if (ended && from >= status.rows_total) return status;
      if (!ended) await new Promise((done) => setTimeout(done, POLL_MS));
    }
  }

  return {
    busy: () => id !== null,
    async begin(asked, told) {
      if (id !== null) return null;
      id = "";
      line.hidden = false;
      stop.disabled = false;
      bar.value = 0;
      words.textContent = "";
      try {
        ({ id } = await post("jobs", asked));
        const status = await follow(told);
        words.textContent = status.phase;
        return status;
      } catch (error) {
        words.textContent = error.message;
        throw error;
      } finally {
        id = null;
        stop.disabled = true;
      }
    },
  };
}
