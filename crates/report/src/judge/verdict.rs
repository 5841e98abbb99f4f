use super::margin::Margin;
use halfturn_engine::judge::{FailingExample, JudgedCase, SuiteOutcome};

/// A judged session with its command, rig and seed, for every form of the report.
#[derive(Debug, Clone)]
pub struct Verdict {
    /// The command under test, as given.
    pub command: Vec<String>,
    /// Name of the rig, or of the graded set.
    pub rig: String,
    /// Seed of the scenarios.
    pub seed: u64,
    /// The session.
    pub session: SuiteOutcome,
    /// For every property that failed, the simplest scenario found.
    pub examples: Vec<FailingExample>,
    /// The margin, or why there is none; `None` if nobody asked.
    pub margin: Option<Margin>,
}

/// A name of a scenario for lists: its number, from 1, and its subject.
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
