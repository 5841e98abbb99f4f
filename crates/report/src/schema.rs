//! The JSON Schemas (draft 2020-12) of what the program reads and writes: the files of docs/schemas, each made to
//! stand alone.

use std::collections::BTreeSet;

use serde_json::{Map, Value};

use super::judge::vectors_schema;
use halfturn_engine::rig::rig_schema;

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        &[$((
            $name,
            include_str!(concat!("../../../docs/schemas/", $name, ".schema.json")),
        )),*]
    };
}

/// The files that are written by hand, by their names.
const FILES: &[(&str, &str)] = files![
    "certificate",
    "scenarios",
    "advise",
    "advise-plan",
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
    "common",
];

/// Makes a schema.
type Maker = fn() -> Value;

/// Those that the program makes from its own tables; their files in docs/schemas are copies.
const MADE: [(&str, Maker); 2] = [("rig", rig_schema), ("vectors", vectors_schema)];

/// The names of all schemas, each with its title.
#[must_use]
pub fn schema_names() -> Vec<(&'static str, String)> {
    let title = |name| {
        let schema = parsed(name)?;
        Some((name, schema["title"].as_str()?.to_owned()))
    };
    let made = MADE.iter().map(|(name, _)| *name);
    let written = FILES.iter().map(|(name, _)| *name);
    made.chain(written).filter_map(title).collect()
}

/// The schema of a name, with all others that it refers to among its definitions: it needs no other file. `None` where
/// there is no such schema.
#[must_use]
pub fn schema(name: &str) -> Option<Value> {
    let mut root = parsed(name)?;
    let mut found = BTreeSet::from([file_name(name)]);
    let mut added = Map::new();
    let mut look = others(&root);
    while let Some(other) = look.pop() {
        if found.insert(other.clone())
            && let Some(schema) = other.strip_suffix(SUFFIX).and_then(parsed)
        {
            look.extend(others(&schema));
            added.insert(other, schema);
        }
    }
    if !added.is_empty() {
        let definitions = root.as_object_mut()?.entry("$defs");
        let definitions = definitions.or_insert_with(|| Map::new().into());
        definitions.as_object_mut()?.extend(added);
    }
    Some(root)
}

const SUFFIX: &str = ".schema.json";

fn file_name(name: &str) -> String {
    format!("{name}{SUFFIX}")
}

fn parsed(name: &str) -> Option<Value> {
    if let Some((_, make)) = MADE.iter().find(|(made, _)| *made == name) {
        return Some(make());
    }
    let (_, text) = FILES.iter().find(|(written, _)| *written == name)?;
    serde_json::from_str(text).ok()
}

/// The files that a schema refers to.
fn others(schema: &Value) -> Vec<String> {
    match schema {
        Value::Object(object) => {
            let reference = object.get("$ref").and_then(Value::as_str);
            let file = reference
                .map(|r| r.split('#').next().unwrap_or_default().to_owned())
                .filter(|file| !file.is_empty());
            file.into_iter()
                .chain(object.values().flat_map(others))
                .collect()
        }
        Value::Array(list) => list.iter().flat_map(others).collect(),
        _ => Vec::new(),
    }
}
