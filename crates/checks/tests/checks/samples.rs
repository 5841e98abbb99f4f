//! The results of earlier formats, tests/data/formats, against the schemas of today.

use serde_json::Value;

use crate::binary::{names, root};
use crate::schemas::Document;

/// The format that a schema takes.
fn format_of(schema: &str) -> u64 {
    let schema = halfturn_report::schema(schema).expect("a schema");
    let own = schema["properties"]["format"]["const"].as_u64();
    own.unwrap_or(1)
}

/// The schema of a later version takes what an earlier one of the same format wrote: json/SCHEMA.json, or json/SCHEMA--what.json.
#[test]
fn results_keep_to_the_schemas_of_today() {
    let mut found = 0;
    let folders = root().join("tests/data/formats");
    for format in names(&folders) {
        let dir = folders.join(format).join("json");
        if !dir.is_dir() {
            continue;
        }
        for name in names(&dir) {
            let schema = name
                .trim_end_matches(".json")
                .split("--")
                .next()
                .expect("a name");
            let text = std::fs::read_to_string(dir.join(&name)).expect("a sample");
            let value: Value = serde_json::from_str(&text).expect("JSON");
            let (schema, _) = halfturn_report::schema_names()
                .into_iter()
                .find(|(known, _)| *known == schema)
                .unwrap_or_else(|| panic!("{name}: no such schema"));
            if value["format"] == format_of(schema) {
                Document {
                    schema,
                    label: name,
                    value,
                }
                .check();
            }
            found += 1;
        }
    }
    assert!(found >= 15, "{found}");
}
