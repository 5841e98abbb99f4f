//! The proof: the advised rig run at every target under random numbers that nothing else has seen.

use rayon::prelude::*;

use super::setting::Setting;
use crate::rig::Rig;
use crate::sample::{Batch, Cancelled, Monitor, run_batch};
use crate::scenario::{Policy, Target};
use crate::summary::{PolicySummary, Rate};
use crate::verdict::{Fault, Limits};

/// Keeps the runs of the proof apart from all others.
const STREAMS: u64 = 0x9b05_688c_2b3e_6c1f;

/// Deviations by which a share of runs may differ from the judged one: with a million comparisons one in thirty is
/// expected to differ by more.
const DEVIATIONS: f64 = 5.5;

/// Runs of the advised rig, and whether they bear out what was judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Runs for every target.
    pub trials: u64,
    /// Seed that they follow from.
    pub seed: u64,
    /// Hunting at the target with the most of it.
    pub hunting: Rate,
    /// Runs that settle within the wished number of solves, at the target with the fewest.
    pub in_time: Rate,
    /// Targets at which the runs contradict the verdict, by their place in the list.
    pub contradicted: Vec<usize>,
}

impl Proof {
    /// Runs the rig of a setting.
    pub(super) fn run(
        rig: &Rig,
        targets: &[Target],
        setting: &Setting,
        batch: Batch,
        monitor: &dyn Monitor,
    ) -> Result<Self, Cancelled> {
        let policy = Policy::of(rig);
        let own = Batch {
            seed: batch.seed ^ STREAMS,
            ..batch
        };
        let summaries = targets
            .par_iter()
            .map(|target| {
                let tally = run_batch(&target.scenario(rig, policy), own, monitor);
                let whole = tally.trials == own.trials;
                whole
                    .then(|| PolicySummary::of(policy, &tally))
                    .ok_or(Cancelled)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let limits = setting.limits;
        let pairs = || summaries.iter().zip(&setting.targets);
        let worst = |of: fn(&PolicySummary, &Limits) -> Rate, worse: fn(f64, f64) -> bool| {
            let rates = summaries.iter().map(|s| of(s, &limits));
            rates.reduce(|a, b| if worse(b.rate, a.rate) { b } else { a })
        };
        let contradicts = |(runs, report): (&PolicySummary, &super::TargetReport)| {
            Fault::ALL.iter().copied().any(|fault| {
                let judged = fault.share(&report.summary, &limits);
                let found = fault.share(runs, &limits).rate;
                let p = judged.high.clamp(1.0 / own.trials as f64, 1.0);
                // Where the judged share is itself from runs, both have their luck.
                let n = match report.summary.trials {
                    0 => own.trials,
                    judged => own.trials.min(judged),
                };
                let deviation = (p * (1.0 - p) / n as f64).sqrt() + 1.0 / n as f64;
                found > judged.high + DEVIATIONS * deviation
            })
        };
        let contradicted = pairs().enumerate().filter(|(_, pair)| contradicts(*pair));
        Ok(Self {
            trials: own.trials,
            seed: batch.seed,
            hunting: worst(|s, _| s.hunting, |a, b| a > b).unwrap_or(Rate::of(0, 1)),
            in_time: worst(|s, l| s.settled_by.rate(l.max_solves), |a, b| a < b)
                .unwrap_or(Rate::of(1, 1)),
            contradicted: contradicted.map(|(i, _)| i).collect(),
        })
    }

    /// No target's runs contradict its verdict.
    #[must_use]
    pub fn bears_out(&self) -> bool {
        self.contradicted.is_empty()
    }
}
