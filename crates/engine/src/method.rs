//! Scenario -> summary in one step: by running the loop many times, or by solving it.

use rayon::prelude::*;

use crate::exact::{NotHeld, Precision, solve_long_run_unless, solve_unless};
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

/// The figures of one scenario; `None` when the monitor stopped it.
///
/// # Errors
/// Where an exact method cannot hold it.
pub fn find(
    scenario: &Scenario,
    policy: Policy,
    plan: Batch,
    (method, extent): (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Option<PolicySummary>, NotHeld> {
    Ok(found(scenario, policy, plan, (method, extent), monitor)?.map(|found| found.summary))
}

/// The figures of a scenario, and whether the other rules with the same arc share them.
struct Found {
    summary: PolicySummary,
    within_arc: bool,
}

fn found(
    scenario: &Scenario,
    policy: Policy,
    plan: Batch,
    (method, extent): (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Option<Found>, NotHeld> {
    let stopped = || monitor.cancelled();
    let solved = |precision| -> Result<Found, NotHeld> {
        let long_run = match extent {
            Extent::Figures => None,
            Extent::LongRun => solve_long_run_unless(scenario, precision, &stopped)?,
        };
        let solution = solve_unless(scenario, precision, &stopped)?;
        Ok(Found {
            summary: PolicySummary::exact(policy, &solution, long_run),
            within_arc: solution.within_arc,
        })
    };
    let (precision, may_run) = match method {
        Method::MonteCarlo => (None, true),
        Method::Exact(precision) => (Some(precision), false),
        Method::Auto(precision) => (Some(precision), true),
    };
    if monitor.cancelled() {
        return Ok(None);
    }
    match precision.map(solved) {
        Some(Ok(found)) => {
            monitor.done(plan.trials);
            Ok(Some(found))
        }
        Some(Err(NotHeld::Stopped)) => Ok(None),
        Some(Err(not_held)) if !may_run => Err(not_held),
        _ => {
            let tally = batch(scenario, plan, monitor);
            Ok((tally.trials == plan.trials).then(|| Found {
                summary: PolicySummary::of(policy, &tally),
                within_arc: false,
            }))
        }
    }
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
    how: (Method, Extent),
    monitor: &dyn Monitor,
) -> Result<Option<Vec<PolicySummary>>, (Rule, NotHeld)> {
    let mut all: Vec<PolicySummary> = Vec::with_capacity(rules.len());
    // What holds for every rule with the arc of this scenario.
    let mut shared: Option<(Scenario, PolicySummary)> = None;
    for rule in rules {
        let policy = Policy::with_rule(rig, *rule);
        let scenario = Scenario::new(rig, policy, target_deg);
        if let Some((_, summary)) = shared.as_ref().filter(|(s, _)| s.same_arc(&scenario)) {
            monitor.done(plan.trials);
            all.push(PolicySummary {
                rule: policy.rule,
                symmetry: policy.symmetry,
                arc_start_deg: policy.arc_start_deg,
                ..summary.clone()
            });
            continue;
        }
        let Some(one) = found(&scenario, policy, plan, how, monitor).map_err(|e| (*rule, e))?
        else {
            return Ok(None);
        };
        // The other rules allow at least as much ground as these.
        if one.within_arc && matches!(rule, Rule::HalfCircle | Rule::FoldOnce) {
            shared = Some((scenario, one.summary.clone()));
        }
        all.push(one.summary);
    }
    Ok(Some(all))
}
