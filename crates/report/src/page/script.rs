//! The one script of the page, and the policy that lets nothing else run.

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

/// Puts the player into the page.
const MOUNT: &str = include_str!("../../../../assets/page/report.js");

/// Rows of a loop that are replayed.
const MOST_ROWS: usize = 300;

/// Nothing is fetched, and nothing is run but the page's own script.
pub(super) fn policy() -> String {
    let hash = hash(&source());
    format!(
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{hash}'; base-uri 'none'; form-action 'none'"
    )
}

/// By what a policy knows a script (W3C, Content Security Policy Level 3).
pub(super) fn hash(script: &str) -> String {
    STANDARD.encode(Sha256::digest(script))
}

/// The script as it stands between its tags.
pub(super) fn source() -> String {
    format!("{PLAYER_SCRIPT}{MOUNT}")
}

/// The script element; it stands last, where all that it looks for is there.
pub(super) fn element() -> Markup {
    html! { script { (PreEscaped(source())) } }
}

/// Where the player goes, with its loops: the present one, and the same with the advised settings.
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

/// A block of data. No text in it can end it: `<` stands as an escape of JSON.
fn data(label: &str, json: &Value) -> Markup {
    let text = json.to_string().replace('<', "\\u003c");
    html! { script type="application/json" data-loop=(label) { (PreEscaped(text)) } }
}
