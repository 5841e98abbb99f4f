//! The verdict on one target.

use serde::Serialize;

use crate::exact::Solution;
use crate::plant::Travel;
use crate::scenario::{Scenario, Target};
use crate::summary::{PolicySummary, Rate};
use crate::tally::Tally;
use crate::wording::on_dial;

/// What counts as safe.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Largest share of runs that may hunt (ping-pong, or use up their solves), end on failed solves or
    /// a refused command, or turn through a keep-out.
    pub max_hunting: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { max_hunting: 0.001 }
    }
}

/// A target that hunts this many times as often as permitted is said to hunt.
const HUNTS_FACTOR: f64 = 10.0;

/// The verdict on a target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It hunts less often than the limit, with 95 % confidence.
    Safe,
    /// It may hunt more often than the limit, or runs end on failed solves or turn through a keep-out.
    AtRisk,
    /// It hunts more than ten times as often as the limit.
    WillHunt,
    /// Commands outside the stops are refused.
    OutOfReach,
}

impl std::fmt::Display for Verdict {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Safe => "safe",
            Self::AtRisk => "at risk",
            Self::WillHunt => "will hunt",
            Self::OutOfReach => "out of reach",
        })
    }
}

impl Verdict {
    pub(super) fn of(tally: &Tally, limits: &Limits) -> Self {
        Self::of_rates(&VerdictRates::of(tally), limits)
    }

    /// The verdict on what runs or an exact solution say of one target. Near a limit the two can differ, as runs
    /// leave an interval.
    #[must_use]
    pub fn of_summary(summary: &PolicySummary, limits: &Limits) -> Self {
        Self::of_rates(&VerdictRates::of_summary(summary), limits)
    }

    pub(super) fn of_rates(rates: &VerdictRates, limits: &Limits) -> Self {
        let (hunting, limit) = (rates.hunting, limits.max_hunting);
        if rates.refused.low > limit {
            Self::OutOfReach
        } else if hunting.low > (HUNTS_FACTOR * limit).min(0.5) {
            Self::WillHunt
        } else if hunting.high > limit
            || rates.unsolved.low > limit
            || rates.refused.high > limit
            || rates.keep_out.high > limit
        {
            Self::AtRisk
        } else {
            Self::Safe
        }
    }
}

/// What a verdict goes by, from runs or from an exact solution.
#[derive(Debug, Clone, Copy)]
pub(super) struct VerdictRates {
    pub(super) hunting: Rate,
    pub(super) unsolved: Rate,
    pub(super) refused: Rate,
    pub(super) keep_out: Rate,
}

impl VerdictRates {
    pub(super) fn of(tally: &Tally) -> Self {
        let rate = |count| Rate::of(count, tally.trials);
        Self {
            hunting: rate(tally.hunting),
            unsolved: rate(tally.unsolved),
            refused: rate(tally.refused),
            keep_out: rate(tally.keep_out),
        }
    }

    fn of_summary(summary: &PolicySummary) -> Self {
        Self {
            hunting: summary.hunting,
            unsolved: summary.unsolved,
            refused: summary.refused,
            keep_out: summary.keep_out,
        }
    }

    pub(super) fn solved(solution: &Solution) -> Self {
        Self {
            hunting: Rate::bounded(solution.hunting),
            unsolved: Rate::bounded(solution.unsolved),
            refused: Rate::bounded(solution.refused),
            keep_out: Rate::bounded(solution.keep_out),
        }
    }
}

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
    /// Ping-pong, or out of solves.
    pub hunting: Rate,
    /// A command outside the stops.
    pub refused: Rate,
    /// A long swing or more, settled or not.
    pub swinging: Rate,
    /// Turned through a keep-out.
    pub keep_out: Rate,
    /// Share of the runs that hunt, do not settle, or turn through a keep-out.
    pub bad_share: f64,
    /// Mean time until the loop ends, settled or not \[s\]; `None` for a target out of reach.
    pub expected_time_s: Option<f64>,
    /// The mean true error of its settled runs is above the tolerance.
    pub settles_wrong: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, in one sentence.
    pub reason: String,
    /// All figures.
    pub summary: PolicySummary,
}

impl TargetReport {
    /// Share of the runs that hunt, are refused, or end on failed solves.
    #[must_use]
    pub fn failed_share(&self) -> f64 {
        (self.hunting.rate + self.refused.rate + self.summary.unsolved.rate).min(1.0)
    }

    /// The figures and the verdict; the reason is found later.
    pub(super) fn new(
        number: usize,
        target: &Target,
        scenario: &Scenario,
        summary: PolicySummary,
        tally: &Tally,
        limits: &Limits,
    ) -> Self {
        let rate = |count| Rate::of(count, tally.trials);
        let verdict = Verdict::of_summary(&summary, limits);
        Self {
            number,
            name: target.name.clone(),
            position_angle_deg: target.position_angle_deg,
            drive_deg: match scenario.brief().travel {
                Travel::Endless => on_dial(scenario.drive_angle_deg()),
                Travel::Stops { .. } => scenario.drive_angle_deg(),
            },
            seam_distance_deg: scenario.seam_distance_deg(),
            hunting: summary.hunting,
            refused: summary.refused,
            swinging: rate(tally.swinging),
            keep_out: summary.keep_out,
            bad_share: rate(tally.ended_badly).rate,
            expected_time_s: summary
                .elapsed_s
                .mean
                .filter(|_| verdict != Verdict::OutOfReach),
            settles_wrong: summary
                .true_error_deg
                .mean
                .is_some_and(|error_deg| error_deg > scenario.brief().tolerance_deg),
            verdict,
            reason: String::new(),
            summary,
        }
    }
}
