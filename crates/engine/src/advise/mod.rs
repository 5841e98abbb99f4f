//! Verdicts -> advice: which targets are not safe and why, and the rig that meets every limit.

mod advice;
mod anywhere;
mod arc;
mod band;
mod bound;
mod cause;
mod certificate;
mod changes;
mod criteria;
mod error;
mod flats;
mod found_by;
mod list;
mod one_sided;
mod proof;
mod reason;
mod reason_search;
mod repair;
mod request;
mod rules;
mod search;
mod setting;
mod since;
mod source;
mod uncertain;
mod window;

pub use advice::{Advice, AdviceOutcome, RuleOnList, TraceExample};
pub use anywhere::{
    AnglePoint, AnyTarget, Circle, MOST_HUNTING, Part, RuleAnywhere, Zone, any_target,
    any_target_runs,
};
pub use arc::ArcFacts;
pub use band::BandAdvice;
pub use bound::{SwingBound, Term};
pub use cause::Cause;
pub use certificate::{Certificate, CertificateOrigin, CertifiedCriteria, Promise, Proved};
pub use changes::{AllowedChanges, Changeable};
pub use criteria::Criteria;
pub use error::AdviseError;
pub use flats::{FlatSet, Flats};
pub use found_by::FoundBy;
pub use one_sided::{OneSidedGain, one_sided_gain};
pub use proof::Proof;
pub use reason::{Behind, FaultReason, Reason, Safety};
pub use repair::{Group, Repair, TargetMove};
pub use request::AdviceRequest;
pub use rules::{
    RuleComparison, RuleReport, SeamPoint, SeamScan, compare_rules, scan_runs, scan_seam,
    short_way_trap,
};
pub use setting::{Setting, TargetReport};
pub use since::RigStatus;
pub use source::{ENOUGH_SOLVES, Source};
pub use uncertain::{
    Driver, RobustSettings, RobustnessRequest, TargetShare, Uncertain, uncertain, uncertain_runs,
};
pub use window::{FrameLimits, Improvement, Window, frame_lost, mosaic_left, tolerance_limits};

use list::ListJudge;
use reason_search::give_reasons;
use search::{JudgedRig, RigSearch, present_arc};

use crate::rig::{Rig, Rule};
use crate::run::traced;
use crate::sample::{Batch, Cancelled, Monitor, Uncounted};
use crate::scenario::{Policy, Scenario, Target};
use crate::verdict::Judge;

/// Most runs for a point of the scan around the seam, which is only drawn.
const SCAN_TRIALS: u64 = 5_000;

/// Most runs for one answer of the search where a loop cannot be solved.
const SEARCH_RUNS: u64 = 4_000;

/// Runs are too few to prove a share this many times smaller than one over their number.
const RUNS_PER_LIMIT: f64 = 4.0;

/// Keeps the runs of the search, of the proof and of all else apart.
const SEARCH_STREAMS: u64 = 0x3c6e_f372_fe94_f82b;

/// Runs in all, for a progress bar.
#[must_use]
pub fn runs(targets: usize, request: &AdviceRequest) -> u64 {
    let rules = Rule::ALL.len() as u64;
    let trials = request.batch.trials;
    // Before, after, and the proof.
    let batches = (targets as u64).saturating_mul(3).saturating_add(rules);
    let scan = rules * scan_runs(trials.min(SCAN_TRIALS));
    batches.saturating_mul(trials).saturating_add(scan)
}

