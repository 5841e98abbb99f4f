//! The engine inside a page, for WebAssembly alone: a page writes a question into the room, asks, and reads the answer there.
//! `assets/page/one_file/worker.js` is the other side.

#![cfg(target_arch = "wasm32")]

use std::sync::{Mutex, MutexGuard, PoisonError};

use halfturn_answers::{PageStart, Refusal, Watch, Work, answer, report_with_engine, start};
use halfturn_engine::sample::Monitor;
use serde_json::{Value, json};

/// The question, later the answer.
static ROOM: Mutex<Vec<u8>> = Mutex::new(Vec::new());

#[allow(
    unsafe_code,
    reason = "what the page gives to its engine is named here"
)]
#[link(wasm_import_module = "page")]
unsafe extern "C" {
    /// So many more runs are done. Returns 1 to stop the work, else 0.
    safe fn watch(runs: f64) -> u32;
    /// Takes JSON of work that goes on.
    safe fn tell(at: *const u8, bytes: usize);
}

fn room() -> MutexGuard<'static, Vec<u8>> {
    ROOM.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Makes room for a question of so many bytes: a path, then a body.
#[allow(unsafe_code, reason = "the page calls it by this name")]
#[unsafe(no_mangle)]
pub extern "C" fn make_room(bytes: usize) -> *mut u8 {
    let mut room = room();
    room.clear();
    room.resize(bytes, 0);
    room.as_mut_ptr()
}

/// Answers the question, whose path has so many bytes; the status, as HTTP has it. The answer is in the room.
#[allow(unsafe_code, reason = "the page calls it by this name")]
#[unsafe(no_mangle)]
pub extern "C" fn ask(path_bytes: usize) -> u32 {
    let question = std::mem::take(&mut *room());
    let (path, body) = question.split_at(path_bytes.min(question.len()));
    let answer = match path {
        b"start" => demo(),
        b"jobs" => Work::read(body).map(|work| done(&work)),
        b"report" => report_with_engine(body),
        _ => answer(&String::from_utf8_lossy(path), body, &Page(None)),
    };
    let (status, text) = match answer {
        Ok(value) => (200, value),
        Err(refusal) => (refusal.status.into(), refusal.json()),
    };
    *room() = text.to_string().into_bytes();
    status
}

/// Where the answer begins.
#[allow(unsafe_code, reason = "the page calls it by this name")]
#[unsafe(no_mangle)]
pub extern "C" fn answer_at() -> *const u8 {
    room().as_ptr()
}

/// How many bytes it has.
#[allow(unsafe_code, reason = "the page calls it by this name")]
#[unsafe(no_mangle)]
pub extern "C" fn answer_bytes() -> usize {
    room().len()
}

fn demo() -> Result<Value, Refusal> {
    Ok(start(&PageStart::demo()?))
}

/// Does work, and tells of it as it goes on.
fn done(work: &Work) -> Value {
    told(&json!({ "kind": work.kind(), "of": work.runs() }));
    match work.run(&Page(Some(work))) {
        Ok(Some(found)) => {
            json!({ "phase": "done", "result": found.result, "report": found.report })
        }
        Ok(None) => json!({ "phase": "stopped" }),
        Err(problem) => json!({ "phase": "failed", "problem": problem }),
    }
}

fn told(news: &Value) {
    let text = news.to_string();
    tell(text.as_ptr(), text.len());
}

/// The page, with the work that it waits for.
struct Page<'a>(Option<&'a Work>);

impl Monitor for Page<'_> {
    fn done(&self, runs: u64) {
        watch(runs as f64);
    }

    fn cancelled(&self) -> bool {
        watch(0.0) != 0
    }
}

impl Watch for Page<'_> {
    fn take(&self, lines: &str) {
        let lines: Vec<&str> = lines.lines().collect();
        let rows = self.0.map(|work| work.rows(&lines));
        told(&json!({ "rows": rows }));
    }
}
