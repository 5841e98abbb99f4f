//! A rig judged at every target of a list.

use std::cmp::Ordering;

use super::arc::ArcFacts;
use super::criteria::Criteria;
use super::reason::Reason;
use super::window::tolerance_limits;
use crate::plant::Travel;
use crate::rig::Rig;
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::PolicySummary;
use crate::verdict::{Fault, JudgedTarget, Limits, Standing, TargetState, Verdict};
use crate::wording::on_dial;

/// One target under one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetReport {
    /// Place in the list, from 0.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// Its position angle as given \[deg\].
    pub position_angle_deg: f64,
    /// Where the first move goes, as the drive shows it: in `[0, 360)` with endless travel \[deg\].
    pub drive_deg: f64,
    /// Distance of that angle from the nearer end of the arc \[deg\]; `None` where there is no seam.
    pub seam_distance_deg: Option<f64>,
    /// Mean time until the loop ends, settled or not \[s\]; `None` for a target out of reach.
    pub expected_time_s: Option<f64>,
    /// The mean true error of its settled runs is above the tolerance.
    pub settles_wrong: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// Why.
    pub reason: Reason,
    /// All figures.
    pub summary: PolicySummary,
}

impl TargetReport {
    /// The figures and the verdict; the reason is found later.
    pub(super) fn new(
        number: usize,
        target: &Target,
        scenario: &Scenario,
        judged: JudgedTarget,
    ) -> Self {
        let JudgedTarget { summary, verdict } = judged;
        Self {
            number,
            name: target.name.clone(),
            position_angle_deg: target.position_angle_deg,
            drive_deg: match scenario.brief().travel {
                Travel::Endless => on_dial(scenario.drive_angle_deg()),
                Travel::Stops { .. } => scenario.drive_angle_deg(),
            },
            seam_distance_deg: scenario.seam_distance_deg(),
            expected_time_s: summary
                .elapsed_s
                .mean
                .filter(|_| !verdict.states().contains(&TargetState::OutOfReach)),
            settles_wrong: summary
                .true_error_deg
                .mean
                .is_some_and(|error_deg| error_deg > scenario.brief().tolerance_deg),
            verdict,
            reason: Reason::NotSought,
            summary,
        }
    }

    /// Share of the runs with a fault.
    #[must_use]
    pub fn share(&self, fault: Fault) -> f64 {
        self.verdict.fault(fault).map_or(0.0, |f| f.rate.rate)
    }

    /// Share of the runs that hunt, do not settle, turn through a keep-out or wind the cable too far.
    #[must_use]
    pub fn bad_share(&self) -> f64 {
        self.summary.ended_badly.rate
    }
}

/// A list of targets under one rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// The arc between the targets.
    pub arc: ArcFacts,
    /// What counts as safe.
    pub limits: Limits,
    /// The tolerance \[deg\].
    pub tolerance_deg: f64,
    /// The largest that keeps the frame \[deg\]; `None` without `[framing]`.
    pub tolerance_high_deg: Option<f64>,
    /// The arc has to be clear of every keep-out.
    pub must_be_clear: bool,
    /// One report for every target, in the order of the list.
    pub targets: Vec<TargetReport>,
}

/// How bad a list fares, what weighs most first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Badness {
    /// Targets that can break the gear or are out of reach.
    pub(super) out_of_bounds: usize,
    /// Targets that are not safe.
    pub(super) not_safe: usize,
    /// Limits of the list that are not met.
    pub(super) unmet: usize,
    /// How far the shares are beyond their limits.
    pub(super) excess: f64,
}

impl Badness {
    /// By the counts alone.
    pub(super) fn compare_counts(&self, other: &Self) -> Ordering {
        (self.out_of_bounds, self.not_safe, self.unmet).cmp(&(
            other.out_of_bounds,
            other.not_safe,
            other.unmet,
        ))
    }

    /// By the counts, then by the excess.
    pub(super) fn compare(&self, other: &Self) -> Ordering {
        self.compare_counts(other)
            .then(self.excess.total_cmp(&other.excess))
    }
}

