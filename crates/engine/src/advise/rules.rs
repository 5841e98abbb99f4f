//! The wrap rules side by side, at one target and around the seam.

use rayon::prelude::*;

use crate::angle::TURN_DEG;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};
use crate::sample::{Batch, Monitor, Until, compare, compare_until, run_batch};
use crate::scenario::{Policy, Scenario};
use crate::summary::{PairSummary, PolicySummary, Rate, RuleTally};
use crate::tally::Tally;
use crate::verdict::{Judge, Verdict};

/// One rule at one target.
#[derive(Debug, Clone)]
pub struct RuleReport {
    /// Figures.
    pub summary: PolicySummary,
    /// The tally behind them.
    pub tally: Tally,
    /// The verdict on the target under this rule: solved where that is possible, else from the runs.
    pub verdict: Verdict,
}

/// The rules at one target, and how they differ run by run.
#[derive(Debug, Clone, Default)]
pub struct RuleComparison {
    /// One report for each rule, in the order asked for.
    pub rules: Vec<RuleReport>,
    /// Each rule but one against that one: the rig's own rule, or the first where that is not among them.
    pub differences: Vec<PairSummary>,
    /// Shares that hunt, with intervals that hold although the sampling stopped when they were narrow.
    pub until: Option<Vec<Rate>>,
}

/// Runs every rule at one target \[deg\] on the same random streams; until the shares that hunt are known to a
/// wanted precision, if asked for. When cancelled, every rule has fewer trials than asked for.
#[must_use]
pub fn compare_rules(
    rig: &Rig,
    rules: &[Rule],
    target_deg: f64,
    judge: &Judge<'_>,
    until: Option<Until>,
) -> RuleComparison {
    let (batch, monitor) = (judge.batch, judge.monitor);
    let own = rig.settings().wrap.rule;
    let first = rules.iter().position(|rule| *rule == own).unwrap_or(0);
    // The one that the others are compared with goes first.
    let mut order: Vec<usize> = (0..rules.len()).collect();
    order.sort_by_key(|i| *i != first);
    let scenarios: Vec<Scenario> = order
        .iter()
        .map(|i| Scenario::new(rig, Policy::with_rule(rig, rules[*i]), target_deg))
        .collect();
    let (all, known) = match until {
        None => (compare(&scenarios, batch, monitor), None),
        Some(until) => {
            let (all, known) = compare_until(&scenarios, batch, until, monitor);
            (all, Some(known))
        }
    };
    if all.trials() == 0 {
        return RuleComparison::default();
    }
    let place = |rule: usize| order.iter().position(|i| *i == rule).unwrap_or(0);
    let differences = (0..rules.len())
        .filter(|rule| *rule != first)
        .map(|rule| {
            let at = place(rule);
            let tallied = |rule: usize, at: usize| RuleTally {
                rule: rules[rule],
                tally: &all.tallies[at],
            };
            PairSummary::of(tallied(first, 0), tallied(rule, at), &all.pairs[at - 1])
        })
        .collect();
    let reports = (0..rules.len())
        .map(|rule| {
            let (at, policy) = (place(rule), Policy::with_rule(rig, rules[rule]));
            let tally = all.tallies[at].clone();
            let summary = PolicySummary::of(policy, &tally);
            RuleReport {
                verdict: judge.verdict_on(&scenarios[at], policy, &summary),
                summary,
                tally,
            }
        })
        .collect();
    RuleComparison {
        rules: reports,
        differences,
        until: known.map(|all| (0..rules.len()).map(|rule| all[place(rule)]).collect()),
    }
}

/// Hunting of one rule against the distance of the target from the seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamScan {
    /// The rule.
    pub rule: Rule,
    /// Points in the order of the distance.
    pub points: Vec<SeamPoint>,
}

/// One point of a scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeamPoint {
    /// Drive angle of the target minus the start of the arc \[deg\]; negative values fold to the other end.
    pub distance_deg: f64,
    /// Runs with two or more long swings.
    pub hunting: Rate,
}

/// Points of a scan, an odd number so that one lies on the seam.
const SCAN_POINTS: u32 = 41;

/// Runs that [`scan_seam`] makes for each rule, for a progress bar.
#[must_use]
pub fn scan_runs(trials: u64) -> u64 {
    u64::from(SCAN_POINTS) * trials
}

/// Moves a target across the seam and runs every rule at each place. Points that were not finished
/// when cancelled are left out.
#[must_use]
pub fn scan_seam(rig: &Rig, rules: &[Rule], batch: Batch, monitor: &dyn Monitor) -> Vec<SeamScan> {
    let s = rig.settings();
    let reach_deg = scan_reach_deg(rig);
    let half = f64::from(SCAN_POINTS / 2);
    rules
        .iter()
        .map(|rule| {
            let policy = Policy::with_rule(rig, *rule);
            let points = (0..SCAN_POINTS)
                .into_par_iter()
                .map(|i| (f64::from(i) - half) / half * reach_deg)
                .filter_map(|distance_deg| {
                    let drive_deg = s.wrap.arc_start_deg + distance_deg;
                    let target_deg =
                        s.drive.zero_point_deg + s.loop_.believed_sense.factor() * drive_deg;
                    let tally = run_batch(&Scenario::new(rig, policy, target_deg), batch, monitor);
                    (tally.trials == batch.trials).then(|| SeamPoint {
                        distance_deg,
                        hunting: Rate::of(tally.hunting, tally.trials),
                    })
                })
                .collect();
            SeamScan {
                rule: *rule,
                points,
            }
        })
        .collect()
}

/// The trap of a widened arc on endless travel: its width \[deg\] where the short way between two of its points
/// can run outside it.
#[must_use]
pub fn short_way_trap(rig: &Rig, policy: Policy) -> Option<f64> {
    let travel = rig.travel();
    let wrap = policy.wrap(travel);
    let wide_deg = wrap.width_deg() + 2.0 * wrap.band_deg();
    let traps = travel == Travel::Endless && wide_deg > 0.5 * TURN_DEG && wide_deg < TURN_DEG;
    traps.then_some(wide_deg)
}

/// How far from the seam a scan goes: beyond what the first correction is likely to reach \[deg\].
fn scan_reach_deg(rig: &Rig) -> f64 {
    let s = rig.settings();
    let random = libm::hypot(
        libm::hypot(s.drive.zero_point_sigma_deg, s.solve.noise_deg),
        s.drive.repeatability_deg,
    );
    let periodic: f64 = s.drive.periodic.iter().map(|p| p.amplitude_deg).sum();
    let reach = 4.0 * random + periodic + s.drive.backlash_deg + s.loop_.tolerance_deg;
    reach.clamp(0.5, 30.0)
}
