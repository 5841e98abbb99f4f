//! Differences between two policies, run by run on the same random streams.

use super::Moments;
use crate::run::{Figures, Outcome};

/// Moments of the differences: second policy minus first.
///
/// With common random numbers the two differ only in what the policy does, and the difference spreads less than
/// either (Glasserman & Yao 1992, Management Science 38, 884).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PairTally {
    /// Hunting, as 0 or 1.
    pub hunting: Moments,
    /// Settled, as 0 or 1.
    pub settled: Moments,
    /// Elapsed time, settled or not \[s\].
    pub elapsed_s: Moments,
    /// Good solves.
    pub solves: Moments,
    /// Degrees turned.
    pub travel_deg: Moments,
}

impl PairTally {
    /// Adds a run under the first policy and the same run under the second.
    #[inline]
    pub fn push(&mut self, first: &Figures, second: &Figures) {
        let flag = |flag: bool| f64::from(u8::from(flag));
        let hunting = |f: &Figures| flag(f.hunting());
        let settled = |f: &Figures| flag(f.outcome == Outcome::Settled);
        self.hunting.push(hunting(second) - hunting(first));
        self.settled.push(settled(second) - settled(first));
        self.elapsed_s.push(second.elapsed_s - first.elapsed_s);
        self.solves
            .push(f64::from(second.solves) - f64::from(first.solves));
        self.travel_deg.push(second.travel_deg - first.travel_deg);
    }

    /// Adds the differences of the runs that follow these.
    pub fn merge(&mut self, later: &Self) {
        self.hunting.merge(&later.hunting);
        self.settled.merge(&later.settled);
        self.elapsed_s.merge(&later.elapsed_s);
        self.solves.merge(&later.solves);
        self.travel_deg.merge(&later.travel_deg);
    }
}
