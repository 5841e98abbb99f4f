//! Files of scenarios, for playing them again.

use serde::{Deserialize, Serialize};

use crate::judge::Case;
use crate::rig::{InputError, made_plain};

/// What such a file says of itself.
const KIND: &str = "halfturn-scenarios";

/// Version of the format.
const FORMAT: u32 = 1;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: u32,
    kind: String,
    cases: Vec<Case>,
}

/// The text of a file of scenarios.
#[must_use]
pub fn cases_text(cases: &[Case]) -> String {
    let file = File {
        format: FORMAT,
        kind: KIND.to_owned(),
        cases: cases.to_vec(),
    };
    // Every number of a checked scenario is finite.
    serde_json::to_string_pretty(&file).unwrap_or_default() + "\n"
}

/// Reads a file of scenarios; `file` is its name for messages.
///
/// # Errors
/// [`InputError`] for text that is no such file, or a scenario that cannot be played.
pub fn read_cases(text: &str, file: &str) -> Result<Vec<Case>, InputError> {
    let wrong = |line, key: &str, problem: String| InputError {
        line,
        key: key.to_owned(),
        ..InputError::of_file(file, made_plain(&problem))
    };
    let read: File = serde_json::from_str(text)
        .map_err(|e| wrong(Some(e.line()), "", format!("not a file of scenarios: {e}")))?;
    if read.kind != KIND || read.format != FORMAT {
        let problem = format!("must be {KIND:?} of format {FORMAT}");
        return Err(wrong(None, "kind", problem));
    }
    for (i, case) in read.cases.iter().enumerate() {
        case.scenario()
            .map_err(|e| wrong(None, &format!("cases.{i}"), e.to_string()))?;
    }
    Ok(read.cases)
}
