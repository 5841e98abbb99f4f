// One engine, which answers one question after the other.

const words = { in: new TextEncoder(), out: new TextDecoder() };
const TELL_MS = 100;
let engine = null;
let until = Infinity;
let done = 0;
let toldMs = 0;

const text = (at, bytes) => words.out.decode(new Uint8Array(engine.memory.buffer, at, bytes));

const page = {
  watch(runs) {
    done += runs;
    const now = performance.now();
    if (runs > 0 && now - toldMs > TELL_MS) {
      toldMs = now;
      postMessage({ done });
    }
    return now > until ? 1 : 0;
  },
  tell: (at, bytes) => postMessage({ done, news: text(at, bytes) }),
};

function answer(path, body) {
  const [question, begin] = [words.in.encode(path + body), words.in.encode(path).length];
  const room = engine.make_room(question.length);
  new Uint8Array(engine.memory.buffer, room, question.length).set(question);
  const status = engine.ask(begin);
  return { status, answer: text(engine.answer_at(), engine.answer_bytes()) };
}

onmessage = async ({ data: { module, path, body, timeMs } }) => {
  try {
    if (module) engine = (await WebAssembly.instantiate(module, { page })).exports;
    until = performance.now() + timeMs;
    done = 0;
    postMessage(answer(path, body));
  } catch {
    postMessage({ broken: true });
  }
};
