//! The two questions that the search for settings asks of a loop, behind one trait: how likely does it settle
//! within so many solves, and how likely does a swing follow on a swing.

use serde::Serialize;

use crate::rig::Rig;
use crate::sample::{Batch, Cancelled, Monitor, batch};
use crate::scenario::{Policy, Scenario};
use crate::summary::Rate;
use crate::tally::Tally;

/// Solves after which a hunting loop has shown what it does.
const ENOUGH_SOLVES: u32 = 24;

/// A probability and what bounds it; the three are equal where it was found without sampling.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Chance {
    /// The best estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Chance {
    fn of(count: u64, trials: u64) -> Self {
        let Rate { rate, low, high } = Rate::of(count, trials);
        Self {
            value: rate,
            low,
            high,
        }
    }
}

/// How a loop hunts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Hunting {
    /// Two long swings or more in a run.
    pub ping_pong: Chance,
    /// Another long swing follows on one; `None` where there was none to follow on.
    pub persistence: Option<Chance>,
}

/// Answers the questions. The settings of the rig hold but for the policy and what a question names.
pub trait Settling: Sync {
    /// The chance that a run at a target \[deg\] settles within so many good solves.
    ///
    /// # Errors
    /// [`Cancelled`] when stopped.
    fn settled_within(
        &self,
        rig: &Rig,
        policy: Policy,
        target_deg: f64,
        solves: u32,
    ) -> Result<Chance, Cancelled>;

    /// How a run at a target \[deg\] hunts.
    ///
    /// # Errors
    /// [`Cancelled`] when stopped.
    fn hunting(&self, rig: &Rig, policy: Policy, target_deg: f64) -> Result<Hunting, Cancelled>;
}

/// The answers by running the loop.
pub struct MonteCarlo<'a> {
    /// Runs for every answer.
    pub plan: Batch,
    /// Who can stop it.
    pub monitor: &'a dyn Monitor,
}

impl std::fmt::Debug for MonteCarlo<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("MonteCarlo")
            .field("plan", &self.plan)
            .finish_non_exhaustive()
    }
}

impl MonteCarlo<'_> {
    fn tally(
        &self,
        rig: &Rig,
        policy: Policy,
        target_deg: f64,
        solves: u32,
    ) -> Result<Tally, Cancelled> {
        // Fewer solves are always permitted.
        let rig = rig
            .with(|s| s.loop_.max_solves = solves.max(1))
            .map_err(|_| Cancelled)?;
        let scenario = Scenario::new(&rig, policy, target_deg);
        let tally = batch(&scenario, self.plan, &Uncounted(self.monitor));
        if tally.trials == self.plan.trials {
            Ok(tally)
        } else {
            Err(Cancelled)
        }
    }
}

impl Settling for MonteCarlo<'_> {
    fn settled_within(
        &self,
        rig: &Rig,
        policy: Policy,
        target_deg: f64,
        solves: u32,
    ) -> Result<Chance, Cancelled> {
        let tally = self.tally(rig, policy, target_deg, solves)?;
        Ok(Chance::of(tally.settled, tally.trials))
    }

    fn hunting(&self, rig: &Rig, policy: Policy, target_deg: f64) -> Result<Hunting, Cancelled> {
        let solves = rig.settings().loop_.max_solves.min(ENOUGH_SOLVES);
        let tally = self.tally(rig, policy, target_deg, solves)?;
        // Of all swings, those that another one followed on: all but the last of each run. A run that is cut
        // after its last solve may have had one more, so this is a little low.
        let swings = tally.long_swings.moments();
        let swings = (swings.mean().unwrap_or(0.0) * swings.count() as f64).round() as u64;
        let followed = swings - tally.swinging.min(swings);
        Ok(Hunting {
            ping_pong: Chance::of(tally.ping_pong, tally.trials),
            persistence: (swings > 0).then(|| Chance::of(followed, swings)),
        })
    }
}

/// The runs of a search are not counted as progress, but can be stopped.
pub(super) struct Uncounted<'a>(pub(super) &'a dyn Monitor);

impl Monitor for Uncounted<'_> {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}
