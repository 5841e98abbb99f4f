//! The shortest list of moves and solves that tells the errors of a rig to a wanted accuracy.
//!
//! A plan is one sweep up and one down: the drive turns back once and ends where it began. The model says beforehand
//! what each stop tells about the parameters (Fisher information). The search adds the stops, one by one, that lower
//! the scaled sum of variances most for their time (A-optimality, Atkinson, Donev & Tobias 2007, "Optimum
//! Experimental Designs", chapters 10 and 12). Then it exchanges and drops stops while the wanted accuracy holds.

mod design;
mod error;
mod range;
mod room;
mod sweep;
#[cfg(test)]
mod tests;
mod wanted;

pub use error::FitPlanError;
pub use range::{Range, RangeEnd, RangeLimit};
pub use wanted::{Goal, Wanted};

use super::rehearse::PlanStep;
use crate::angle::AngleSpan;
use crate::rig::{Rig, RigSettings};
use design::{Design, Information, Stop};
use room::Room;
use sweep::{MOST_SOLVES, candidates, lead_deg, steps, time_s};

/// Most stops in each direction of the plain sweep.
const MOST_PLAIN_STOPS: usize = 400;

/// A list of moves and solves.
#[derive(Debug, Clone, PartialEq)]
pub struct FitPlan {
    /// The moves in their order.
    pub steps: Vec<PlanStep>,
    /// Time of all moves and solves \[s\], without failed solves.
    pub time_s: f64,
    /// Half width of the widest 95 % interval of the mechanics that the plan will give \[deg\].
    pub accuracy_deg: f64,
    /// The readings between which the drive sweeps.
    pub range: Range,
}

impl FitPlan {
    /// Number of solves.
    #[must_use]
    pub fn solves(&self) -> u32 {
        self.steps.iter().map(|s| s.solves).sum()
    }
}

/// Finds a plan.
///
/// # Errors
/// [`FitPlanError`] if no plan is possible or none reaches the accuracy.
pub fn plan(rig: &Rig, wanted: Wanted) -> Result<FitPlan, FitPlanError> {
    let s = rig.settings();
    let room = Room::of(rig, wanted)?;
    let range = room.range;
    let design = Design::of(s, wanted, range);
    let candidates = candidates(swept(s, range)?);
    let most = candidates.iter().filter(|c| c.solves == MOST_SOLVES);
    let most: Vec<Stop> = most.copied().collect();
    let out_of_reach = |all: &Information| FitPlanError::OutOfReach {
        accuracy_deg: wanted.accuracy_deg,
        reached_deg: design.reached_deg(all),
        range,
    };
    let all = design.total(&most);
    if !design.is_enough(&all) {
        return Err(out_of_reach(&all));
    }
    let mut stops: Vec<Stop> = Vec::new();
    let mut information = design.nothing();
    while !design.is_enough(&information) {
        let before = design.excess(&information).sum();
        let gain = |stop: &Stop| {
            let mut with = information.clone();
            design.add(&mut with, stop);
            (before - design.excess(&with).sum()) / design.cost_s(stop)
        };
        let free = candidates
            .iter()
            .filter(|c| !stops.iter().any(|s| s.at_deg == c.at_deg && s.up == c.up));
        let gains = free.map(|stop| (gain(stop), stop));
        let Some((_, best)) = gains.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            if wanted.goal == Goal::Errors {
                // The errors are not worth this many solves.
                return Err(out_of_reach(&information));
            }
            stops = most;
            break;
        };
        design.add(&mut information, best);
        stops.push(*best);
    }
    while let Some(fewer) = improved(&design, &stops, &candidates) {
        stops = fewer;
    }
    Ok(finished(rig, &design, stops, room))
}

/// Where stops may be: readings that a sweep reaches with the backlash taken up.
fn swept(s: &RigSettings, range: Range) -> Result<AngleSpan, FitPlanError> {
    let lead = lead_deg(s);
    let (low, high) = (range.from.at_deg + lead, range.to.at_deg - lead);
    if high - low < lead {
        return Err(FitPlanError::NoRoom { range });
    }
    Ok(AngleSpan::new(low, high))
}

/// The plain plan, for comparison: evenly spaced stops up and down, each solved twice, as many as the accuracy needs.
///
/// # Errors
/// [`FitPlanError`] if no plan is possible or none reaches the accuracy.
pub fn naive_sweep(rig: &Rig, wanted: Wanted) -> Result<FitPlan, FitPlanError> {
    let s = rig.settings();
    let room = Room::of(rig, wanted)?;
    let range = room.range;
    let design = Design::of(s, wanted, range);
    let swept = swept(s, range)?;
    let mut information = design.nothing();
    for count in 2..=MOST_PLAIN_STOPS {
        let width_deg = swept.to_deg - swept.from_deg;
        let at = |i: usize| swept.from_deg + width_deg * i as f64 / (count - 1) as f64;
        let sweep = |up| {
            (0..count).map(move |i| Stop {
                at_deg: at(i),
                up,
                solves: 2,
            })
        };
        let stops: Vec<Stop> = sweep(true).chain(sweep(false)).collect();
        information = design.total(&stops);
        if design.is_enough(&information) {
            return Ok(finished(rig, &design, stops, room));
        }
    }
    Err(FitPlanError::OutOfReach {
        accuracy_deg: wanted.accuracy_deg,
        reached_deg: design.reached_deg(&information),
        range,
    })
}

/// The plan with one stop or solve less, perhaps after an exchange; `None` if the accuracy would be lost.
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
        if design.is_enough(&design.total(&fewer)) {
            return Some(fewer);
        }
        if stops[*i].solves > 1 {
            let solves = stops[*i].solves - 1;
            fewer.push(Stop {
                solves,
                ..stops[*i]
            });
            if design.is_enough(&design.total(&fewer)) {
                return Some(fewer);
            }
        }
    }
    // Two for one: the best replacement of one stop may make another one needless.
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
                !taken && design.cost_s(c) < saved && design.is_enough(&with)
            });
            if let Some(found) = found {
                return Some(fewer.into_iter().chain([*found]).collect());
            }
        }
    }
    None
}

/// The stops as moves in their order, with the time and accuracy of the plan.
fn finished(rig: &Rig, design: &Design<'_>, stops: Vec<Stop>, room: Room) -> FitPlan {
    let accuracy_deg = design.reached_deg(&design.total(&stops));
    let steps = steps(rig, stops, room);
    FitPlan {
        time_s: time_s(rig, &steps),
        steps,
        accuracy_deg,
        range: room.range,
    }
}
