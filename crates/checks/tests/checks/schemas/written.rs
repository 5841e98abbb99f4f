//! What a command writes as JSON, checked, and changed by one key or type.

use std::path::Path;

use serde_json::Value;

use super::{Document, say};
use crate::binary::{complaint, halfturn, json};

/// Keys that a document may lack. The last two are axes of a sweep: a schema cannot tie the columns of a row to them, it counts them.
pub(super) const OPTIONAL: [&str; 23] = [
    "differences",
    "until_hunting",
    "exact",
    "shards",
    "rows_left_out",
    "uncertain",
    "row",
    "parameter",
    "when",
    "hour_angle_h",
    "altitude_deg",
    "tolerance_low_by",
    "tolerance_high_deg",
    "from_limit",
    // As is what later versions of format 1 have added to a batch and to a turning field.
    "verdict",
    "faults",
    "fastest_at",
    "clear_first_deg",
    "to_limit",
    "least_overlap_apart",
    "more_targets_files",
    "target",
    "loop.tolerance_deg",
];

/// Runs a command and takes its JSON; the answer may be bad news.
pub(super) fn document(dir: &Path, schema: &'static str, args: &[&str]) -> Document {
    let all: Vec<&str> = args
        .iter()
        .copied()
        .chain(["--quiet", "--json", "-"])
        .collect();
    let out = halfturn(dir, &all);
    let code = out.status.code();
    assert!(
        matches!(code, Some(0 | 1)),
        "{args:?}: {code:?} {}",
        complaint(&out)
    );
    Document {
        schema,
        label: args.join(" "),
        value: json(&out),
    }
}

/// Checks all of them, and changes the first of a schema, and every one that has keys which that one lacks.
pub(super) fn check(documents: &[Document], what: &str) {
    let mut refused = 0;
    let mut seen = std::collections::BTreeSet::new();
    for document in documents {
        document.check();
        if seen.insert((document.schema, keys(&document.value))) {
            refused += document.mutate(&OPTIONAL);
        }
    }
    assert!(refused > 50, "{what}: only {refused} changes");
    say(&format!(
        "{what}: {} documents, {refused} changes refused",
        documents.len()
    ));
}

/// The keys of a document, however deep, lists looked at in their first entry.
fn keys(value: &Value) -> String {
    match value {
        Value::Object(object) => {
            let inner = object
                .iter()
                .map(|(key, value)| format!("{key}{}", keys(value)));
            format!("{{{}}}", inner.collect::<Vec<_>>().join(","))
        }
        Value::Array(list) => format!("[{}]", list.first().map_or_else(String::new, keys)),
        _ => String::new(),
    }
}
