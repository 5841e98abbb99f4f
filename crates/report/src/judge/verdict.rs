//! What was judged, for every form of the report.

use halfturn_engine::judge::{FailingExample, JudgedCase, SuiteOutcome};

/// What was judged, for every form of the report.
#[derive(Debug, Clone)]
pub struct Verdict {
    /// The command under test, as it was given.
    pub command: Vec<String>,
    /// Name of the rig, or of the graded set.
    pub rig: String,
    /// Seed of the scenarios.
    pub seed: u64,
    /// The session.
    pub session: SuiteOutcome,
    /// For every property that failed, the simplest scenario found.
    pub examples: Vec<FailingExample>,
}

/// A name for a scenario in lists: its number, from 1, and what it is about.
pub(super) fn name(number: usize, judged: &JudgedCase) -> String {
    let rig = &judged.case.rig;
    format!(
        "{} {} target {} arc from {} ({})",
        number + 1,
        judged.case.family,
        judged.case.target_deg,
        rig.wrap.arc_start_deg,
        rig.name
    )
}
