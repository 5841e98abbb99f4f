//! Summary -> advice: which targets hunt and why, and where the arc should start instead.

mod arc;
mod band;
mod bound;
mod cause;
mod certificate;
mod decision;
mod exactly;
mod flats;
mod list;
mod plan;
#[cfg(test)]
mod plan_tests;
mod plan_words;
mod reason;
mod rule_words;
mod rules;
pub mod settling;
mod since;
mod source;
#[cfg(test)]
mod tests;
mod uncertain;
mod verdict;
mod window;
mod wishes;
mod words;

use arc::keep_present;
pub use arc::{ArcChoice, Group, Move, Repair, choose_arc};
pub use band::BandAdvice;
pub use bound::{SwingBound, Term};
pub use certificate::{Asked, Certificate, Proof, Proved};
pub use decision::Decision;
pub use exactly::{Exactly, exactly};
pub use flats::{FlatSet, Flats};
pub use list::{Miss, RuleOnList, short_way_trap};
pub use plan::Plan;
use plan::{PlanError, make_plan, plan_runs};
use reason::give_reasons;
pub use rules::{
    RuleComparison, RuleReport, SeamPoint, SeamScan, compare_rules, scan_runs, scan_seam,
};
pub use settling::FoundBy;
pub use since::RigNow;
pub use uncertain::{Doubt, Driver, Firmer, TargetShare, Uncertain, uncertain, uncertain_runs};
pub use verdict::{Limits, TargetReport, Verdict};
pub use window::{FrameLimits, Improvement, Window, frame_lost, mosaic_left, tolerance_limits};
pub use wishes::Wishes;
pub(crate) use words::VERDICTS;

use crate::rig::{Rig, RigError, Rule};
use crate::run::{Figures, Trace, traced};
use crate::sample::{Batch, Cancelled, Monitor, batch};
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::PolicySummary;
use crate::tally::Tally;

/// How the advice is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Request {
    /// Runs for every target and setting.
    pub batch: Batch,
    /// What counts as safe.
    pub limits: Limits,
    /// What else the settings should keep.
    pub wishes: Wishes,
}

/// The list of targets under one arc.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// One report for every target, in the order of the list.
    pub targets: Vec<TargetReport>,
}

impl Setting {
    /// How many targets have this verdict.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        self.targets.iter().filter(|t| t.verdict == verdict).count()
    }

    /// Every target is safe.
    #[must_use]
    pub fn all_safe(&self) -> bool {
        self.targets.iter().all(|t| t.verdict == Verdict::Safe)
    }

    /// Mean time to frame every target once, those out of reach left out \[s\].
    #[must_use]
    pub fn total_time_s(&self) -> f64 {
        self.targets.iter().filter_map(|t| t.expected_time_s).sum()
    }

    /// Place in the list of the target that fares worst: that hunts most, or else ends badly most often;
    /// `None` without targets.
    #[must_use]
    pub fn worst(&self) -> Option<usize> {
        (0..self.targets.len()).max_by(|&a, &b| {
            let (a, b) = (&self.targets[a], &self.targets[b]);
            let bad = |t: &TargetReport| {
                (
                    t.hunting.rate,
                    t.bad_share,
                    // Out of reach: worse than any time.
                    t.expected_time_s.unwrap_or(f64::INFINITY),
                )
            };
            // The first of equals, hence the reversed order of places.
            let (x, y) = (bad(a), bad(b));
            x.0.total_cmp(&y.0)
                .then(x.1.total_cmp(&y.1))
                .then(x.2.total_cmp(&y.2))
                .then(b.number.cmp(&a.number))
        })
    }
}

/// One loop written down, as an example.
#[derive(Debug, Clone)]
pub struct Example {
    /// What was run.
    pub scenario: Scenario,
    /// Number of the run under the seed.
    pub trial: u64,
    /// Its moves and solves.
    pub trace: Trace,
    /// Its figures.
    pub figures: Figures,
}

/// All that `advise` finds.
#[derive(Debug, Clone)]
pub struct Advice {
    /// The rig as given.
    pub rig: Rig,
    /// The rig with the advised arc; the rig as given where the present start is kept.
    pub advised_rig: Rig,
    /// How it was computed.
    pub request: Request,
    /// The targets under the present settings.
    pub before: Setting,
    /// What to do with the start of the arc.
    pub decision: Decision,
    /// The start of the arc that is advised: the present one where it is kept.
    pub choice: ArcChoice,
    /// The targets under that arc.
    pub after: Setting,
    /// The start that the search found and the runs did not bear out.
    pub tried: Option<(ArcChoice, Setting)>,
    /// Place in the list of the target that the examples show: the worst under the present settings.
    pub shown: usize,
    /// That target's loop under the present settings: the first run that ping-pongs, if one does.
    pub example_before: Example,
    /// The same run under the advised arc.
    pub example_after: Example,
    /// Every rule at that target, with the present arc.
    pub rules: Vec<RuleReport>,
    /// Every rule around the seam, with the present arc.
    pub seam_scan: Vec<SeamScan>,
    /// The settings that meet the limits: arc, tolerance, rule and band.
    pub plan: Plan,
    /// How the advice fares on rigs that fit a log as well as the rig does, where that was asked for.
    pub uncertain: Option<Box<Uncertain>>,
}

