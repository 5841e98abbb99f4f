//! What causes the trouble at a target, by experiment: small batches with one source taken away at a time.

use serde::Serialize;

use super::source::Source;
use crate::rig::Rig;
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, run_batch};
use crate::scenario::{Policy, Target};
use crate::tally::Tally;

/// Runs of one experiment, more where the trouble is rare.
const RUNS: u64 = 2_000;
const MOST_RUNS: u64 = 8_000;

/// Solves of one experiment, about: where runs are long, fewer of them show the same.
const MOST_SOLVES: f64 = 1e6;

/// Bad runs that an experiment is planned to see.
const WANTED_BAD: f64 = 60.0;

/// With fewer bad runs an experiment proves nothing.
const LEAST_BAD: u64 = 10;

/// Taking a cause away leaves at most this share of the bad runs.
const CURE: f64 = 0.5;

/// Causes that are named.
const NAMED: usize = 3;

/// A way for a run to end badly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum BadEnding {
    /// Two or more long swings.
    Hunting,
    /// Not settled by so many good solves.
    Late(u32),
    /// On a command outside the stops.
    Refused,
}

impl BadEnding {
    fn count(self, tally: &Tally) -> u64 {
        match self {
            Self::Hunting => tally.hunting,
            Self::Late(solves) => {
                let settled: u64 = (0..=solves).map(|k| tally.settled_solves.times(k)).sum();
                tally.trials - settled
            }
            Self::Refused => tally.refused,
        }
    }
}

/// What the experiments say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cause {
    /// The errors that are to blame, the strongest first; three at most.
    pub sources: Vec<Source>,
    /// How many have to go at once before less than half of the bad runs are left; 1 where one alone is enough.
    pub together: usize,
    /// Share of the runs that end badly without the first of them, or without all of them where they act together.
    pub left: f64,
}

/// A trouble as it was seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Evidence {
    pub(super) ending: BadEnding,
    /// Share of the runs that end so.
    pub(super) share: f64,
    /// Good solves of a run, on average.
    pub(super) solves: f64,
}

impl Evidence {
    /// Runs of every experiment.
    fn trials(&self) -> u64 {
        let wanted = (WANTED_BAD / self.share.max(1e-9)).ceil() as u64;
        let affordable = (MOST_SOLVES / self.solves.max(1.0)) as u64;
        wanted.max(RUNS.min(affordable)).min(MOST_RUNS)
    }
}

/// Finds the causes of a trouble at a target; `None` where it is too rare for that, or where
/// not even a rig without errors would do better.
pub(super) fn find_cause(
    rig: &Rig,
    target: &Target,
    seen: Evidence,
    seed: u64,
    monitor: &dyn Monitor,
) -> Result<Option<Cause>, Cancelled> {
    let trials = seen.trials();
    let bad_runs = |rig: &Rig| {
        let scenario = target.scenario(rig, Policy::of(rig));
        let tally = run_batch(&scenario, Batch { trials, seed }, &Uncounted(monitor));
        if tally.trials == trials {
            Ok(seen.ending.count(&tally))
        } else {
            Err(Cancelled)
        }
    };
    let base = bad_runs(rig)?;
    if base < LEAST_BAD {
        return Ok(None);
    }
    let cured = |bad: u64| bad as f64 <= CURE * base as f64;
    let mut tried: Vec<(u64, Source)> = Vec::new();
    for source in Source::all_in(rig) {
        if let Some(without) = Source::taken_from(&[source], rig) {
            tried.push((bad_runs(&without)?, source));
        }
    }
    tried.sort_by_key(|(bad, _)| *bad);
    let share = |bad: u64| bad as f64 / trials as f64;

    let each = tried.iter().filter(|(bad, _)| cured(*bad));
    let sources: Vec<Source> = each.map(|(_, source)| *source).take(NAMED).collect();
    if !sources.is_empty() {
        return Ok(Some(Cause {
            sources,
            together: 1,
            left: share(tried[0].0),
        }));
    }
    // Each alone may be enough: take them away one after another, the strongest first.
    let order: Vec<Source> = tried.iter().map(|(_, source)| *source).collect();
    for together in 2..=order.len() {
        let Some(without) = Source::taken_from(&order[..together], rig) else {
            continue;
        };
        let bad = bad_runs(&without)?;
        if cured(bad) {
            return Ok(Some(Cause {
                sources: order[..together.min(NAMED)].to_vec(),
                together,
                left: share(bad),
            }));
        }
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (files): where a run is long the search for causes takes fewer runs, and bad ones enough all the same.
    /// Source: none: own rule.
    #[test]
    fn long_runs_are_tried_less_often() {
        let trials = |share, solves| {
            let ending = BadEnding::Hunting;
            Evidence {
                ending,
                share,
                solves,
            }
            .trials()
        };
        assert_eq!(trials(1.0, 24.0), RUNS);
        assert_eq!(trials(1.0, 500.0), RUNS);
        assert_eq!(trials(1.0, 10_000.0), 100);
        // Enough bad runs are seen all the same.
        assert_eq!(trials(0.01, 10_000.0), 6000);
        assert_eq!(trials(0.0, 2.0), MOST_RUNS);
        assert_eq!(trials(1.0, 1e9), 60);
    }
}
