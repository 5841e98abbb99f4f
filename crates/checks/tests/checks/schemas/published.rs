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

/// Shows (README): `halfturn schema` prints schemas that stand alone. Source: JSON Schema, draft 2020-12: the crate
/// `jsonschema`.
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
        assert!(printed == published, "{name}: the program is older");
    }
    let unknown = halfturn(dir.path(), &["schema", "rigs"]);
    assert_eq!(unknown.status.code(), Some(2));
    let said = complaint(&unknown);
    assert!(
        said.contains("schema rigs: must be one of rig, vectors, certificate,"),
        "{said}"
    );
}

/// JSON with everything on one line that fits there.
fn text(value: &Value, indent: usize) -> String {
    const WIDTH: usize = 140;
    let line = value.to_string();
    let inner = |text: String| format!("{:1$}{text}", "", indent + 2);
    let deep = |value| text(value, indent + 2);
    let (open, close, parts): (_, _, Vec<String>) = match value {
        _ if indent + line.len() <= WIDTH => return line,
        Value::Object(object) => {
            let parts = object.iter();
            let part = |(key, value)| inner(format!("{key:?}: {}", deep(value)));
            ("{", "}", parts.map(part).collect())
        }
        Value::Array(list) => ("[", "]", list.iter().map(|v| inner(deep(v))).collect()),
        _ => return line,
    };
    format!("{open}\n{}\n{:indent$}{close}", parts.join(",\n"), "")
}

/// Shows (README): the schemas are those of the types that are written and read now. Source: the types themselves, by
/// the crate `schemars`.
#[test]
fn the_made_files_are_those_of_this_version() {
    let made = halfturn_report::made_schemas();
    assert_eq!(made.len() + 1, names(&folder_of_schemas()).len());
    for (name, schema) in made {
        if std::env::var("HALFTURN_GOLDEN").is_ok_and(|v| v == "renew") {
            let path = folder_of_schemas().join(format!("{name}.schema.json"));
            std::fs::write(path, text(&schema, 0) + "\n").expect("the file can be written");
            continue;
        }
        assert!(
            file(name) == schema,
            "docs/schemas/{name}.schema.json is not what its types say. If that is meant: \
             `HALFTURN_GOLDEN=renew cargo test -p halfturn-checks the_made_files`"
        );
    }
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
