//! One rig judged at every target, by solving its loop where that is possible, else by running it.

use rayon::prelude::*;

use super::super::list::settled_within;
use super::super::settling::precision_for;
use super::super::verdict::{Verdict, VerdictRates};
use super::super::{AdviseError, Request, complete_batch};
use super::draws::Drawn;
use crate::exact::{NotHeld, Solution, solve_unless};
use crate::rig::Rig;
use crate::sample::{Cancelled, Monitor};
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::Rate;

/// A target under a drawn rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Judged {
    /// Its verdict is safe.
    pub(super) safe: bool,
    /// It settles within the wished number of solves as often as wished.
    pub(super) in_time: bool,
    /// Share of the runs that hunt.
    pub(super) hunting: f64,
    /// Found without sampling.
    pub(super) solved: bool,
}

/// What is judged, and by what.
pub(super) struct Court<'a> {
    pub(super) targets: &'a [Target],
    pub(super) request: Request,
    pub(super) monitor: &'a dyn Monitor,
}

impl Court<'_> {
    /// Every target under every drawn rig with the settings of `advised`: a list for each rig.
    pub(super) fn judge(&self, drawn: &[Drawn], advised: &Rig) -> Result<Lists, AdviseError> {
        drawn
            .par_iter()
            .map(|drawn| {
                let rig = drawn.with_settings_of(advised)?;
                let judged = self.targets.iter().map(|target| self.one(&rig, target));
                Ok(judged.collect::<Result<_, _>>()?)
            })
            .collect()
    }

    /// How many of the drawn rigs have a target that is not safe with the settings of `advised`.
    pub(super) fn failures(&self, drawn: &[&Drawn], advised: &Rig) -> Result<u64, AdviseError> {
        let failed = drawn.par_iter().map(|drawn| {
            let rig = drawn.with_settings_of(advised)?;
            for target in self.targets {
                if !self.one(&rig, target)?.safe {
                    return Ok(1);
                }
            }
            Ok(0)
        });
        failed.sum()
    }

    fn one(&self, rig: &Rig, target: &Target) -> Result<Judged, Cancelled> {
        if self.monitor.cancelled() {
            return Err(Cancelled);
        }
        let (limits, wishes) = (&self.request.limits, &self.request.wishes);
        let most = rig.settings().loop_.max_solves;
        let scenario = Scenario::new(rig, Policy::of(rig), target.position_angle_deg);
        let least = limits.max_hunting.min(1.0 - wishes.settle_chance);
        let stopped = || self.monitor.cancelled();
        let solution = solve_unless(&scenario, precision_for(least), &stopped);
        let (rates, in_time, solved) = match solution {
            Ok(solution) => {
                self.monitor.done(self.request.batch.trials);
                let in_time = solved_within(&solution, most, wishes.max_solves);
                (VerdictRates::solved(&solution), in_time, true)
            }
            Err(NotHeld::Stopped) => return Err(Cancelled),
            Err(_) => {
                let tally = complete_batch(&scenario, self.request.batch, self.monitor)?;
                let settled = settled_within(&tally, most, wishes.max_solves);
                let in_time = Rate::of(settled, tally.trials).low;
                (VerdictRates::of(&tally), in_time, false)
            }
        };
        Ok(Judged {
            safe: Verdict::of_rates(&rates, limits) == Verdict::Safe,
            in_time: in_time >= wishes.settle_chance,
            hunting: rates.hunting.rate,
            solved,
        })
    }
}

/// A list of judged targets for each drawn rig.
pub(super) type Lists = Vec<Vec<Judged>>;

/// The least probability to settle within so many solves, as [`settled_within`] counts it.
fn solved_within(solution: &Solution, max_solves: u32, within: u32) -> f64 {
    let ended: f64 = solution
        .solves_shares
        .iter()
        .take(within as usize + 1)
        .sum();
    let unsettled = if max_solves <= within {
        solution.unsettled.value
    } else {
        0.0
    };
    let otherwise = solution.unsolved.value + solution.refused.value + unsettled;
    let bound = solution.settled.bound;
    (ended - otherwise).min(solution.settled.value) - bound
}
