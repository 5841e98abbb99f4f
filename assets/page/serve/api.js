// What is asked of the program. Every error has the program's words.

import { ask } from "./door.js";

export class Refused extends Error {
  constructor(status, error) {
    super(error.message);
    this.status = status;
    this.key = error.key || "";
    this.allowed = error.allowed || "";
  }
}

async function asked(method, path, value, signal) {
  const [status, answer] = await ask(method, path, value, signal);
  if (answer.error) throw new Refused(status, answer.error);
  return answer;
}

export const get = (path) => asked("GET", path);
// With a signal it can be given up; the program then stops its work.
export const post = (path, value, signal) => asked("POST", path, value, signal);
export const remove = (path) => asked("DELETE", path);
