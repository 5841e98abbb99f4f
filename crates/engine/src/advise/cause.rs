//! What causes the trouble at a target, by experiment: small batches with one source taken away at a time.

use super::source::{Source, sources};
use crate::rig::Rig;
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, batch};
use crate::scenario::{Policy, Target};
use crate::tally::Tally;
use crate::wording::percent;

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
pub(super) enum Trouble {
    /// Two or more long swings.
    Hunting,
    /// Not settled by so many good solves.
    Late(u32),
    /// On a command outside the stops.
    Refused,
}

impl Trouble {
    fn count(self, tally: &Tally) -> u64 {
        match self {
            Self::Hunting => tally.ping_pong,
            Self::Late(solves) => {
                let settled: u64 = (0..=solves).map(|k| tally.settled_solves.times(k)).sum();
                tally.trials - settled
            }
            Self::Refused => tally.refused,
        }
    }
}

/// What the experiments say, as parts of a sentence.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cause {
    /// "periodic error (0.15 deg) and play (0.2 deg)".
    pub(super) who: String,
    /// `who` takes a plural verb.
    pub(super) plural: bool,
    /// "without periodic error it would be 0.3 %".
    pub(super) proof: String,
}

/// A trouble as it was seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) trouble: Trouble,
    /// Share of the runs that end so.
    pub(super) share: f64,
    /// Good solves of a run, on average.
    pub(super) solves: f64,
}

impl Seen {
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
    seen: Seen,
    seed: u64,
    monitor: &dyn Monitor,
) -> Result<Option<Cause>, Cancelled> {
    let trials = seen.trials();
    let bad_runs = |rig: &Rig| {
        let scenario = target.scenario(rig, Policy::of(rig));
        let tally = batch(&scenario, Batch { trials, seed }, &Uncounted(monitor));
        if tally.trials == trials {
            Ok(seen.trouble.count(&tally))
        } else {
            Err(Cancelled)
        }
    };
    let base = bad_runs(rig)?;
    if base < LEAST_BAD {
        return Ok(None);
    }
    let cured = |bad: u64| bad as f64 <= CURE * base as f64;
    let all = sources(rig);
    let mut tried: Vec<(u64, &Source)> = Vec::with_capacity(all.len());
    for source in &all {
        if let Some(without) = Source::taken_from(&[source], rig) {
            tried.push((bad_runs(&without)?, source));
        }
    }
    tried.sort_by_key(|(bad, _)| *bad);
    let would_be = |bad: u64| format!("it would be {}", percent(bad as f64 / trials as f64));

    let causes: Vec<&Source> = tried
        .iter()
        .filter(|(bad, _)| cured(*bad))
        .map(|(_, source)| *source)
        .take(NAMED)
        .collect();
    if let Some(first) = causes.first() {
        return Ok(Some(Cause {
            who: listed(&causes),
            plural: causes.len() > 1 || first.plural,
            proof: format!("{} {}", first.without, would_be(tried[0].0)),
        }));
    }
    // Each alone may be enough: take them away one after another, the strongest first.
    let mut together: Vec<&Source> = Vec::new();
    for (_, source) in &tried {
        together.push(source);
        if together.len() < 2 {
            continue;
        }
        let Some(without) = Source::taken_from(&together, rig) else {
            continue;
        };
        let bad = bad_runs(&without)?;
        if cured(bad) {
            let (who, none) = match together.len() {
                2 => (listed(&together), "both"),
                3 => (listed(&together), "all three"),
                _ => (
                    format!(
                        "several errors together, {} among them,",
                        listed(&together[..NAMED])
                    ),
                    "all of them",
                ),
            };
            return Ok(Some(Cause {
                who,
                plural: true,
                proof: format!(
                    "taking away one alone does not halve that, but without {none} {}",
                    would_be(bad)
                ),
            }));
        }
    }
    Ok(None)
}

/// "a, b and c".
fn listed(sources: &[&Source]) -> String {
    let names: Vec<&str> = sources.iter().map(|s| s.what.as_str()).collect();
    match names.as_slice() {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        names => names.join(""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_runs_are_tried_less_often() {
        let trials = |share, solves| {
            let trouble = Trouble::Hunting;
            Seen {
                trouble,
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
