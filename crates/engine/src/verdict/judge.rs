//! Scenario -> figures -> verdict. All parts of the program judge with this.

use super::{Limits, Verdict};
use crate::exact::{Precision, solve};
use crate::method::{Detail, EvaluationRequest, Method, evaluate};
use crate::sample::{Batch, Cancelled, Monitor};
use crate::scenario::{Policy, Scenario};
use crate::summary::PolicySummary;

/// The coarse grid is accurate to about 1e-5. Smaller limits need the fine one.
const FINE_BELOW: f64 = 1e-4;

/// Judges targets: solves the loop if the exact method can handle it, else runs it.
#[derive(Clone, Copy)]
pub struct Judge<'a> {
    /// What counts as safe.
    pub limits: Limits,
    /// Runs and seed for a loop that cannot be solved.
    pub batch: Batch,
    /// Hears of the progress and may stop the work.
    pub monitor: &'a dyn Monitor,
}

impl std::fmt::Debug for Judge<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Judge")
            .field("limits", &self.limits)
            .field("batch", &self.batch)
            .finish_non_exhaustive()
    }
}

/// A judged target.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedTarget {
    /// The figures behind the verdict.
    pub summary: PolicySummary,
    /// The verdict.
    pub verdict: Verdict,
}

impl Judge<'_> {
    /// Judges one loop.
    ///
    /// # Errors
    /// [`Cancelled`] if the monitor stops it.
    pub fn judge(&self, scenario: &Scenario, policy: Policy) -> Result<JudgedTarget, Cancelled> {
        let request = EvaluationRequest {
            batch: self.batch,
            method: Method::Auto(precision_for(&self.limits)),
            detail: Detail::Figures,
        };
        // It runs whatever it cannot solve, and only a stop can fail.
        let summary = evaluate(scenario, policy, &request, self.monitor)
            .ok()
            .flatten()
            .ok_or(Cancelled)?;
        let verdict = Verdict::of(&summary, &self.limits);
        Ok(JudgedTarget { summary, verdict })
    }

    /// The verdict on a loop that was run already: that of [`Self::judge`] if the loop can be solved, else the one
    /// from the figures of its runs.
    #[must_use]
    pub fn verdict_on(&self, scenario: &Scenario, policy: Policy, runs: &PolicySummary) -> Verdict {
        let limits = &self.limits;
        match solve(scenario, precision_for(limits)) {
            Ok(solution) => Verdict::of(&PolicySummary::exact(policy, &solution, None), limits),
            Err(_) => Verdict::of(runs, limits),
        }
    }
}

/// The precision that the exact method needs for these limits. A loop that takes long to solve is run instead.
#[must_use]
pub fn precision_for(limits: &Limits) -> Precision {
    if limits.least_share() < FINE_BELOW {
        Precision {
            most_work: Precision::SEARCH.most_work,
            ..Precision::FULL
        }
    } else {
        Precision::SEARCH
    }
}
