//! The rig file as a JSON Schema (draft 2020-12), made from the table of keys: the two cannot drift apart.
//!
//! A schema looks at one key at a time. docs/files.md, "JSON Schemas", has the rules that it cannot express.

use serde_json::{Map, Value, json};

use super::keys::{
    Bound, KEYS, Key, MOST_ENTRIES, REQUIRED_IN_SECTION, TEXT_LENGTH, ValueKind, blank_keep_out,
    blank_periodic, framing,
};
use super::settings::RigSettings;
use crate::angle::MOST_ANGLE_DEG;

/// Pattern for a text of one line; see [`super::is_printable_line`].
pub(crate) const PLAIN_LINE: &str =
    r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069]*$";

/// The schema of a rig file, as JSON.
#[must_use]
pub fn rig_schema() -> Value {
    let mut settings = example();
    let mut root = table("");
    let mut lists = Map::new();
    for key in KEYS {
        let (list, path) = key.path.split_once(".*.").unwrap_or(("", key.path));
        let leaf = schema_of(key, &mut settings);
        if list.is_empty() {
            insert(&mut root, "", path, leaf);
        } else {
            let name = list.rsplit('.').next().unwrap_or(list);
            let entry = lists.entry(name).or_insert_with(|| table(""));
            insert(entry, &format!("{list}.*"), path, leaf);
            let reference = json!({
                "type": "array",
                "maxItems": MOST_ENTRIES,
                "items": { "$ref": format!("#/$defs/{name}") },
            });
            insert(&mut root, "", list, reference);
        }
    }
    // The only rule over several keys that a schema can express.
    root["properties"]["drive"]["if"] = json!({
        "required": ["travel"],
        "properties": { "travel": { "const": "stops" } },
    });
    root["properties"]["drive"]["then"] = json!({ "required": ["stop_from_deg", "stop_to_deg"] });
    root["$schema"] = "https://json-schema.org/draft/2020-12/schema".into();
    root["$id"] = "rig.schema.json".into();
    root["title"] = "Rig file of halfturn (TOML, seen as JSON)".into();
    root["$defs"] = lists.into();
    root
}

/// Settings with the defaults, and one blank entry in every list.
fn example() -> RigSettings {
    let mut settings = RigSettings::default();
    settings.drive.periodic.push(blank_periodic());
    settings.keep_out.push(blank_keep_out());
    framing(&mut settings);
    settings
}

fn table(path: &str) -> Value {
    let required = REQUIRED_IN_SECTION.iter().filter_map(|required| {
        let (section, name) = required.rsplit_once('.')?;
        (section == path).then_some(name)
    });
    let required: Vec<&str> = required.collect();
    let mut table = json!({ "type": "object", "additionalProperties": false, "properties": {} });
    if !required.is_empty() {
        table["required"] = required.into();
    }
    table
}

/// Puts the schema of a value into that of a table, and makes the sections on the way. `here` is the path of the
/// table.
fn insert(into: &mut Value, here: &str, path: &str, leaf: Value) {
    match path.split_once('.') {
        None => into["properties"][path] = leaf,
        Some((section, rest)) => {
            let here = if here.is_empty() {
                section.to_owned()
            } else {
                format!("{here}.{section}")
            };
            let inner = &mut into["properties"][section];
            if inner.is_null() {
                *inner = table(&here);
            }
            insert(inner, &here, rest, leaf);
        }
    }
    // An entry of a list has its own table.
    if into.get("required").is_none()
        && let Some(required) = table(here).get("required")
    {
        into["required"] = required.clone();
    }
}

fn schema_of(key: &Key, settings: &mut RigSettings) -> Value {
    let mut schema = match key.kind {
        ValueKind::Number {
            low: Bound::From(low),
            high,
            ..
        } => json!({ "type": "number", "minimum": low, "maximum": high }),
        ValueKind::Number {
            low: Bound::ZeroOr(low),
            high,
            ..
        } => json!({
            "type": "number",
            "anyOf": [{ "const": 0 }, { "minimum": low, "maximum": high }],
        }),
        // While there is only one format.
        ValueKind::Count { low, high, .. } if low == high => json!({ "const": low }),
        ValueKind::Count { low, high, .. } => {
            json!({ "type": "integer", "minimum": low, "maximum": high })
        }
        ValueKind::Sign(_) => json!({ "enum": [1, -1] }),
        ValueKind::Choice { names, .. } => json!({ "enum": names }),
        ValueKind::Symmetry => json!({ "enum": [1, 2, 4] }),
        ValueKind::Stop(_) => {
            json!({ "type": "number", "minimum": -MOST_ANGLE_DEG, "maximum": MOST_ANGLE_DEG })
        }
        ValueKind::Text(_) => {
            json!({ "type": "string", "maxLength": TEXT_LENGTH, "pattern": PLAIN_LINE })
        }
        ValueKind::Span { low, high, .. } => json!({
            "type": "array",
            "minItems": 2,
            "maxItems": 2,
            "items": { "type": "number", "minimum": low, "maximum": high },
        }),
    };
    let unit = match key.unit {
        "" => String::new(),
        unit => format!(" [{unit}]"),
    };
    schema["description"] = format!("{}{unit}", key.help).into();
    if !REQUIRED_IN_SECTION.contains(&key.path)
        && let Some(default) = key.kind.value(settings, 0)
    {
        schema["default"] = json!(default);
    }
    schema
}

/// Schemas of types that are made from the schema of the rig file.
#[cfg(feature = "schema")]
mod types {
    use std::borrow::Cow;

    use schemars::{JsonSchema, Schema, SchemaGenerator};
    use serde_json::{Value, json};

    use super::rig_schema;
    use crate::rig::{KeepOut, RigSettings};

    fn schema(value: Value) -> Schema {
        Schema::try_from(value).expect("an object")
    }

    impl JsonSchema for RigSettings {
        fn schema_name() -> Cow<'static, str> {
            "Rig".into()
        }
        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            schema(rig_schema())
        }
    }

    impl JsonSchema for KeepOut {
        fn schema_name() -> Cow<'static, str> {
            "KeepOut".into()
        }
        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            let mut entry = rig_schema()["$defs"]["keep_out"].take();
            // The program always writes these.
            entry["required"] = json!(["from_deg", "to_deg", "why"]);
            schema(entry)
        }
    }

    /// A rig in which list entries and `framing` have all their keys.
    pub(crate) fn whole_entries(rig: &mut Schema) {
        let properties = json!({
            "drive": { "properties": { "periodic": { "items": { "required": ["phase_deg"] } } } },
            "keep_out": { "items": { "required": ["why"] } },
            "framing": { "required": ["mosaic_overlap"] },
        });
        rig.insert("properties".to_owned(), properties);
    }
}

#[cfg(feature = "schema")]
pub(crate) use types::whole_entries;
