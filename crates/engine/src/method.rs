//! Scenario -> summary in one step, by running the loop many times or by solving it.

use rayon::prelude::*;

use crate::exact::{Precision, Unsupported, solve_long_run_unless, solve_unless};
use crate::rig::{Rig, Rule};
use crate::sample::{Batch, Monitor, run_batch};
use crate::scenario::{Policy, Scenario};
use crate::summary::PolicySummary;

/// How the figures of a scenario are found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// By running the loop many times.
    MonteCarlo,
    /// By solving the loop. Fails if the rig has a feature that the exact method cannot handle.
    Exact(Precision),
    /// By solving the loop, or by running it if the rig has such a feature.
    Auto(Precision),
}

impl Method {
    /// Name of the method and its precision, for the head of a table.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::MonteCarlo => "monte-carlo".to_owned(),
            Self::Exact(precision) => format!("exact, {}", precision.describe()),
            Self::Auto(precision) => format!("auto, {}", precision.describe()),
        }
    }
}

/// What an exact solution should contain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// The figures of a batch.
    Figures,
    /// The figures, and the loop without a limit of solves.
    LongRun,
}

/// How to find the figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvaluationRequest {
    /// Runs and seed, where a loop is run.
    pub batch: Batch,
    /// Whether to run or to solve.
    pub method: Method,
    /// What an exact solution should contain.
    pub detail: Detail,
}

/// The figures of several rules at one target \[deg\], in the order of the rules, computed on the caller's thread
/// pool. Leaves out the rules that the monitor stopped.
///
/// # Errors
/// The rule that the exact method cannot handle, and why.
pub fn evaluate_rules(
    rig: &Rig,
    rules: &[Rule],
    target_deg: f64,
    request: &EvaluationRequest,
    monitor: &dyn Monitor,
) -> Result<Vec<PolicySummary>, (Rule, Unsupported)> {
    let one = |rule: &Rule, like: Option<&Evaluated>| {
        found_or_shared(rig, *rule, target_deg, request, monitor, like)
    };
    // Found first, because the other rules may share its figures.
    let first = rules.iter().find(|rule| stays_within(**rule));
    let first = first.map(|rule| one(rule, None)).transpose()?.flatten();
    let found: Vec<Option<Evaluated>> = rules
        .par_iter()
        .map(|rule| match &first {
            Some(first) if first.summary.rule == *rule => Ok(Some(first.clone())),
            _ => one(rule, first.as_ref()),
        })
        .collect::<Result<_, _>>()?;
    Ok(found.into_iter().flatten().map(|f| f.summary).collect())
}

/// The figures of one scenario; `None` if the monitor stopped it.
///
/// # Errors
/// [`Unsupported`] if the exact method cannot handle the scenario.
pub fn evaluate(
    scenario: &Scenario,
    policy: Policy,
    request: &EvaluationRequest,
    monitor: &dyn Monitor,
) -> Result<Option<PolicySummary>, Unsupported> {
    Ok(found(scenario, policy, request, monitor)?.map(|found| found.summary))
}

/// The figures of a scenario.
#[derive(Clone)]
struct Evaluated {
    summary: PolicySummary,
    /// The scenario, if every rule with the same arc has the same figures.
    shared: Option<Scenario>,
}

/// No other rule allows less ground than these two.
fn stays_within(rule: Rule) -> bool {
    matches!(rule, Rule::HalfCircle | Rule::FoldOnce)
}

/// The figures of a rule, copied from another rule if the two are the same.
fn found_or_shared(
    rig: &Rig,
    rule: Rule,
    target_deg: f64,
    request: &EvaluationRequest,
    monitor: &dyn Monitor,
    like: Option<&Evaluated>,
) -> Result<Option<Evaluated>, (Rule, Unsupported)> {
    let policy = Policy::with_rule(rig, rule);
    let scenario = Scenario::new(rig, policy, target_deg);
    let same = |like: &&Evaluated| like.shared.as_ref().is_some_and(|s| s.same_arc(&scenario));
    if let Some(like) = like.filter(same) {
        monitor.done(request.batch.trials);
        return Ok(Some(Evaluated {
            summary: like.summary.clone().under(policy),
            ..like.clone()
        }));
    }
    found(&scenario, policy, request, monitor).map_err(|e| (rule, e))
}

