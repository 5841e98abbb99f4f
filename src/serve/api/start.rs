//! The first data of the page: the rig, the targets, and the table of every key.

use std::sync::Arc;

use axum::extract;
use serde_json::{Value, json};

use super::Json;
use crate::serve::wire::{WireTarget, rig_json};
use crate::serve::{MOST_SEED, MOST_TARGETS, Shared};
use halfturn_engine::angle::MOST_ANGLE_DEG;
use halfturn_engine::rig::{Bound, KEYS, Key, Rule, ValueKind};
use halfturn_engine::verdict::TargetState;
use halfturn_report::plot::rate_colours;

/// `GET /api/start`: the first data of the page.
pub(super) async fn start(extract::State(shared): extract::State<Arc<Shared>>) -> Json {
    let start = &shared.start;
    let targets: Vec<WireTarget> = start.targets.iter().map(WireTarget::from).collect();
    let states = TargetState::ALL
        .iter()
        .map(|s| json!({ "state": s, "words": s.to_string(), "does": s.does() }))
        .collect::<Vec<_>>();
    Json(json!({
        "version": env!("CARGO_PKG_VERSION"),
        "keys": KEYS.iter().map(key).collect::<Vec<_>>(),
        "rules": Rule::ALL,
        "states": states,
        "rate_colours": rate_colours(),
        "rig": rig_json(&start.rig),
        "rig_text": start.rig_text,
        "rig_file": start.rig_file,
        "targets_file": start.targets_file,
        "targets": targets,
        "seed": start.seed,
        "limits": {
            "targets": MOST_TARGETS,
            "seed": MOST_SEED,
            "angle_deg": MOST_ANGLE_DEG,
        },
    }))
}

/// The data of one key for its input field.
fn key(key: &Key) -> Value {
    let kind = match key.kind {
        ValueKind::Number { low, high, .. } => {
            let (least, or_zero) = match low {
                Bound::From(low) => (low, false),
                Bound::ZeroOr(low) => (low, true),
            };
            json!({ "type": "number", "low": least, "or_zero": or_zero, "high": high })
        }
        ValueKind::Count { low, high, .. } => json!({ "type": "count", "low": low, "high": high }),
        ValueKind::Sign(_) => json!({ "type": "choice", "names": [1, -1] }),
        ValueKind::Choice { names, .. } => json!({ "type": "choice", "names": names }),
        ValueKind::Symmetry => json!({ "type": "choice", "names": [1, 2, 4], "unset": true }),
        ValueKind::Stop(_) => json!({
            "type": "number", "low": -MOST_ANGLE_DEG, "or_zero": false, "high": MOST_ANGLE_DEG, "unset": true,
        }),
        ValueKind::Text(_) => json!({ "type": "text" }),
        ValueKind::Span { low, high, .. } => json!({ "type": "span", "low": low, "high": high }),
    };
    json!({
        "path": key.path,
        "unit": key.unit,
        "help": key.help,
        "allowed": key.kind.allowed(key.unit),
        "kind": kind,
    })
}
