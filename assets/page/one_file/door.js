// The door to the engine in this file. Each question has a worker with an engine of its own; to stop its work, the worker is ended.

const MOST_ENGINES = 4;
// What is not found by then is left out, but for jobs.
const TIME_MS = 3000;
// Ended jobs that are kept.
const MOST_KEPT = 8;
const BROKEN = "the engine stopped. The browser has too little memory for it, or it has a fault. Nothing is lost";

// What a copied link is good for.
export const LINK = "It opens this state as long as this file stays where it is.";

// This file as it came, before anything in it changes.
const ONE_FILE = "<!doctype html>\n" + document.documentElement.outerHTML;
const textOf = (id) => document.getElementById(id).textContent;
const workerAddress = URL.createObjectURL(new Blob([textOf("worker")], { type: "text/javascript" }));

async function unpacked() {
  if (typeof WebAssembly !== "object" || typeof DecompressionStream !== "function") {
    throw new Error("this browser has no WebAssembly, which this page needs. Use a newer browser");
  }
  const text = atob(textOf("engine"));
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) bytes[i] = text.charCodeAt(i);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const code = new Response(stream, { headers: { "Content-Type": "application/wasm" } });
  return WebAssembly.compileStreaming(code).catch(() => {
    throw new Error("this browser cannot run the engine. Use one from 2023 or later");
  });
}
const compiled = unpacked();

const idle = [];
const waiting = [];
let engines = 0;

function give(worker) {
  if (waiting.length > 0) waiting.shift()(worker);
  else idle.push(worker);
}

async function taken() {
  if (idle.length > 0) return idle.pop();
  if (engines === MOST_ENGINES) return new Promise((then) => waiting.push(then));
  const worker = new Worker(workerAddress);
  engines += 1;
  return worker;
}

// A new one in place of one that is ended: whoever waits has it at once.
function ended(worker) {
  worker.onmessage = null;
  worker.terminate();
  give(new Worker(workerAddress));
}

// The status and the answer of an engine. `told` hears of work that goes on.
async function answered(path, body, { signal, told, timeMs }) {
  const stopped = [0, { error: { message: "stopped" } }];
  const module = await compiled;
  const worker = await taken();
  if (signal?.aborted) {
    give(worker);
    return stopped;
  }
  return new Promise((answer) => {
    const stop = () => {
      ended(worker);
      answer(stopped);
    };
    signal?.addEventListener("abort", stop);
    worker.onmessage = ({ data }) => {
      if (data.broken) {
        ended(worker);
        answer([500, { error: { message: BROKEN } }]);
      } else if (data.status) {
        give(worker);
        answer([data.status, JSON.parse(data.answer)]);
      } else return void told?.(data.done, data.news ? JSON.parse(data.news) : {});
      signal?.removeEventListener("abort", stop);
    };
    worker.onerror = () => worker.onmessage?.({ data: { broken: true } });
    worker.postMessage({ module: worker.ready ? null : module, path, body: JSON.stringify(body ?? null), timeMs });
    worker.ready = true;
  });
}

const jobs = new Map();
let lastJob = 0;

// Resolves as soon as the work is begun, or refused.
function begun(asked) {
  return new Promise((answer) => {
    lastJob += 1;
    const id = String(lastJob);
    const stop = new AbortController();
    const job = { asked, stop, rows: [], report: null, status: { id, phase: "running", before: null, done: 0, of: 0, problem: null, stopped: null, result: null } };
    const told = (done, { rows = [], ...more }) => {
      Object.assign(job.status, { done }, more);
      job.rows.push(...rows);
      jobs.set(id, job);
      answer([200, { id }]);
    };
    answered("jobs", asked, { signal: stop.signal, told, timeMs: Infinity }).then(([status, found]) => {
      const { report = null, ...more } = found;
      if (stop.signal.aborted) Object.assign(job.status, { phase: "stopped", stopped: "by you" });
      else if (found.error) Object.assign(job.status, { phase: "failed", problem: found.error.message });
      else Object.assign(job.status, more);
      job.report = report;
      answer([status, found]);
      // The last report of each kind is shown, whatever came after it.
      const shown = ["advise", "night"].map((kind) => [...jobs.keys()].findLast((one) => jobs.get(one).asked.kind === kind && jobs.get(one).report !== null));
      for (const old of [...jobs.keys()].slice(0, -MOST_KEPT)) if (!shown.includes(old) && jobs.get(old).status.phase !== "running") forget(old);
    }).catch((fault) => {
      Object.assign(job.status, { phase: "failed", problem: fault.message });
      answer([500, { error: { message: fault.message } }]);
    });
  });
}

function forget(id) {
  const { address } = jobs.get(id);
  if (address) URL.revokeObjectURL(address);
  jobs.delete(id);
}

// Inside a report the page begins with the rig of the report, and nobody can open it by a link.
const given = document.getElementById("given");
document.getElementById("link").hidden = given !== null;

// The status and the answer.
export async function ask(method, path, value, signal) {
  if (path === "start") {
    const [status, start] = given ? [200, JSON.parse(given.textContent)] : await answered(path, value, { timeMs: TIME_MS });
    return [status, { ...start, engine_bytes: ONE_FILE.length }];
  }
  const [, id, from] = /^jobs\/(\d+)(?:\?from=(\d+))?$/.exec(path) ?? [];
  const job = jobs.get(id);
  if (id && !job) return [404, { error: { message: "this job does not exist, or is too long ago. Start it again" } }];
  if (method === "DELETE") job.stop.abort();
  if (job) return [200, { ...job.status, rows_total: job.rows.length, rows: job.rows.slice(Number(from ?? 0)), has_report: job.report !== null }];
  if (path === "jobs") return begun(value);
  return answered(path, value, { signal, timeMs: TIME_MS });
}

// Lets go of a job.
export function leave(path) {
  ask("DELETE", path);
}

// The report of a job: its address, its text, perhaps with this page in it, and the frame that shows it without its script.
export function reportAddress(id) {
  const job = jobs.get(id);
  job.address ??= URL.createObjectURL(new Blob([job.report], { type: "text/html" }));
  return job.address;
}

export async function reportText(id, engine) {
  const { report = null, asked } = jobs.get(id) ?? {};
  if (!engine || report === null) return report;
  const [status, found] = await answered("report", { asked, report, one_file: ONE_FILE }, { timeMs: Infinity });
  return status === 200 ? found : null;
}

export function showReport(frame, id) {
  frame.srcdoc = (jobs.get(id)?.report ?? "").replace(/<script>[^]*?<\/script>/, "");
}
