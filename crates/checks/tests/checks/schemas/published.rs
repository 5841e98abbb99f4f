//! The files of docs/schemas and what `halfturn schema` prints.

use std::path::PathBuf;

use serde_json::Value;

use super::{Document, as_json};
use crate::binary::{complaint, folder, halfturn, json, names, output};

fn folder_of_schemas() -> PathBuf {
    crate::binary::root().join("docs/schemas")
}

fn file(name: &str) -> Value {
    let path = folder_of_schemas().join(format!("{name}.schema.json"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{name}: {e}"))
}

#[test]
fn every_file_is_a_schema_and_is_printed_whole() {
    let dir = folder();
    let listed = output(&halfturn(dir.path(), &["schema"]));
    let mut listed: Vec<String> = listed
        .lines()
        .filter_map(|line| Some(format!("{}.schema.json", line.split_whitespace().next()?)))
        .collect();
    listed.sort();
    assert_eq!(listed, names(&folder_of_schemas()));
    for name in listed.iter().filter_map(|f| f.strip_suffix(".schema.json")) {
        let published = file(name);
        // The meta-schema is the one of the draft, as the crate carries it.
        let sound = jsonschema::draft202012::meta::validate(&published);
        assert!(
            sound.is_ok(),
            "{name}: {:?}",
            sound.err().map(|e| e.to_string())
        );
        let printed = json(&halfturn(dir.path(), &["schema", name]));
        let sound = jsonschema::draft202012::meta::validate(&printed);
        assert!(
            sound.is_ok(),
            "{name}: {:?}",
            sound.err().map(|e| e.to_string())
        );
        // It can be used as it is: nothing is fetched, so a file that were missing would be an error.
        let made = jsonschema::draft202012::new(&printed);
        assert!(
            made.is_ok(),
            "{name}: {:?}",
            made.err().map(|e| e.to_string())
        );
        // What is printed is what is published, and other files beside its own definitions.
        for (key, value) in published.as_object().expect("an object") {
            if key != "$defs" {
                assert_eq!(&printed[key], value, "{name}: {key}");
                continue;
            }
            for (key, value) in value.as_object().expect("an object") {
                assert_eq!(&printed["$defs"][key], value, "{name}: {key}");
            }
        }
        let embedded = printed.get("$defs").and_then(Value::as_object);
        for (key, value) in embedded.into_iter().flatten() {
            if let Some(other) = key.strip_suffix(".schema.json") {
                assert_eq!(*value, file(other), "{name}: {other}");
            }
        }
    }
    let unknown = halfturn(dir.path(), &["schema", "rigs"]);
    assert_eq!(unknown.status.code(), Some(2));
    let said = complaint(&unknown);
    assert!(
        said.contains("schema rigs: must be one of rig, vectors, certificate,"),
        "{said}"
    );
}

/// Made by the program, they must not be other than what it makes.
#[test]
fn the_generated_files_are_those_of_this_version() {
    let again = "write it again: docs/schemas in DEVELOPERS.md";
    assert!(file("rig") == halfturn_engine::rig::rig_schema(), "{again}");
    assert!(
        file("vectors") == halfturn_report::judge::vectors_schema(),
        "{again}"
    );
}

/// The samples of the documentation: the session of docs/judge.md, the rigs that come along, and the report of the demo, where it is
/// (a packaged crate leaves it out).
#[test]
fn samples_of_the_documentation_keep_to_them() {
    let root = crate::binary::root();
    let text = |path: &str| {
        std::fs::read_to_string(root.join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
    };
    let mut found = 0;
    for line in text("docs/judge.md").lines() {
        let line = line.trim_start();
        let schema = match line.get(..3) {
            Some("-> ") => "judge-event",
            Some("<- ") => "judge-answer",
            _ => continue,
        };
        let value = serde_json::from_str(&line[3..]).unwrap_or_else(|e| panic!("{line}: {e}"));
        let label = line.to_owned();
        Document {
            schema,
            label,
            value,
        }
        .check();
        found += 1;
    }
    assert_eq!(found, 17, "lines of the session");
    for rig in ["assets/demo-rig.toml", "examples/night/rig.toml"] {
        let (schema, label) = ("rig", rig.to_owned());
        Document {
            schema,
            label,
            value: as_json(&text(rig)),
        }
        .check();
    }
    let demo = root.join("reports/demo");
    if demo.exists() {
        let certificate = as_json(&text("reports/demo/advice.toml"));
        let summary = serde_json::from_str(&text("reports/demo/summary.json")).expect("JSON");
        for (schema, value) in [("certificate", certificate), ("advise", summary)] {
            let label = "reports/demo".to_owned();
            Document {
                schema,
                label,
                value,
            }
            .check();
        }
    } else {
        super::say("SKIPPED: reports/demo is not there, so its samples are not checked");
    }
}