impl Setting {
    pub(super) fn new(
        rig: &Rig,
        arc: ArcFacts,
        limits: Limits,
        criteria: &Criteria,
        targets: Vec<TargetReport>,
    ) -> Self {
        let framing = rig.settings().framing;
        Self {
            policy: Policy::of(rig),
            arc,
            limits,
            tolerance_deg: rig.settings().loop_.tolerance_deg,
            tolerance_high_deg: framing.map(|f| tolerance_limits(&f, criteria).least_deg()),
            must_be_clear: criteria.clear_of_keep_outs,
            targets,
        }
    }

    /// How many targets are in this state.
    #[must_use]
    pub fn count(&self, state: TargetState) -> usize {
        let here = self.targets.iter().filter(|t| t.verdict.state == state);
        here.count()
    }

    /// Share of the runs with a fault at the target with the most of it.
    #[must_use]
    pub fn worst_share(&self, fault: Fault) -> f64 {
        let shares = self.targets.iter().map(|t| t.share(fault));
        shares.fold(0.0, f64::max)
    }

    /// Every target is safe.
    #[must_use]
    pub fn all_safe(&self) -> bool {
        self.targets.iter().all(|t| t.verdict.is_safe())
    }

    /// The tolerance is within what the frame bears, or nobody said what that is.
    #[must_use]
    pub fn keeps_frame(&self) -> bool {
        self.tolerance_high_deg
            .is_none_or(|high_deg| self.tolerance_deg <= high_deg)
    }

    /// The arc is clear of every keep-out, or need not be.
    #[must_use]
    pub fn is_clear_enough(&self) -> bool {
        !self.must_be_clear || self.arc.clear_of_keep_outs
    }

    /// Every limit is met: all targets are safe, the tolerance keeps the frame, and the arc is clear where it must be.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.all_safe() && self.keeps_frame() && self.is_clear_enough()
    }

    /// Mean time to frame every target once, those out of reach left out \[s\].
    #[must_use]
    pub fn total_time_s(&self) -> f64 {
        self.targets.iter().filter_map(|t| t.expected_time_s).sum()
    }

    /// The targets, the worst first: by state, then by the share of runs that end badly, then by time; equals in the
    /// order of the list.
    #[must_use]
    pub fn worst_first(&self) -> Vec<&TargetReport> {
        let time_s = |t: &TargetReport| t.expected_time_s.unwrap_or(f64::INFINITY);
        let mut targets: Vec<&TargetReport> = self.targets.iter().collect();
        targets.sort_by(|a, b| {
            (a.verdict.state.cmp(&b.verdict.state))
                .then(b.bad_share().total_cmp(&a.bad_share()))
                .then(time_s(b).total_cmp(&time_s(a)))
        });
        targets
    }

    /// Place in the list of the target that fares worst; `None` without targets.
    #[must_use]
    pub fn worst(&self) -> Option<usize> {
        self.worst_first().first().map(|t| t.number)
    }

    /// How bad it is.
    pub(super) fn badness(&self) -> Badness {
        let counted = |bad: fn(TargetState) -> bool| {
            let bad = self.targets.iter().filter(|t| bad(t.verdict.state));
            bad.count()
        };
        Badness {
            out_of_bounds: counted(|s| s <= TargetState::OutOfReach),
            not_safe: counted(|s| s != TargetState::Safe),
            unmet: usize::from(!self.keeps_frame()) + usize::from(!self.is_clear_enough()),
            excess: self.excess(),
        }
    }

    /// Targets in this state, be it their worst or not.
    #[must_use]
    pub fn count_also(&self, state: TargetState) -> usize {
        let here = self
            .targets
            .iter()
            .filter(|t| t.verdict.states().contains(&state));
        here.count()
    }

    /// Faults that exceed their limits, over all targets.
    pub(super) fn certain_faults(&self) -> usize {
        let faults = self.targets.iter().flat_map(|t| &t.verdict.faults);
        faults.filter(|f| f.standing == Standing::Exceeds).count()
    }

    /// How far the shares of all targets are beyond their limits, in limits.
    #[must_use]
    pub fn excess(&self) -> f64 {
        self.targets.iter().map(|t| t.verdict.excess()).sum()
    }
}
