//! The only script of the page, and the policy that blocks any other.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};
use serde_json::Value;
use sha2::{Digest, Sha256};

use super::player::PLAYER_SCRIPT;
use crate::trace_json::TraceResult;
use halfturn_engine::advise::{Advice, TraceExample};
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Policy;

/// The script that puts the player into the page.
const MOUNT: &str = include_str!("../../../../assets/page/report.js");

/// Most rows of a loop to replay.
const MOST_ROWS: usize = 300;

/// A policy that fetches nothing and runs only the page's own script.
pub(super) fn policy() -> String {
    let hash = super::script_hash();
    format!(
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'"
    )
}

/// The hash by which a policy knows a script (W3C, Content Security Policy Level 3).
pub(super) fn hash(script: &str) -> String {
    STANDARD.encode(Sha256::digest(script))
}

/// The text of the script element.
pub(super) fn source() -> String {
    format!("{PLAYER_SCRIPT}{MOUNT}")
}

/// The script element. It comes last, when everything that it looks for is there.
pub(super) fn element() -> Markup {
    html! { script { (PreEscaped(source())) } }
}

/// The place of the player, with its loops: the present one, and the same with the advised settings.
pub(crate) fn player(advice: &Advice) -> Markup {
    let seed = advice.request.batch.seed;
    let before = loop_data(
        &advice.rig,
        advice.before.policy,
        &advice.example_before,
        seed,
    );
    let changed = !advice.changes.is_empty();
    let after = changed.then(|| {
        loop_data(
            &advice.advised_rig,
            advice.after.policy,
            &advice.example_after,
            seed,
        )
    });
    html! {
        div id="player" {}
        (data("Present settings", &before))
        @if let Some(after) = after { (data("Advised settings", &after)) }
    }
}

fn loop_data(rig: &Rig, policy: Policy, example: &TraceExample, seed: u64) -> Value {
    let result = TraceResult::of(
        rig,
        policy,
        example.scenario.brief().target_deg,
        (seed, example.trial),
        &example.figures,
        example.trace.rows(),
    );
    result.first_rows(MOST_ROWS)
}

/// JSON for a block of data. `<` is written as an escape, and no text can end the block.
pub(super) fn escaped(json: &Value) -> Markup {
    PreEscaped(json.to_string().replace('<', "\\u003c"))
}

/// A block of data.
fn data(label: &str, json: &Value) -> Markup {
    html! { script type="application/json" data-loop=(label) { (escaped(json)) } }
}
