//! Scenario -> summary in one step: by running the loop many times, or by solving it.

use rayon::prelude::*;

use crate::exact::{LongRun, NotHeld, Precision, Solution, solve_long_run_unless, solve_unless};
use crate::rig::{Rig, Rule};
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

/// The figures of several rules at one target \[deg\], each found by itself on the thread pool of the caller, in
/// their order; those that the monitor stopped are left out.
///
/// # Errors
/// The first rule that an exact method cannot hold.
pub fn find_each(
    rig: &Rig,
    rules: &[Rule],
    target_deg: f64,
    plan: Batch,
    how: (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Vec<PolicySummary>, (Rule, NotHeld)> {
    let found: Vec<Option<Vec<PolicySummary>>> = rules
        .par_iter()
        .map(|rule| find_all(rig, &[*rule], target_deg, plan, how, monitor))
        .collect::<Result<_, _>>()?;
    Ok(found.into_iter().flatten().flatten().collect())
}

/// The figures of several rules at one target \[deg\], in their order. `None` when the monitor stopped it.
///
/// # Errors
/// The first rule that an exact method cannot hold.
pub fn find_all(
    rig: &Rig,
    rules: &[Rule],
    target_deg: f64,
    plan: Batch,
    (method, extent): (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Option<Vec<PolicySummary>>, (Rule, NotHeld)> {
    let mut found: Vec<PolicySummary> = Vec::with_capacity(rules.len());
    // What holds for every rule with the arc of this scenario.
    let mut shared: Option<(Scenario, Solution, Option<LongRun>)> = None;
    let stopped = || monitor.cancelled();
    for rule in rules {
        let policy = Policy::with_rule(rig, *rule);
        let scenario = Scenario::new(rig, policy, target_deg);
        let run = || {
            let tally = batch(&scenario, plan, monitor);
            (tally.trials == plan.trials).then(|| PolicySummary::of(policy, &tally))
        };
        let solved = |precision| -> Result<_, NotHeld> {
            let long_run = match extent {
                Extent::Figures => None,
                Extent::LongRun => solve_long_run_unless(&scenario, precision, &stopped)?,
            };
            Ok((solve_unless(&scenario, precision, &stopped)?, long_run))
        };
        let (precision, may_run) = match method {
            Method::MonteCarlo => (None, true),
            Method::Exact(precision) => (Some(precision), false),
            Method::Auto(precision) => (Some(precision), true),
        };
        if let Some((_, solution, long_run)) =
            shared.as_ref().filter(|(s, ..)| s.same_arc(&scenario))
        {
            monitor.done(plan.trials);
            found.push(PolicySummary::exact(policy, solution, *long_run));
            continue;
        }
        if monitor.cancelled() {
            return Ok(None);
        }
        match precision.map(solved) {
            Some(Ok((solution, long_run))) => {
                monitor.done(plan.trials);
                found.push(PolicySummary::exact(policy, &solution, long_run));
                // The other rules allow at least as much ground as these.
                if solution.within_arc && matches!(rule, Rule::HalfCircle | Rule::FoldOnce) {
                    shared = Some((scenario, solution, long_run));
                }
            }
            Some(Err(NotHeld::Stopped)) => return Ok(None),
            Some(Err(not_held)) if !may_run => return Err((*rule, not_held)),
            _ => match run() {
                Some(summary) => found.push(summary),
                None => return Ok(None),
            },
        }
    }
    Ok(Some(found))
}
