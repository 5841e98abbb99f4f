//! The test vectors of the wrap rules: against exact arithmetic in another language, and their files.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::binary::there_is;
use crate::binary::{folder, halfturn, json, names};

/// Standard output of the check in Python, and whether it was content.
fn checked(text: &str) -> (bool, String) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/check_vectors.py");
    let mut child = Command::new("python3")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("python3 starts");
    let mut input = child.stdin.take().expect("a pipe");
    input.write_all(text.as_bytes()).expect("it reads");
    drop(input);
    let out = child.wait_with_output().expect("it ends");
    let said = [out.stdout, out.stderr].concat();
    (
        out.status.success(),
        String::from_utf8_lossy(&said).into_owned(),
    )
}

/// Shows (model 1): period = 360 / symmetry; symmetry 1, 2 and 4. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: exact fractions in Python; independent
/// program; that such sensors frame the same: common practice, no published source.
/// Shows (model 5): the arc is `[start, start + width)`; width 360, or one period. Source: exact fractions in Python,
/// written from docs/model.md.
/// Shows (model 5): the half circle is a quarter for symmetry 4 and a turn for symmetry 1. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: exact fractions in Python; independent
/// program.
/// Shows (judge): 7196 test vectors. With: `judge::the_page_is_true`. Source: exact fractions in Python.
#[test]
fn vectors_agree_with_exact_arithmetic() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let mut vectors = json(&halfturn(dir.path(), &["vectors", "--json", "-"]));
    let (right, said) = checked(&vectors.to_string());
    assert!(right, "{said}");
    // And the check can fail: one command a period off, one flag turned.
    for (key, value) in [("command_deg", Value::from(540.0)), ("folded", true.into())] {
        let before = vectors["vectors"][40][key].take();
        assert_ne!(before, value);
        vectors["vectors"][40][key] = value;
        let (right, said) = checked(&vectors.to_string());
        assert!(!right && said.contains("vector 41"), "{key}: {said}");
        vectors["vectors"][40][key] = before;
    }
}

/// The vectors are a contract: a change of any bit of them is a change of format.
/// Shows (README): `halfturn vectors` writes test vectors as CSV and JSON. With: `vectors_agree_with_exact_arithmetic`.
/// Source: exact fractions in Python.
#[test]
fn vectors_stay_what_they_are() {
    let dir = folder();
    let out = halfturn(dir.path(), &["vectors", "--out", "v"]);
    assert_eq!(out.status.code(), Some(0));
    let files = [
        "wrap-vectors.csv",
        "wrap-vectors.json",
        "wrap-vectors.schema.json",
        "wrap-vectors.sha256",
    ];
    assert_eq!(names(&dir.path().join("v")), files);
    let text = |name: &str| std::fs::read_to_string(dir.path().join("v").join(name)).expect(name);
    let csv = text(files[0]);
    let digest: String = Sha256::digest(&csv)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    assert_eq!(text(files[3]), format!("{digest}  wrap-vectors.csv\n"));
    let result: Value = serde_json::from_str(&text(files[1])).expect("JSON");
    assert_eq!(result["csv_sha256"], digest.as_str());
    assert_eq!(
        digest,
        "5525609050d0dac002cb2ef53f35c18366641cdf93d470ff4234ffab038db925"
    );
    assert_eq!(halfturn(dir.path(), &["vectors"]).stdout, csv.as_bytes());

    // CSV, JSON and schema speak of the same columns; every value has a type that the schema allows.
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let columns: Vec<String> = reader
        .headers()
        .expect("a header")
        .iter()
        .map(str::to_owned)
        .collect();
    let schema: Value = serde_json::from_str(&text(files[2])).expect("JSON");
    let item = &schema["$defs"]["Vector"];
    assert_eq!(item["required"], serde_json::json!(columns));
    let vectors = result["vectors"].as_array().expect("vectors");
    assert_eq!(reader.records().count(), vectors.len());
    for vector in vectors {
        let vector = vector.as_object().expect("an object");
        assert_eq!(vector.len(), columns.len());
        for (key, value) in vector {
            let allowed = &item["properties"][key];
            let named = allowed["$ref"]
                .as_str()
                .and_then(|r| schema.pointer(&r[1..]));
            let allowed = named.unwrap_or(allowed);
            let types = match &allowed["type"] {
                Value::Array(types) => types.clone(),
                Value::Null => {
                    let names = allowed["oneOf"].as_array().expect("a list");
                    assert!(
                        names.iter().any(|n| &n["const"] == value),
                        "{key} = {value}"
                    );
                    continue;
                }
                one => vec![one.clone()],
            };
            let fits = types.iter().any(|t| match t.as_str() {
                Some("integer") => value.is_u64(),
                Some("number") => value.as_f64().is_some_and(f64::is_finite),
                Some("boolean") => value.is_boolean(),
                Some("null") => value.is_null(),
                _ => false,
            });
            assert!(fits, "{key} = {value}");
        }
    }
    let any = |key: &str| vectors.iter().any(|v| v[key] == true);
    for flag in ["correction", "folded", "refused", "edge"] {
        assert!(any(flag), "{flag}");
    }
}
