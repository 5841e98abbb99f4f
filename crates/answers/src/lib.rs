//! What the page asks for, as functions from a request to JSON. `docs/serve.md` lists the addresses.
//!
//! Two doors lead here: the server of `halfturn serve`, and the engine inside the one file that needs no server.
//! Sockets, threads, queues and clocks are theirs.

// Tests may take sines from the system; a result may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

mod files;
mod given;
mod images;
mod jobs;
mod live;
mod night;
mod refusal;
mod start;
mod verdicts;
mod view;
mod wire;
mod work;

pub use refusal::Refusal;
pub use start::{MOST_SEED, MOST_TARGETS, PageStart, start};
pub use work::{Found, Watch, Work, report_with_engine};

use serde::de::DeserializeOwned;
use serde_json::Value;

use halfturn_engine::sample::Monitor;

/// An answer, or why there is none.
type Answer = Result<Value, Refusal>;

/// A function that answers.
type Answering = fn(&[u8], &dyn Monitor) -> Answer;

/// What is answered at once. Long work is a [`Work`].
const ANSWERS: [(&str, Answering); 11] = [
    ("rig/read", files::read_rig_file),
    ("rig/write", files::write_rig_file),
    ("targets/read", files::read_targets_file),
    ("targets/write", files::write_targets_file),
    ("vectors", files::vectors_file),
    ("panels", given::panels),
    ("fit", given::fit_log),
    ("fits", images::log_of_images),
    ("live", live::live),
    ("hunting", live::hunting),
    ("verdicts", verdicts::verdicts),
];

/// The paths that [`answer`] knows.
pub fn paths() -> impl Iterator<Item = &'static str> {
    ANSWERS.iter().map(|(path, _)| *path)
}

/// The answer to a body that was sent to a path. What the monitor stops is left out of it.
///
/// # Errors
/// [`Refusal`].
pub fn answer(path: &str, body: &[u8], monitor: &dyn Monitor) -> Result<Value, Refusal> {
    let found = ANSWERS.iter().find(|(known, _)| *known == path);
    let (_, answer) = found.ok_or_else(Refusal::nothing_here)?;
    answer(body, monitor)
}

/// Reads a body.
fn asked<T: DeserializeOwned>(body: &[u8]) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|e| Refusal::new(400, format!("the body: {e}")))
}
