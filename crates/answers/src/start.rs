//! The first data of the page: the rig, the targets, and the table of every key.

use serde_json::{Value, json};

use crate::wire::{WireTarget, rig_json};
use halfturn_engine::angle::MOST_ANGLE_DEG;
use halfturn_engine::rig::{Bound, DEMO_RIG, InputError, KEYS, Key, Rig, Rule, ValueKind, read};
use halfturn_engine::scenario::{DEMO_TARGETS, Target, read_targets};
use halfturn_engine::verdict::TargetState;
use halfturn_report::plot::rate_colours;

/// Most targets of a page.
pub const MOST_TARGETS: usize = 1000;

/// Largest seed of a page. A browser rounds larger whole numbers.
pub const MOST_SEED: u64 = (1 << 53) - 1;

/// The first data of the page.
#[derive(Debug, Clone)]
pub struct PageStart {
    /// The text of the rig file. A saved file keeps its comments.
    pub rig_text: String,
    /// The name of the rig file; `None` for the demo.
    pub rig_file: Option<String>,
    /// The name of the targets file; `None` for the demo.
    pub targets_file: Option<String>,
    /// The rig of that text and of the overrides.
    pub rig: Rig,
    /// The targets, at most [`MOST_TARGETS`].
    pub targets: Vec<Target>,
    /// The seed, at most [`MOST_SEED`].
    pub seed: u64,
}

impl PageStart {
    /// The demo.
    ///
    /// # Errors
    /// [`InputError`] if the demo were no rig or no list.
    pub fn demo() -> Result<Self, InputError> {
        Ok(Self {
            rig_text: DEMO_RIG.to_owned(),
            rig_file: None,
            targets_file: None,
            rig: read(DEMO_RIG, "demo", &[])?,
            targets: read_targets(DEMO_TARGETS, "demo")?,
            seed: 1,
        })
    }
}

/// `GET /api/start`: the first data of the page.
#[must_use]
pub fn start(start: &PageStart) -> Value {
    let targets: Vec<WireTarget> = start.targets.iter().map(WireTarget::from).collect();
    let states = TargetState::ALL
        .iter()
        .map(|s| json!({ "state": s, "words": s.to_string(), "does": s.does() }))
        .collect::<Vec<_>>();
    json!({
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
    })
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
