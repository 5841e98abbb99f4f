//! The shortest list of moves and solves that tells everything to a wanted accuracy.
//!
//! A plan is one sweep up and one down, so that the drive turns back once and ends where it began. What each stop
//! tells about the parameters is known beforehand from the model (Fisher information); stops are added one by one where
//! they lower the scaled sum of variances most for their time (A-optimality, Atkinson, Donev & Tobias 2007, "Optimum
//! Experimental Designs", chapters 10 and 12), then exchanged and dropped as long as the wanted accuracy holds.

mod design;
mod sweep;

pub use sweep::free_arc_deg;

use super::rehearse::PlanStep;
use crate::rig::Rig;
use design::{Design, Stop};
use sweep::{candidates, lead_deg, steps, time_s};

/// Most stops of a plan: beyond, the accuracy cannot be had.
const MOST_STOPS: usize = 400;

/// What a plan is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Half the width of the 95 % interval of every error of the mechanics \[deg\]; of the gain error, over half a turn.
    pub accuracy_deg: f64,
    /// Lowest reading \[deg\].
    pub from_deg: f64,
    /// Highest reading \[deg\].
    pub to_deg: f64,
    /// What is to be known so well.
    pub goal: Goal,
}

/// What a plan makes known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Every error by itself.
    Errors,
    /// The position angle at every reading of the arc, and the play. Over part of a turn this takes far fewer solves: errors that
    /// look alike there need not be told apart.
    Angles,
}

/// A list of moves and solves.
#[derive(Debug, Clone, PartialEq)]
pub struct FitPlan {
    /// The moves in their order.
    pub steps: Vec<PlanStep>,
    /// Time that it takes \[s\].
    pub time_s: f64,
    /// Half the width that the widest 95 % interval of the mechanics will have \[deg\].
    pub accuracy_deg: f64,
}

impl FitPlan {
    /// Number of solves.
    #[must_use]
    pub fn solves(&self) -> u32 {
        self.steps.iter().map(|s| s.solves).sum()
    }
}

/// Why there is no plan.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The range of readings is too small.
    #[error("the readings from {from_deg} to {to_deg} deg leave no room for a sweep")]
    NoRoom {
        /// Lowest reading \[deg\].
        from_deg: f64,
        /// Highest reading \[deg\].
        to_deg: f64,
    },
    /// The accuracy takes too many solves.
    #[error(
        "an accuracy of {accuracy_deg} deg is out of reach: {stops} stops from {from_deg} to {to_deg} deg reach {reached_deg:.3} deg. A wider arc tells more than more solves"
    )]
    OutOfReach {
        /// What was wanted \[deg\].
        accuracy_deg: f64,
        /// What can be had \[deg\].
        reached_deg: f64,
        /// With so many stops.
        stops: usize,
        /// Lowest reading \[deg\].
        from_deg: f64,
        /// Highest reading \[deg\].
        to_deg: f64,
    },
}

/// Finds a plan.
///
/// # Errors
/// [`PlanError`].
pub fn plan(rig: &Rig, wanted: Wanted) -> Result<FitPlan, PlanError> {
    let s = rig.settings();
    let design = Design::of(s, wanted);
    let lead = lead_deg(s);
    let (low, high) = (wanted.from_deg + lead, wanted.to_deg - lead);
    if high - low < lead {
        return Err(PlanError::NoRoom {
            from_deg: wanted.from_deg,
            to_deg: wanted.to_deg,
        });
    }
    let candidates = candidates((low, high));
    let mut stops: Vec<Stop> = Vec::new();
    let mut information = design.nothing();
    while !design.excess(&information).done() {
        let before = design.excess(&information).sum();
        let gain = |stop: &Stop| {
            let mut with = information.clone();
            design.add(&mut with, stop);
            (before - design.excess(&with).sum()) / design.cost_s(stop)
        };
        let free = candidates
            .iter()
            .filter(|c| !stops.iter().any(|s| s.at_deg == c.at_deg && s.up == c.up));
        let best = free.max_by(|a, b| gain(a).total_cmp(&gain(b)));
        let Some(best) = best.filter(|_| stops.len() < MOST_STOPS) else {
            return Err(PlanError::OutOfReach {
                accuracy_deg: wanted.accuracy_deg,
                reached_deg: design.reached_deg(&information),
                stops: stops.len(),
                from_deg: wanted.from_deg,
                to_deg: wanted.to_deg,
            });
        };
        design.add(&mut information, best);
        stops.push(*best);
    }
    while let Some(fewer) = improved(&design, &stops, &candidates) {
        stops = fewer;
    }
    Ok(finished(rig, &design, stops, wanted))
}

