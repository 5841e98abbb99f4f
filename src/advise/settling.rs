//! The two questions that the search for settings asks of a loop, behind one trait: how likely does it settle
//! within so many solves, and how likely does a swing follow on a swing.

use std::cell::Cell;

use serde::{Deserialize, Serialize};

use crate::exact::{Bounded, NotHeld, Precision, Solution, solve_unless};
use crate::rig::Rig;
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, batch};
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
        Rate::of(count, trials).into()
    }
}

impl From<Rate> for Chance {
    fn from(Rate { rate, low, high }: Rate) -> Self {
        Self {
            value: rate,
            low,
            high,
        }
    }
}

impl From<Bounded> for Chance {
    fn from(p: Bounded) -> Self {
        Rate::bounded(p).into()
    }
}

/// The loop of a question, with so many good solves at most.
fn limited(rig: &Rig, policy: Policy, target_deg: f64, solves: u32) -> Result<Scenario, Cancelled> {
    // Fewer solves are always permitted.
    let rig = rig
        .with(|s| s.loop_.max_solves = solves.max(1))
        .map_err(|_| Cancelled)?;
    Ok(Scenario::new(&rig, policy, target_deg))
}

/// How answers were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FoundBy {
    /// All by solving the loop.
    Exact,
    /// All by running it.
    MonteCarlo,
    /// Some by each: the loop cannot be solved with every setting that was tried.
    Both,
}

impl FoundBy {
    /// The method for a sentence: "by the exact method".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Exact => "by the exact method",
            Self::MonteCarlo => "by running the loop",
            Self::Both => "partly by the exact method, partly by running the loop",
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
pub trait Settling {
    /// How the questions since the last call of this were answered.
    fn found_by(&self) -> FoundBy;

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
        let scenario = limited(rig, policy, target_deg, solves)?;
        let tally = batch(&scenario, self.plan, &Uncounted(self.monitor));
        if tally.trials == self.plan.trials {
            Ok(tally)
        } else {
            Err(Cancelled)
        }
    }
}

impl Settling for MonteCarlo<'_> {
    fn found_by(&self) -> FoundBy {
        FoundBy::MonteCarlo
    }

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

/// The answers by solving the loop, or by running it where it cannot be solved.
#[derive(Debug)]
pub struct Solved<'a> {
    precision: Precision,
    otherwise: MonteCarlo<'a>,
    /// Answers by solving and by running.
    answers: Cell<(u64, u64)>,
}

/// The coarse precision is good to about 1e-5; limits below this need the fine one.
const FINE_BELOW: f64 = 1e-4;

/// The precision of a search whose answers are held against probabilities from `least` on.
pub(super) fn precision_for(least: f64) -> Precision {
    if least < FINE_BELOW {
        Precision {
            most_work: Precision::SEARCH.most_work,
            ..Precision::FULL
        }
    } else {
        Precision::SEARCH
    }
}

impl<'a> Solved<'a> {
    /// `least` is the smallest probability that an answer will be held against.
    #[must_use]
    pub fn new(least: f64, otherwise: MonteCarlo<'a>) -> Self {
        Self {
            precision: precision_for(least),
            otherwise,
            answers: Cell::new((0, 0)),
        }
    }

    /// `None` where the loop cannot be solved.
    fn solution(
        &self,
        rig: &Rig,
        policy: Policy,
        target_deg: f64,
        solves: u32,
    ) -> Result<Option<Solution>, Cancelled> {
        if self.otherwise.monitor.cancelled() {
            return Err(Cancelled);
        }
        let scenario = limited(rig, policy, target_deg, solves)?;
        let stopped = || self.otherwise.monitor.cancelled();
        let solution = match solve_unless(&scenario, self.precision, &stopped) {
            Err(NotHeld::Stopped) => return Err(Cancelled),
            found => found.ok(),
        };
        let (solved, run) = self.answers.get();
        self.answers.set(match solution {
            Some(_) => (solved + 1, run),
            None => (solved, run + 1),
        });
        Ok(solution)
    }
}

impl Settling for Solved<'_> {
    fn found_by(&self) -> FoundBy {
        match self.answers.replace((0, 0)) {
            (_, 0) => FoundBy::Exact,
            (0, _) => FoundBy::MonteCarlo,
            _ => FoundBy::Both,
        }
    }

    fn settled_within(
        &self,
        rig: &Rig,
        policy: Policy,
        target_deg: f64,
        solves: u32,
    ) -> Result<Chance, Cancelled> {
        match self.solution(rig, policy, target_deg, solves)? {
            Some(solution) => Ok(solution.settled.into()),
            None => self
                .otherwise
                .settled_within(rig, policy, target_deg, solves),
        }
    }

    fn hunting(&self, rig: &Rig, policy: Policy, target_deg: f64) -> Result<Hunting, Cancelled> {
        let solves = rig.settings().loop_.max_solves.min(ENOUGH_SOLVES);
        let Some(solution) = self.solution(rig, policy, target_deg, solves)? else {
            return self.otherwise.hunting(rig, policy, target_deg);
        };
        Ok(Hunting {
            ping_pong: solution.ping_pong.into(),
            persistence: followed(&solution),
        })
    }
}

/// The chance that a swing is followed by another: of all swings, those that are not the first of a run, which
/// are as many as those that another one followed on. `None` where there are no swings beyond the error.
fn followed(solution: &Solution) -> Option<Chance> {
    let swings = solution.long_swings.mean;
    let first = 1.0 - solution.long_swings_shares.first().copied().unwrap_or(1.0);
    let least = swings.value - swings.bound;
    if least <= 0.0 {
        return None;
    }
    // Runs without a swing are known as well as the mean number of swings.
    let of = |first: f64, swings: f64| (1.0 - first / swings).clamp(0.0, 1.0);
    Some(Chance {
        value: of(first, swings.value),
        low: of(first + swings.bound, least),
        high: of((first - swings.bound).max(0.0), swings.value + swings.bound),
    })
}
