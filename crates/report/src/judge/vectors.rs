//! Test vectors as CSV and JSON, with a digest.

use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::result::{Format, Version, as_json};
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

/// The vectors as CSV: a header line, numbers in the shortest form that reads back as the same float, an empty field
/// for a missing stop.
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

/// Test vectors with the digest of their CSV.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct VectorsResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// SHA-256 of the CSV, in hexadecimal.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    csv_sha256: String,
    /// The vectors.
    vectors: &'a [Vector],
}

/// The vectors as JSON.
#[must_use]
pub fn vectors_json(vectors: &[Vector]) -> Value {
    as_json(&VectorsResult {
        format: Format,
        version: Version,
        csv_sha256: vectors_digest(vectors),
        vectors,
    })
}