/// The plain way, for comparison: evenly spaced stops up and down, each solved twice, as many as it takes.
///
/// # Errors
/// [`PlanError::OutOfReach`].
pub fn naive_sweep(rig: &Rig, wanted: Wanted) -> Result<FitPlan, PlanError> {
    let s = rig.settings();
    let design = Design::of(s, wanted);
    let lead = lead_deg(s);
    let (low, high) = (wanted.from_deg + lead, wanted.to_deg - lead);
    let mut information = design.nothing();
    for count in 2..=MOST_STOPS {
        let at = |i: usize| low + (high - low) * i as f64 / (count - 1) as f64;
        let sweep = |up| {
            (0..count).map(move |i| Stop {
                at_deg: at(i),
                up,
                solves: 2,
            })
        };
        let stops: Vec<Stop> = sweep(true).chain(sweep(false)).collect();
        information = design.total(&stops);
        if design.excess(&information).done() {
            return Ok(finished(rig, &design, stops, wanted));
        }
    }
    Err(PlanError::OutOfReach {
        accuracy_deg: wanted.accuracy_deg,
        reached_deg: design.reached_deg(&information),
        stops: 2 * MOST_STOPS,
        from_deg: wanted.from_deg,
        to_deg: wanted.to_deg,
    })
}

/// The same plan with a stop or a solve less, perhaps after an exchange.
fn improved(design: &Design<'_>, stops: &[Stop], candidates: &[Stop]) -> Option<Vec<Stop>> {
    let without = |i: usize| -> Vec<Stop> {
        let others = stops.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, s)| *s).collect()
    };
    let mut order: Vec<(usize, f64)> = (0..stops.len())
        .map(|i| (i, design.excess(&design.total(&without(i))).sum()))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (i, _) in &order {
        let mut fewer = without(*i);
        if design.excess(&design.total(&fewer)).done() {
            return Some(fewer);
        }
        if stops[*i].solves > 1 {
            let solves = stops[*i].solves - 1;
            fewer.push(Stop {
                solves,
                ..stops[*i]
            });
            if design.excess(&design.total(&fewer)).done() {
                return Some(fewer);
            }
        }
    }
    // Two for one: the best replacement of one stop may make another superfluous.
    for (i, _) in order.iter().take(8) {
        let rest = without(*i);
        for (j, _) in order.iter().take(8).filter(|(j, _)| j != i) {
            let fewer: Vec<Stop> = rest.iter().copied().filter(|s| *s != stops[*j]).collect();
            let base = design.total(&fewer);
            let found = candidates.iter().find(|c| {
                let taken = fewer.iter().any(|s| s.at_deg == c.at_deg && s.up == c.up);
                let mut with = base.clone();
                design.add(&mut with, c);
                let saved = design.cost_s(&stops[*i]) + design.cost_s(&stops[*j]);
                !taken && design.cost_s(c) < saved && design.excess(&with).done()
            });
            if let Some(found) = found {
                return Some(fewer.into_iter().chain([*found]).collect());
            }
        }
    }
    None
}

/// The stops as moves in their order, with what they take and reach.
fn finished(rig: &Rig, design: &Design<'_>, stops: Vec<Stop>, wanted: Wanted) -> FitPlan {
    let accuracy_deg = design.reached_deg(&design.total(&stops));
    let steps = steps(rig, stops, wanted);
    FitPlan {
        time_s: time_s(rig, &steps),
        steps,
        accuracy_deg,
    }
}
