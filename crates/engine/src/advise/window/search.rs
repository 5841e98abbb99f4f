//! The search for the smallest tolerance that serves.

use rayon::prelude::*;

use super::low::lowest_deg;
use crate::advise::list::{ListJudge, Settling};
use crate::rig::Rig;
use crate::sample::Cancelled;
use crate::scenario::Policy;

/// The search for a lower end.
pub(super) struct WindowSearch<'a> {
    pub(super) policy: Policy,
    /// Places in the list of the targets to try; the one that failed last stands first.
    pub(super) order: Vec<usize>,
    pub(super) list: &'a ListJudge<'a>,
    /// Answers found by solving, and all.
    pub(super) solved: u64,
    pub(super) asked: u64,
}

impl WindowSearch<'_> {
    /// The smallest tolerance with which every tried target settles in time and does not hunt: that of the first, raised for
    /// every other that asks for more. The target that asks for most stands first then.
    pub(super) fn lowest(
        &mut self,
        rig: &Rig,
        guess_deg: f64,
        most_deg: f64,
    ) -> Result<Option<f64>, Cancelled> {
        let mut low_deg = None;
        for k in 0..self.order.len() {
            let from_deg = low_deg.unwrap_or(guess_deg);
            let place = self.order[k];
            if let Some(low_deg) = low_deg
                && let Ok(rig) = rig.with(|s| s.loop_.tolerance_deg = low_deg)
                && self.serves(&rig, place)?.fine
            {
                continue;
            }
            self.order[..=k].rotate_right(1);
            low_deg = lowest_deg(rig, from_deg, most_deg, &mut |rig| self.serves(rig, place))?;
            let Some(low_deg) = low_deg else {
                return Ok(None);
            };
            self.judge_ahead(rig, low_deg, k + 1)?;
        }
        Ok(low_deg)
    }

    /// Lets the list judge the targets from a place on side by side, and remember them. Mostly the first to ask for a tolerance
    /// asks for most, and the others are judged at no other.
    fn judge_ahead(&self, rig: &Rig, low_deg: f64, from: usize) -> Result<(), Cancelled> {
        let Ok(rig) = rig.with(|s| s.loop_.tolerance_deg = low_deg) else {
            return Ok(());
        };
        let later = self.order[from..].par_iter();
        later.try_for_each(|place| {
            let target = &self.list.targets[*place];
            self.list.settles(&rig, self.policy, target).map(|_| ())
        })
    }

    pub(super) fn all_serve(&mut self, rig: &Rig) -> Result<bool, Cancelled> {
        for k in 0..self.order.len() {
            if !self.serves(rig, self.order[k])?.fine {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// A target settles in time, and does not hunt.
    fn serves(&mut self, rig: &Rig, place: usize) -> Result<Settling, Cancelled> {
        let target = &self.list.targets[place];
        let found = self.list.settles(rig, self.policy, target)?;
        self.asked += u64::from(found.solved.is_some());
        self.solved += u64::from(found.solved == Some(true));
        Ok(found)
    }
}