/// Most runs for a point of the scan around the seam, which is only drawn.
const SCAN_TRIALS: u64 = 5_000;

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AdviseError {
    /// There is no target.
    #[error("there is no target to judge")]
    NoTargets,
    /// The advised settings do not make a rig.
    #[error("the advised settings are not valid: {0}")]
    Rig(#[from] RigError),
    /// The user stopped the work.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<PlanError> for AdviseError {
    fn from(error: PlanError) -> Self {
        match error {
            PlanError::Rig(error) => Self::Rig(error),
            PlanError::Cancelled(error) => Self::Cancelled(error),
        }
    }
}

/// Runs in all, for a progress bar.
#[must_use]
pub fn runs(targets: usize, request: &Request) -> u64 {
    let rules = Rule::ALL.len() as u64;
    let trials = request.batch.trials;
    let batches = (targets as u64).saturating_mul(2).saturating_add(rules);
    let scan = rules * scan_runs(trials.min(SCAN_TRIALS));
    batches
        .saturating_mul(trials)
        .saturating_add(scan)
        .saturating_add(plan_runs(targets, request))
}

/// Judges every target under the present settings and under the best start of the arc.
///
/// # Errors
/// [`AdviseError`] without targets, or when cancelled through the monitor.
pub fn advise(
    rig: &Rig,
    targets: &[Target],
    request: Request,
    monitor: &dyn Monitor,
) -> Result<Advice, AdviseError> {
    let mut before = judge(rig, targets, request, monitor)?;
    give_reasons(&mut before, rig, request, monitor)?;
    let found = choose_arc(rig, targets);
    let mut other_rig = rig.clone();
    let mut other = None;
    if found.kept_present {
        monitor.done(targets.len() as u64 * request.batch.trials);
    } else {
        other_rig = rig.with(|s| s.wrap.arc_start_deg = found.start_deg)?;
        other = Some(judge(&other_rig, targets, request, monitor)?);
    }
    let decision = Decision::of(&before, other.as_ref(), &found);
    let (advised_rig, choice, after, tried) = match other {
        Some(mut after) if decision.changes() => {
            give_reasons(&mut after, &other_rig, request, monitor)?;
            (other_rig, found, after, None)
        }
        other => (
            rig.clone(),
            keep_present(rig, targets),
            before.clone(),
            other.map(|setting| (found, setting)),
        ),
    };

    let shown = before.worst().ok_or(AdviseError::NoTargets)?;
    let angle_deg = targets[shown].position_angle_deg;
    let trial = before.targets[shown]
        .summary
        .first_ping_pong_trial
        .unwrap_or(0);
    let compared = compare_rules(rig, &Rule::ALL, angle_deg, request.batch, None, monitor);
    let rules = compared.rules;
    let scan_plan = Batch {
        trials: request.batch.trials.min(SCAN_TRIALS),
        ..request.batch
    };
    let seam_scan = scan_seam(rig, &Rule::ALL, scan_plan, monitor);
    if monitor.cancelled() {
        return Err(Cancelled.into());
    }
    let plan = make_plan(
        (rig, &advised_rig),
        targets,
        (&choice, &after),
        request,
        monitor,
    )?;
    Ok(Advice {
        example_before: example(rig, angle_deg, request.batch.seed, trial),
        example_after: example(&advised_rig, angle_deg, request.batch.seed, trial),
        rig: rig.clone(),
        advised_rig,
        request,
        before,
        decision,
        choice,
        after,
        tried,
        shown,
        rules,
        seam_scan,
        plan,
        uncertain: None,
    })
}

fn judge(
    rig: &Rig,
    targets: &[Target],
    request: Request,
    monitor: &dyn Monitor,
) -> Result<Setting, AdviseError> {
    let policy = Policy::of(rig);
    let targets = targets
        .iter()
        .enumerate()
        .map(|(number, target)| {
            let scenario = Scenario::new(rig, policy, target.position_angle_deg);
            let tally = complete_batch(&scenario, request.batch, monitor)?;
            Ok(TargetReport::new(
                number,
                target,
                &scenario,
                PolicySummary::of(policy, &tally),
                &tally,
                &request.limits,
            ))
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(Setting { policy, targets })
}

fn complete_batch(
    scenario: &Scenario,
    plan: Batch,
    monitor: &dyn Monitor,
) -> Result<Tally, Cancelled> {
    let tally = batch(scenario, plan, monitor);
    if tally.trials == plan.trials {
        Ok(tally)
    } else {
        Err(Cancelled)
    }
}

fn example(rig: &Rig, target_deg: f64, seed: u64, trial: u64) -> Example {
    let scenario = Scenario::new(rig, Policy::of(rig), target_deg);
    let (figures, trace) = traced(&scenario, seed, trial);
    Example {
        scenario,
        trial,
        trace,
        figures,
    }
}
