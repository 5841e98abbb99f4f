//! Run -> tally: what is kept of many runs, in a memory that does not grow with their number.
//!
//! Tallies of parts of a batch are merged in the order of the runs. Counts and quantiles are the same in any order.
//! Sums of numbers are the same in this order only.

mod counts;
mod histogram;
mod pair;
mod spread;

pub use counts::Counts;
pub use histogram::Histogram;
pub use pair::PairTally;
pub use spread::{Moments, Spread};

use crate::run::{Figures, Outcome};

/// A run with fewer degrees than this inside keep-outs only touched an edge, and does not count \[deg\].
pub const TOUCH_DEG: f64 = 1e-9;

/// The tally of a batch of runs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// Number of runs.
    pub trials: u64,
    /// Runs that settled.
    pub settled: u64,
    /// Runs that used up their good solves.
    pub unsettled: u64,
    /// Runs that ended on too many failed solves in a row.
    pub unsolved: u64,
    /// Runs that ended on a refused command.
    pub refused: u64,
    /// Runs in which the controller gave up or failed.
    pub given_up: u64,
    /// Runs with two or more long swings.
    pub hunting: u64,
    /// Runs that used up their good solves with at most one long swing.
    pub stuck: u64,
    /// Runs with one long swing or more.
    pub swinging: u64,
    /// Runs that turned through a keep-out.
    pub keep_out: u64,
    /// Runs that wound the cable too far.
    pub overwound: u64,
    /// Runs that hunt, do not settle, turn through a keep-out, or wind the cable too far.
    pub ended_badly: u64,
    /// Number of the first run with two or more long swings; `None` without one.
    pub first_hunting: Option<u64>,
    /// Elapsed time of settled runs \[s\].
    pub settle_time_s: Spread,
    /// True error of settled runs \[deg\].
    pub true_error_deg: Spread,
    /// Elapsed time of the runs that did not settle \[s\].
    pub lost_time_s: Spread,
    /// Good solves of settled runs.
    pub settled_solves: Counts,
    /// Good solves of the runs that did not settle.
    pub lost_solves: Counts,
    /// Failed attempts to solve, in all runs.
    pub failed_attempts: Counts,
    /// Moves, in all runs.
    pub moves: Counts,
    /// Long swings, in all runs.
    pub long_swings: Counts,
    /// Degrees turned, in all runs.
    pub travel_deg: Spread,
    /// Largest distance from the parking reading \[deg\], in all runs.
    pub winding_deg: Spread,
    /// Degrees turned outside the arc, in all runs.
    pub outside_arc_deg: Spread,
    /// Degrees turned inside keep-outs, in all runs.
    pub keep_out_deg: Spread,
}

impl Tally {
    /// Adds run number `index`.
    pub fn push(&mut self, index: u64, figures: &Figures) {
        self.trials += 1;
        match figures.outcome {
            Outcome::Settled => {
                self.settled += 1;
                self.settle_time_s.push(figures.elapsed_s);
                if let Some(error) = figures.true_error_deg {
                    self.true_error_deg.push(error);
                }
            }
            Outcome::Unsettled => self.unsettled += 1,
            Outcome::Unsolved => self.unsolved += 1,
            Outcome::Refused => self.refused += 1,
            Outcome::GaveUp | Outcome::Faulty => self.given_up += 1,
        }
        let hunts = figures.hunting() || figures.outcome == Outcome::Unsettled;
        let crosses = figures.keep_out_deg > TOUCH_DEG;
        self.stuck += u64::from(hunts && !figures.hunting());
        self.swinging += u64::from(figures.long_swings > 0);
        self.keep_out += u64::from(crosses);
        self.overwound += u64::from(figures.overwound);
        self.ended_badly +=
            u64::from(hunts || crosses || figures.overwound || figures.outcome != Outcome::Settled);
        if figures.hunting() {
            self.hunting += 1;
            self.first_hunting = earlier(self.first_hunting, Some(index));
        }
        if figures.outcome == Outcome::Settled {
            self.settled_solves.push(figures.solves);
        } else {
            self.lost_solves.push(figures.solves);
            self.lost_time_s.push(figures.elapsed_s);
        }
        self.failed_attempts.push(figures.failed_attempts);
        self.moves.push(figures.moves);
        self.long_swings.push(figures.long_swings);
        self.travel_deg.push(figures.travel_deg);
        self.winding_deg.push(figures.winding_deg);
        self.outside_arc_deg.push(figures.outside_arc_deg);
        self.keep_out_deg.push(figures.keep_out_deg);
    }

    /// Elapsed time of all runs \[s\].
    #[must_use]
    pub fn elapsed_s(&self) -> Spread {
        let mut all = self.settle_time_s.clone();
        all.merge(&self.lost_time_s);
        all
    }

    /// Good solves of all runs.
    #[must_use]
    pub fn solves(&self) -> Counts {
        let mut all = self.settled_solves.clone();
        all.merge(&self.lost_solves);
        all
    }

    /// Adds the tally of the runs that follow these.
    pub fn merge(&mut self, later: &Self) {
        self.trials += later.trials;
        self.settled += later.settled;
        self.unsettled += later.unsettled;
        self.unsolved += later.unsolved;
        self.refused += later.refused;
        self.given_up += later.given_up;
        self.hunting += later.hunting;
        self.stuck += later.stuck;
        self.swinging += later.swinging;
        self.keep_out += later.keep_out;
        self.overwound += later.overwound;
        self.ended_badly += later.ended_badly;
        self.first_hunting = earlier(self.first_hunting, later.first_hunting);
        self.settle_time_s.merge(&later.settle_time_s);
        self.true_error_deg.merge(&later.true_error_deg);
        self.lost_time_s.merge(&later.lost_time_s);
        self.settled_solves.merge(&later.settled_solves);
        self.lost_solves.merge(&later.lost_solves);
        self.failed_attempts.merge(&later.failed_attempts);
        self.moves.merge(&later.moves);
        self.long_swings.merge(&later.long_swings);
        self.travel_deg.merge(&later.travel_deg);
        self.winding_deg.merge(&later.winding_deg);
        self.outside_arc_deg.merge(&later.outside_arc_deg);
        self.keep_out_deg.merge(&later.keep_out_deg);
    }
}

fn earlier(a: Option<u64>, b: Option<u64>) -> Option<u64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
