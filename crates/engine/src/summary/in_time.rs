//! How likely a run settles within a number of good solves.

use super::Rate;
use crate::exact::Bounded;
use crate::tally::Counts;

/// The settled runs by their good solves, from runs or from an exact solution.
#[derive(Debug, Clone, PartialEq)]
pub enum SettledBy {
    /// From runs.
    Runs {
        /// Good solves of the settled runs.
        solves: Counts,
        /// Number of all runs.
        trials: u64,
    },
    /// From an exact solution.
    Exact {
        /// Probability of settling at every number of good solves, from 0.
        shares: Vec<f64>,
        /// Bound on the error of their sum.
        bound: f64,
    },
}

impl SettledBy {
    /// Share of all runs that settle within `solves` good solves. From runs, it leaves out those that needed 1024 or
    /// more.
    #[must_use]
    pub fn rate(&self, solves: u32) -> Rate {
        match self {
            Self::Runs {
                solves: counts,
                trials,
            } => Rate::of((0..=solves).map(|k| counts.times(k)).sum(), *trials),
            Self::Exact { shares, bound } => Rate::bounded(Bounded {
                value: shares.iter().take(solves as usize + 1).sum(),
                bound: *bound,
            }),
        }
    }

    /// Share of all runs that do not settle within `solves` good solves although their plates were solved. `unsolved`
    /// is the share that ended on failed solves.
    #[must_use]
    pub fn late(&self, solves: u32, unsolved: &Rate) -> Rate {
        let settled = self.rate(solves);
        match self {
            Self::Runs { trials, .. } => {
                let runs = |share: &Rate| (share.rate * *trials as f64).round() as u64;
                let others = runs(&settled) + runs(unsolved);
                Rate::of(trials.saturating_sub(others), *trials)
            }
            Self::Exact { bound, .. } => Rate::bounded(Bounded {
                value: 1.0 - settled.rate - unsolved.rate,
                bound: *bound,
            }),
        }
    }
}
