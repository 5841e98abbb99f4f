// What is asked of the server. Every error has the server's words.

// The name of this page, by which the queue of jobs is fair.
const PAGE = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");

export class Refused extends Error {
  constructor(status, error) {
    super(error.message);
    this.status = status;
    this.key = error.key || "";
    this.allowed = error.allowed || "";
  }
}

async function ask(method, path, value, signal) {
  const headers = { "X-Halfturn-Page": PAGE };
  if (value !== undefined) headers["Content-Type"] = "application/json";
  let response;
  try {
    response = await fetch("/api/" + path, { method, headers, body: value === undefined ? undefined : JSON.stringify(value), signal });
  } catch {
    throw new Refused(0, { message: "the program does not answer. Is it still running?" });
  }
  const answer = await response.json().catch(() => ({ error: { message: "the answer cannot be read" } }));
  if (!response.ok || answer.error) throw new Refused(response.status, answer.error || { message: response.statusText });
  return answer;
}

// Lets go of something as the page is closed, when nobody waits for an answer.
export function leave(path) {
  fetch("/api/" + path, { method: "DELETE", headers: { "X-Halfturn-Page": PAGE }, keepalive: true }).catch(() => {});
}

export const get = (path) => ask("GET", path);
// With a signal it can be given up; the program then stops its work.
export const post = (path, value, signal) => ask("POST", path, value, signal);
export const remove = (path) => ask("DELETE", path);
