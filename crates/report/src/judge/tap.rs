//! A session in the Test Anything Protocol, version 14.

use std::fmt::Write as _;

use super::verdict::{Verdict, name};

/// One test point for each scenario; failures carry a YAML block.
#[must_use]
pub fn tap(verdict: &Verdict) -> String {
    let session = &verdict.session;
    let mut out = format!(
        "TAP version 14\n1..{}\n",
        session.judged.len() + session.left_out
    );
    for (i, judged) in session.judged.iter().enumerate() {
        let ok = if judged.failures.is_empty() {
            "ok"
        } else {
            "not ok"
        };
        // A number sign would begin a directive.
        let name = name(i, judged).replace(['#', '\\'], " ");
        let _ = writeln!(out, "{ok} {} - {name}", i + 1);
        if judged.failures.is_empty() {
            continue;
        }
        out.push_str("  ---\n  failures:\n");
        for failure in &judged.failures {
            let _ = writeln!(out, "    - property: {}", failure.property);
            // A JSON string is a YAML string.
            let _ = writeln!(out, "      detail: {}", serde_json::json!(failure.detail));
        }
        out.push_str("  ...\n");
    }
    if session.left_out > 0 {
        let why = session.ended.as_deref().unwrap_or("stopped");
        let _ = writeln!(out, "Bail out! {why}");
    }
    out
}