/// Judges every target under the rig as given, searches the rig that meets every limit, and proves it.
///
/// # Errors
/// [`AdviseError`] without targets, or when cancelled through the monitor.
pub fn advise(
    rig: &Rig,
    targets: &[Target],
    request: AdviceRequest,
    monitor: &dyn Monitor,
) -> Result<Advice, AdviseError> {
    let judge = Judge {
        limits: request.limits,
        batch: request.batch,
        monitor,
    };
    let counted = ListJudge::new(targets, &request.criteria, judge);
    let mut before = counted.setting(rig, present_arc(rig, targets))?;
    let shown = before.worst().ok_or(AdviseError::NoTargets)?;
    give_reasons(&mut before, rig, targets, &request, monitor)?;

    let uncounted = Uncounted(monitor);
    let mut sure = counted;
    sure.judge.monitor = &uncounted;
    let mut quick = ListJudge::new(
        targets,
        &request.criteria,
        quick_judge(&request, &uncounted),
    );
    quick.searching = true;
    let search = RigSearch {
        rig,
        request: &request,
        quick,
        sure: &sure,
    };
    let found = search.run(&before)?;
    let JudgedRig {
        rig: advised_rig,
        setting: mut after,
        ..
    } = found.best;
    let changes = rig.differences(&advised_rig);
    if changes.is_empty() {
        after = before.clone();
    } else {
        give_reasons(&mut after, &advised_rig, targets, &request, monitor)?;
    }
    monitor.done(targets.len() as u64 * request.batch.trials);
    let proof = Proof::run(&advised_rig, targets, &after, request.batch, monitor)?;

    let policy = Policy::of(&advised_rig);
    let bound = SwingBound::of(&advised_rig, policy, request.criteria.tail);
    let window = Window::find(
        &advised_rig,
        rig.settings().loop_.tolerance_deg,
        &search.quick,
    )?;
    let band = search.band(&advised_rig)?;
    let on_list = found.rules.into_iter().map(|found| RuleOnList {
        changes: rig.differences(&found.rig),
        advised: found.rig == advised_rig,
        setting: found.setting,
    });
    let on_list = on_list.collect();
    let repair = (!after.holds() && !after.arc.no_seam)
        .then(|| Repair::find(&advised_rig, targets, bound.seam_distance_deg));

    let target = &targets[shown];
    let compared = compare_rules(rig, Rule::ALL, target.position_angle_deg, &judge, None);
    let scan_plan = Batch {
        trials: request.batch.trials.min(SCAN_TRIALS),
        ..request.batch
    };
    let seam_scan = scan_seam(rig, Rule::ALL, scan_plan, monitor);
    if monitor.cancelled() {
        return Err(Cancelled.into());
    }
    let scenario = target.scenario(rig, Policy::of(rig));
    let seed = request.batch.seed;
    let own = compared
        .rules
        .iter()
        .find(|r| r.summary.rule == before.policy.rule);
    let trial = own.and_then(|r| r.summary.first_hunting_trial).unwrap_or(0);
    let outcome = match (before.holds(), after.holds(), changes.is_empty()) {
        (true, ..) => AdviceOutcome::NotNeeded,
        (false, true, _) => AdviceOutcome::Solves,
        (false, false, false) => AdviceOutcome::Improves,
        (false, false, true) => AdviceOutcome::NoImprovement,
    };
    Ok(Advice {
        example_before: example(scenario, seed, trial),
        example_after: example(target.scenario(&advised_rig, policy), seed, trial),
        rig: rig.clone(),
        advised_rig,
        flats: Flats::of(&after, request.criteria.flats_within_deg),
        request,
        before,
        after,
        outcome,
        changes,
        proof,
        on_list,
        bound,
        window,
        repair,
        band,
        shown,
        rules: compared.rules,
        seam_scan,
        uncertain: None,
    })
}

/// Judges with fewer runs, of their own streams.
fn quick_judge<'a>(request: &AdviceRequest, monitor: &'a dyn Monitor) -> Judge<'a> {
    let wanted = (RUNS_PER_LIMIT / request.limits.least_share()).ceil() as u64;
    Judge {
        limits: request.limits,
        batch: Batch {
            trials: request.batch.trials.min(SEARCH_RUNS.max(wanted)),
            seed: request.batch.seed ^ SEARCH_STREAMS,
        },
        monitor,
    }
}

fn example(scenario: Scenario, seed: u64, trial: u64) -> TraceExample {
    let (figures, trace) = traced(&scenario, seed, trial);
    TraceExample {
        scenario,
        trial,
        trace,
        figures,
    }
}
