//! The session as JSON. `docs/files.md` explains every key.

use serde_json::{Value, json};

use super::Verdict;
use crate::json::{FORMAT, VERSION};
use halfturn_engine::judge::Property;

/// The result of `judge`.
#[must_use]
pub fn judge_json(verdict: &Verdict) -> Value {
    let session = &verdict.session;
    let by_property = session.by_property();
    let properties = Property::ALL.into_iter().map(|property| {
        let found = by_property.get(&property);
        json!({
            "property": property,
            "why": property.why(),
            "failed": found.map_or(0, |f| f.0),
            "first": found.map(|f| f.1 + 1),
        })
    });
    let families = session.by_family().into_iter().map(
        |(family, (all, failed))| json!({ "family": family, "scenarios": all, "failed": failed }),
    );
    let failures = session
        .judged
        .iter()
        .enumerate()
        .filter(|(_, j)| !j.failures.is_empty())
        .map(|(i, j)| {
            json!({
                "number": i + 1,
                "family": j.case.family,
                "remembered": j.remembered,
                "failures": j.failures,
            })
        });
    let examples = verdict.examples.iter().map(|e| {
        json!({
            "property": e.property,
            "number": e.number + 1,
            "reproduced": e.reproduced,
            "tries": e.tries,
            "failures": e.played.failures,
            "figures": e.played.figures,
            "rows": e.played.trace.rows(),
            "case": e.case,
        })
    });
    json!({
        "format": FORMAT,
        "version": VERSION,
        "command": verdict.command,
        "rig": verdict.rig,
        "seed": verdict.seed,
        "passed": session.passed(),
        "scenarios": session.judged.len(),
        "failed": session.failed(),
        "left_out": session.left_out,
        "ended": session.ended,
        "complete": !session.stopped,
        "restarts": session.restarts,
        "families": families.collect::<Value>(),
        "properties": properties.collect::<Value>(),
        "failures": failures.collect::<Value>(),
        "examples": examples.collect::<Value>(),
    })
}
