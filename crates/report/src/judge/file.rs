//! Files of scenarios, to play them again.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;

use halfturn_engine::judge::Case;
use halfturn_engine::rig::{InputError, escape_controls, refusal};

/// The value of `kind` in such a file.
const KIND: &str = "halfturn-scenarios";

/// Version of the format.
const FORMAT: u32 = 1;

/// The keys of every format. The rest of a later format is unknown.
#[derive(Deserialize)]
struct Head {
    #[serde(default)]
    format: Value,
    #[serde(default)]
    kind: Value,
}

/// Stops the parser at the value of `format`, to find its line.
#[derive(Deserialize)]
struct Format {
    #[serde(rename = "format", deserialize_with = "stop")]
    _value: (),
}

/// Stops the parser at the value of `kind`.
#[derive(Deserialize)]
struct Kind {
    #[serde(rename = "kind", deserialize_with = "stop")]
    _value: (),
}

fn stop<'de, D: Deserializer<'de>>(from: D) -> Result<(), D::Error> {
    Value::deserialize(from)?;
    Err(D::Error::custom("here"))
}

/// The line of a key; `None` if the file lacks it.
fn line_of<'de, Key: Deserialize<'de>>(text: &'de str) -> Option<usize> {
    serde_json::from_str::<Key>(text).err().map(|e| e.line())
}

/// A file of scenarios.
#[derive(Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub(crate) struct ScenariosFile {
    /// Version of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    format: u32,
    /// What kind of file it is.
    #[cfg_attr(feature = "schema", schemars(extend("const" = KIND)))]
    kind: String,
    /// The scenarios.
    cases: Vec<Case>,
}

/// The text of a file of scenarios.
#[must_use]
pub fn cases_text(cases: &[Case]) -> String {
    let file = ScenariosFile {
        format: FORMAT,
        kind: KIND.to_owned(),
        cases: cases.to_vec(),
    };
    serde_json::to_string_pretty(&file).expect("an object of numbers and texts") + "\n"
}

/// Reads a file of scenarios. `file` is the name that messages show.
///
/// # Errors
/// [`InputError`] for another kind of text, or a scenario that cannot be played.
pub fn read_cases(text: &str, file: &str) -> Result<Vec<Case>, InputError> {
    let wrong = |line, key: &str, problem: String| InputError {
        line,
        key: key.to_owned(),
        ..InputError::of_file(file, escape_controls(&problem))
    };
    let broken =
        |e: &serde_json::Error| wrong(Some(e.line()), "", format!("not a file of scenarios: {e}"));
    // First, because the rest of a file of a newer format may hold anything. Missing keys get their message below.
    let head: Head = serde_json::from_str(text).map_err(|e| broken(&e))?;
    if !head.kind.is_null() && head.kind.as_str() != Some(KIND) {
        return Err(wrong(
            line_of::<Kind>(text),
            "kind",
            format!("must be {KIND:?}"),
        ));
    }
    if !head.format.is_null() && head.format.as_u64() != Some(FORMAT.into()) {
        return Err(InputError {
            value: escape_controls(&head.format.to_string()),
            ..wrong(
                line_of::<Format>(text),
                "format",
                refusal(head.format.as_u64(), FORMAT),
            )
        });
    }
    let read: ScenariosFile = serde_json::from_str(text).map_err(|e| broken(&e))?;
    for (i, case) in read.cases.iter().enumerate() {
        case.scenario()
            .map_err(|e| wrong(None, &format!("cases.{i}"), e.to_string()))?;
    }
    Ok(read.cases)
}
