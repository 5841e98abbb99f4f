//! Test vectors as CSV and JSON, with the schema of the JSON and a digest.

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::json::{FORMAT, VERSION};
use halfturn_engine::judge::Vector;

/// The columns, in their order.
const COLUMNS: [&str; 16] = [
    "id",
    "rule",
    "correction",
    "reading_deg",
    "wanted_deg",
    "arc_start_deg",
    "period_deg",
    "band_deg",
    "travel",
    "stop_from_deg",
    "stop_to_deg",
    "command_deg",
    "folded",
    "move_deg",
    "refused",
    "edge",
];

/// The vectors as CSV: a header line, numbers in the shortest form that reads back as the same float, nothing for a
/// stop that is not there.
#[must_use]
pub fn vectors_csv(vectors: &[Vector]) -> String {
    let mut out = COLUMNS.join(",") + "\n";
    for v in vectors {
        let number = |x: f64| format!("{x:?}");
        let stop = |x: Option<f64>| x.map_or_else(String::new, number);
        let cells = [
            v.id.to_string(),
            v.rule.to_string(),
            v.correction.to_string(),
            number(v.reading_deg),
            number(v.wanted_deg),
            number(v.arc_start_deg),
            number(v.period_deg),
            number(v.band_deg),
            v.travel.to_string(),
            stop(v.stop_from_deg),
            stop(v.stop_to_deg),
            number(v.command_deg),
            v.folded.to_string(),
            number(v.move_deg),
            v.refused.to_string(),
            v.edge.to_string(),
        ];
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

/// SHA-256 of the CSV, in hexadecimal.
#[must_use]
pub fn vectors_digest(vectors: &[Vector]) -> String {
    let hash = Sha256::digest(vectors_csv(vectors));
    hash.iter().map(|b| format!("{b:02x}")).collect()
}

/// The vectors as JSON.
#[must_use]
pub fn vectors_json(vectors: &[Vector]) -> Value {
    json!({
        "format": FORMAT,
        "version": VERSION,
        "csv_sha256": vectors_digest(vectors),
        "vectors": vectors,
    })
}

/// The schema of that JSON (JSON Schema, draft 2020-12).
#[must_use]
pub fn vectors_schema() -> Value {
    let number = json!({ "type": "number" });
    let stop = json!({ "type": ["number", "null"] });
    let flag = json!({ "type": "boolean" });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Test vectors of the wrap rules of a camera rotator",
        "type": "object",
        "required": ["format", "version", "csv_sha256", "vectors"],
        "additionalProperties": false,
        "properties": {
            "format": { "const": FORMAT },
            "version": { "type": "string" },
            "csv_sha256": { "type": "string", "pattern": "^[0-9a-f]{64}$" },
            "vectors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": COLUMNS,
                    "additionalProperties": false,
                    "properties": {
                        "id": { "type": "integer", "minimum": 1 },
                        "rule": { "enum": ["full-circle", "half-circle", "hysteresis-band", "fold-once"] },
                        "correction": flag,
                        "reading_deg": number,
                        "wanted_deg": number,
                        "arc_start_deg": number,
                        "period_deg": { "type": "number", "exclusiveMinimum": 0 },
                        "band_deg": { "type": "number", "minimum": 0 },
                        "travel": { "enum": ["endless", "stops"] },
                        "stop_from_deg": stop,
                        "stop_to_deg": stop,
                        "command_deg": number,
                        "folded": flag,
                        "move_deg": number,
                        "refused": flag,
                        "edge": flag,
                    },
                },
            },
        },
    })
}
