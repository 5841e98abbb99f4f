// The door to the program that serves this page.

// The name of this page, by which the queue of jobs is fair.
const PAGE = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");

// What a copied link is good for.
export const LINK = "It opens this state where the program serves the page.";

// The status and the answer.
export async function ask(method, path, value, signal) {
  const headers = { "X-Halfturn-Page": PAGE };
  if (value !== undefined) headers["Content-Type"] = "application/json";
  let response;
  try {
    response = await fetch("/api/" + path, { method, headers, body: value === undefined ? undefined : JSON.stringify(value), signal });
  } catch {
    return [0, { error: { message: "the program does not answer. Is it still running?" } }];
  }
  const answer = await response.json().catch(() => ({ error: { message: "the answer cannot be read" } }));
  if (!response.ok && !answer.error) answer.error = { message: response.statusText };
  return [response.status, answer];
}

// Lets go of something as the page is closed, when nobody waits for an answer.
export function leave(path) {
  fetch("/api/" + path, { method: "DELETE", headers: { "X-Halfturn-Page": PAGE }, keepalive: true }).catch(() => {});
}

// The report of a job: its address, its text, perhaps with the page of the one file in it, and the frame that shows it without its script.
export const reportAddress = (id) => "/api/jobs/" + id + "/report";

export async function reportText(id, engine) {
  const response = await fetch(reportAddress(id) + "?engine=" + engine);
  return response.ok ? response.text() : null;
}

export function showReport(frame, id) {
  frame.src = reportAddress(id) + "?still=true";
}
