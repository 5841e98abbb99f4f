//! A verdict in a table.

use halfturn_engine::verdict::{Fault, TargetState, Verdict};
use halfturn_engine::wording::percent;

/// The state, and the fault that decides it where the table has no column for that.
pub(super) fn verdict_words(verdict: &Verdict) -> String {
    let told = |fault| matches!(fault, Fault::PingPong | Fault::Late);
    match verdict.decides() {
        Some(f) if !told(f.fault) => match verdict.state {
            TargetState::AtRisk => format!("at risk: {} {}", f.fault, percent(f.rate.rate)),
            state => format!("{state}: {}", percent(f.rate.rate)),
        },
        _ => verdict.state.to_string(),
    }
}