fn found(
    scenario: &Scenario,
    policy: Policy,
    request: &EvaluationRequest,
    monitor: &dyn Monitor,
) -> Result<Option<Evaluated>, Unsupported> {
    let batch = request.batch;
    let stopped = || monitor.cancelled();
    let solved = |precision| -> Result<Evaluated, Unsupported> {
        let long_run = match request.detail {
            Detail::Figures => None,
            Detail::LongRun => solve_long_run_unless(scenario, precision, &stopped)?,
        };
        let solution = solve_unless(scenario, precision, &stopped)?;
        Ok(Evaluated {
            summary: PolicySummary::exact(policy, &solution, long_run),
            shared: (solution.within_arc && stays_within(policy.rule)).then(|| scenario.clone()),
        })
    };
    let (precision, may_run) = match request.method {
        Method::MonteCarlo => (None, true),
        Method::Exact(precision) => (Some(precision), false),
        Method::Auto(precision) => (Some(precision), true),
    };
    if monitor.cancelled() {
        return Ok(None);
    }
    match precision.map(solved) {
        Some(Ok(found)) => {
            monitor.done(batch.trials);
            Ok(Some(found))
        }
        Some(Err(Unsupported::Stopped)) => Ok(None),
        Some(Err(unsupported)) if !may_run => Err(unsupported),
        _ => {
            let tally = run_batch(scenario, batch, monitor);
            Ok((tally.trials == batch.trials).then(|| Evaluated {
                summary: PolicySummary::of(policy, &tally),
                shared: None,
            }))
        }
    }
}

/// The figures of several rules at one target \[deg\], one after the other, in their order. `None` if the monitor
/// stopped it.
///
/// # Errors
/// The first rule that the exact method cannot handle, and why.
pub fn evaluate_in_turn(
    rig: &Rig,
    rules: &[Rule],
    target_deg: f64,
    request: &EvaluationRequest,
    monitor: &dyn Monitor,
) -> Result<Option<Vec<PolicySummary>>, (Rule, Unsupported)> {
    let mut all: Vec<PolicySummary> = Vec::with_capacity(rules.len());
    let mut like: Option<Evaluated> = None;
    for rule in rules {
        let found = found_or_shared(rig, *rule, target_deg, request, monitor, like.as_ref())?;
        let Some(one) = found else {
            return Ok(None);
        };
        all.push(one.summary.clone());
        if one.shared.is_some() {
            like = Some(one);
        }
    }
    Ok(Some(all))
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;
    use crate::rig::{DEMO_RIG, read};

    /// Counts how often it is asked: once before each rule that is not shared, and again while it is solved.
    #[derive(Default)]
    struct CountsQuestions(AtomicU64);

    impl Monitor for CountsQuestions {
        fn done(&self, _: u64) {}

        fn cancelled(&self) -> bool {
            self.0.fetch_add(1, Ordering::Relaxed);
            false
        }
    }

    /// The full circle has an arc of its own.
    /// Shows (exact): rules that behave alike, as far from the seam, are solved once. Source: none: own rule.
    #[test]
    fn rules_side_by_side_share_what_is_the_same() {
        let rig = read(DEMO_RIG, "demo", &[]).expect("a valid rig");
        let request = EvaluationRequest {
            batch: Batch { trials: 1, seed: 1 },
            method: Method::Exact(Precision::MAP),
            detail: Detail::LongRun,
        };
        let asked = |rules: &[Rule]| {
            let monitor = CountsQuestions::default();
            let found = evaluate_rules(&rig, rules, 90.0, &request, &monitor).expect("solved");
            let in_turn =
                evaluate_in_turn(&rig, rules, 90.0, &request, &CountsQuestions::default());
            assert_eq!(Ok(Some(found.clone())), in_turn);
            assert_eq!(found.len(), rules.len());
            monitor.0.into_inner()
        };
        let full = asked(&[Rule::FullCircle]);
        let half = asked(&[Rule::HalfCircle]);
        assert_eq!(asked(Rule::ALL), full + half);
    }
}
