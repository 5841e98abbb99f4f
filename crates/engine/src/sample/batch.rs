//! A batch of runs over all cores, with the same bits for any number of cores.

use rayon::prelude::*;

use crate::run::{Figures, run_block_unless};
use crate::scenario::Scenario;
use crate::tally::{PairTally, Tally};

/// Number of runs that share the lanes.
const BLOCK: u64 = 4096;

/// Most blocks in a strip.
const MOST_BLOCKS: u64 = 64;

/// Strips in a batch, roughly. Every core gets some, and merging them costs almost nothing.
const STRIPS: u64 = 16;

/// Strips per thread between two merges. All threads wait at a merge, so one strip each would leave most of them idle
/// until the slowest is done.
const WAVE: u64 = 8;

/// Which runs of a seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Number of runs.
    pub trials: u64,
    /// Seed; run `i` draws from the stream `(seed, i)`.
    pub seed: u64,
}

/// Hears of the progress of long work, and says whether to stop.
pub trait Monitor: Sync {
    /// This many more runs are done.
    fn done(&self, runs: u64);

    /// Whether the user wants to stop.
    fn cancelled(&self) -> bool;
}

/// A monitor that reports nothing and never cancels.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unattended;

impl Monitor for Unattended {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        false
    }
}

/// Passes a stop on but counts nothing, for work that the shown progress leaves out.
#[derive(Clone, Copy)]
#[expect(missing_debug_implementations, reason = "a monitor has none")]
pub struct Uncounted<'a>(pub &'a dyn Monitor);

impl Monitor for Uncounted<'_> {
    fn done(&self, _: u64) {}

    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}

/// The work was stopped before its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before the end")]
pub struct Cancelled;

/// Several policies at one target on the same random streams.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Comparison {
    /// One tally for every scenario, in their order.
    pub tallies: Vec<Tally>,
    /// For every scenario but the first, its differences from the first, run by run.
    pub pairs: Vec<PairTally>,
}

impl Comparison {
    fn of(scenarios: usize) -> Self {
        Self {
            tallies: vec![Tally::default(); scenarios],
            pairs: vec![PairTally::default(); scenarios.saturating_sub(1)],
        }
    }

    /// Adds the runs that follow these.
    pub fn merge(&mut self, later: &Self) {
        for (mine, theirs) in self.tallies.iter_mut().zip(&later.tallies) {
            mine.merge(theirs);
        }
        for (mine, theirs) in self.pairs.iter_mut().zip(&later.pairs) {
            mine.merge(theirs);
        }
    }

    /// Runs of each scenario.
    #[must_use]
    pub fn trials(&self) -> u64 {
        self.tallies.first().map_or(0, |t| t.trials)
    }
}

/// Runs the batch on the caller's thread pool. After a stop the tally holds an unbroken part from the first run on,
/// and its `trials` says how many.
#[must_use]
pub fn run_batch(scenario: &Scenario, batch: Batch, monitor: &dyn Monitor) -> Tally {
    compare(std::slice::from_ref(scenario), batch, monitor)
        .tallies
        .pop()
        .expect("one tally for the one scenario")
}

/// Runs several scenarios on the same streams, otherwise like [`run_batch`].
#[must_use]
pub fn compare(scenarios: &[Scenario], batch: Batch, monitor: &dyn Monitor) -> Comparison {
    compare_from(scenarios, 0, batch, monitor)
}

/// Like [`compare`], for the runs `first` to `first + batch.trials - 1`.
#[must_use]
pub fn compare_from(
    scenarios: &[Scenario],
    first: u64,
    batch: Batch,
    monitor: &dyn Monitor,
) -> Comparison {
    // Sums depend on the length of a strip in their last digits. The length therefore follows from the number of runs
    // alone.
    let strip = batch
        .trials
        .div_ceil(STRIPS)
        .div_ceil(BLOCK)
        .clamp(1, MOST_BLOCKS)
        * BLOCK;
    let strips = batch.trials.div_ceil(strip);
    let mut all = Comparison::of(scenarios.len());
    let mut next = 0;
    while next < strips {
        let wave = next..strips.min(next + WAVE * rayon::current_num_threads() as u64);
        next = wave.end;
        let begun = wave.clone();
        let parts: Vec<Comparison> = wave
            .into_par_iter()
            .map_init(
                || vec![vec![Figures::start(); BLOCK.min(batch.trials) as usize]; scenarios.len()],
                |figures, number| {
                    let begin = number * strip;
                    let runs = begin..batch.trials.min(begin.saturating_add(strip));
                    strip_of(scenarios, batch.seed, first, runs, figures, monitor)
                },
            )
            .collect();
        for (number, part) in begun.zip(&parts) {
            all.merge(part);
            let wanted = batch.trials.min((number + 1).saturating_mul(strip));
            if all.trials() < wanted {
                return all; // cancelled: what follows is not in one piece with this
            }
        }
    }
    all
}

