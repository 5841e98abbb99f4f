//! Scenario -> summary in one step: by running the loop many times, or by solving it.

use crate::exact::{LongRun, NotHeld, Precision, solve, solve_long_run};
use crate::sample::{Batch, Monitor, batch};
use crate::scenario::{Policy, Scenario};
use crate::summary::PolicySummary;

/// How the figures of a scenario are found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// By running the loop many times.
    MonteCarlo,
    /// By solving the loop; fails where the rig has a feature that this cannot hold.
    Exact(Precision),
    /// By solving the loop, or by running it where the rig has such a feature.
    Auto(Precision),
}

impl Method {
    /// Name of the method and its precision, as in the head of a table.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::MonteCarlo => "monte-carlo".to_owned(),
            Self::Exact(precision) => format!("exact, {}", precision.describe()),
            Self::Auto(precision) => format!("auto, {}", precision.describe()),
        }
    }
}

/// What else is wanted of an exact solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// The figures of a batch.
    Figures,
    /// Also the loop without a limit of solves.
    LongRun,
}

/// The figures of a scenario under a policy. `None` when the monitor stopped it.
///
/// # Errors
/// [`NotHeld`] where the method is exact and cannot hold the rig.
pub fn find(
    scenario: &Scenario,
    policy: Policy,
    plan: Batch,
    (method, extent): (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Option<PolicySummary>, NotHeld> {
    let run = || {
        let tally = batch(scenario, plan, monitor);
        (tally.trials == plan.trials).then(|| PolicySummary::of(policy, &tally))
    };
    let solve = |precision| {
        if monitor.cancelled() {
            return Ok(None);
        }
        let solution = solve(scenario, precision)?;
        let long_run: Option<LongRun> = match extent {
            Extent::Figures => None,
            Extent::LongRun => solve_long_run(scenario, precision)?,
        };
        monitor.done(plan.trials);
        Ok(Some(PolicySummary::exact(policy, &solution, long_run)))
    };
    match method {
        Method::MonteCarlo => Ok(run()),
        Method::Exact(precision) => solve(precision),
        Method::Auto(precision) => match solve(precision) {
            Err(_) => Ok(run()),
            found => found,
        },
    }
}
