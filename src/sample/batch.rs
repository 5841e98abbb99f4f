//! A batch of runs over all cores, the same bits whatever their number.

use rayon::prelude::*;

use crate::run::{Figures, run_block};
use crate::scenario::Scenario;
use crate::tally::Tally;

/// Runs that are tallied one after another. Part of the result: sums depend on it in the last digits.
const BLOCK: u64 = 4096;

/// Blocks between two looks at the monitor.
const WAVE: u64 = 16;

/// How many runs, under which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Runs.
    pub trials: u64,
    /// Seed; run `i` draws from the stream `(seed, i)`.
    pub seed: u64,
}

/// Told of the progress of long work, and asked whether to go on.
pub trait Monitor: Sync {
    /// So many more runs are done.
    fn done(&self, runs: u64);

    /// The user wants to stop.
    fn cancelled(&self) -> bool;
}

/// Nobody is told and nobody stops.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unattended;

impl Monitor for Unattended {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        false
    }
}

/// The work was stopped before its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before the end")]
pub struct Cancelled;

/// Runs the batch on the thread pool of the caller. When cancelled, the tally holds the runs from the
/// first up to some number: `trials` says how many.
#[must_use]
pub fn batch(scenario: &Scenario, plan: Batch, monitor: &dyn Monitor) -> Tally {
    let mut tally = Tally::default();
    let blocks = plan.trials.div_ceil(BLOCK);
    let mut next = 0;
    while next < blocks && !monitor.cancelled() {
        let wave = next..blocks.min(next + WAVE);
        next = wave.end;
        let parts: Vec<Tally> = wave
            .into_par_iter()
            .map(|number| {
                let part = block(scenario, plan, number);
                monitor.done(part.trials);
                part
            })
            .collect();
        for part in &parts {
            tally.merge(part);
        }
    }
    tally
}

fn block(scenario: &Scenario, plan: Batch, number: u64) -> Tally {
    let first = number * BLOCK;
    let count = BLOCK.min(plan.trials - first) as usize;
    let mut figures = vec![Figures::start(); count];
    run_block(scenario, plan.seed, first, &mut figures);
    let mut tally = Tally::default();
    for (index, figures) in (first..).zip(&figures) {
        tally.push(index, figures);
    }
    tally
}