/// One strip of runs; after a stop, its first blocks only.
fn strip_of(
    scenarios: &[Scenario],
    seed: u64,
    first: u64,
    runs: std::ops::Range<u64>,
    figures: &mut [Vec<Figures>],
    monitor: &dyn Monitor,
) -> Comparison {
    let mut strip = Comparison::of(scenarios.len());
    let mut begin = runs.start;
    while begin < runs.end {
        if monitor.cancelled() {
            break;
        }
        let count = BLOCK.min(runs.end - begin) as usize;
        let whole = scenarios
            .iter()
            .zip(figures.iter_mut())
            .all(|(s, figures)| {
                let figures = &mut figures[..count];
                run_block_unless(s, seed, first + begin, figures, &|| monitor.cancelled())
            });
        if !whole {
            break;
        }
        for (tally, figures) in strip.tallies.iter_mut().zip(figures.iter()) {
            for (index, figures) in (first + begin..).zip(&figures[..count]) {
                tally.push(index, figures);
            }
        }
        if let Some((baseline, others)) = figures.split_first() {
            for (pair, other) in strip.pairs.iter_mut().zip(others) {
                for (a, b) in baseline[..count].iter().zip(&other[..count]) {
                    pair.push(a, b);
                }
            }
        }
        begin += count as u64;
        monitor.done(count as u64 * scenarios.len() as u64);
    }
    strip
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;
    use crate::rig::read;
    use crate::run::{Unobserved, run, stream};
    use crate::scenario::Policy;

    /// Stops after this many runs.
    struct Impatient(AtomicU64, u64);

    impl Monitor for Impatient {
        fn done(&self, runs: u64) {
            self.0.fetch_add(runs, Ordering::Relaxed);
        }

        fn cancelled(&self) -> bool {
            self.0.load(Ordering::Relaxed) >= self.1
        }
    }

    /// Shows (files): more runs leave those that were there. Source: none: internal consistency.
    #[test]
    fn what_is_done_when_cancelled_is_the_start_of_the_batch() {
        let rig = read("", "default", &[]).expect("a valid rig");
        let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
        let batch = Batch {
            trials: 10_000_000,
            seed: 1,
        };
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
        let monitor = Impatient(AtomicU64::new(0), 3 * BLOCK);
        let part = pool.map(|p| p.install(|| run_batch(&scenario, batch, &monitor)));
        let part = part.expect("one thread");
        assert_eq!(
            part.trials,
            3 * BLOCK,
            "the first strip is kept though it is not whole"
        );
        let whole = run_batch(
            &scenario,
            Batch {
                trials: 3 * BLOCK,
                ..batch
            },
            &Unattended,
        );
        assert_eq!(
            (part.settled, part.solves()),
            (whole.settled, whole.solves())
        );
    }

    /// Against single runs, one after another: over several strips, and in a batch that continues another.
    #[test]
    fn the_first_run_that_hunts_keeps_its_number() {
        let keys = "[drive]\nperiodic = [{ cycles = 1, amplitude_deg = 0.15, phase_deg = 90 }]";
        let rig = read(keys, "test", &[]).expect("a valid rig");
        let scenario = [Scenario::new(&rig, Policy::of(&rig), 0.0)];
        let hunts = |number: &u64| {
            let (mut controller, mut rng) = (scenario[0].controller(), stream(1, *number));
            run(&scenario[0], &mut controller, &mut rng, &mut Unobserved).hunting()
        };
        let batch = Batch {
            trials: 3 * BLOCK,
            seed: 1,
        };
        for first in [0, BLOCK] {
            let found = compare_from(&scenario, first, batch, &Unattended);
            let number = (first..first + batch.trials).find(hunts);
            assert!(number.is_some());
            assert_eq!(found.tallies[0].first_hunting, number);
        }
    }
}
