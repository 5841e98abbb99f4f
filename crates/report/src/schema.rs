//! The JSON Schemas (draft 2020-12) of everything that the program reads and writes: the files of docs/schemas.

use serde_json::Value;

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        &[$((
            $name,
            include_str!(concat!("../../../docs/schemas/", $name, ".schema.json")),
        )),*]
    };
}

/// The files by name. `crates/checks` makes all but `judge-answer` from types and tables.
const FILES: &[(&str, &str)] = files![
    "rig",
    "vectors",
    "certificate",
    "scenarios",
    "advise",
    "advise-any-target",
    "advise-check",
    "batch",
    "trace",
    "sweep",
    "judge",
    "judge-event",
    "judge-answer",
    "fit",
    "fit-plan",
    "sky-panels",
    "sky-fits",
    "sky-night",
    "sky-field-rotation",
];

/// The names of all schemas, each with its title.
#[must_use]
pub fn schema_names() -> Vec<(&'static str, String)> {
    let named = |(name, _): &(&'static str, &str)| {
        let schema = schema(name)?;
        Some((*name, schema["title"].as_str()?.to_owned()))
    };
    FILES.iter().filter_map(named).collect()
}

/// The schema with this name, which needs no other file; `None` if there is none.
#[must_use]
pub fn schema(name: &str) -> Option<Value> {
    let (_, text) = FILES.iter().find(|(known, _)| *known == name)?;
    serde_json::from_str(text).ok()
}
