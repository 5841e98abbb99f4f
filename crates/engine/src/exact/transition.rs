//! What a solve at a place leads to, as data.

use std::ops::Range;

/// A place that a correction may lead to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Number of the place in the chain.
    pub(super) place: u32,
    /// Kind of the move, by the bits [`LONG`], [`CROSSING`] and [`WINDING`].
    pub(super) kind: u8,
    pub(super) probability: f64,
    /// Time of the command \[s\].
    pub(super) duration_s: f64,
}

/// Means of what the command after a solve adds, over all outcomes of the solve.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Added {
    pub(super) moves: f64,
    pub(super) long_swings: f64,
    pub(super) travel_deg: f64,
    pub(super) outside_arc_deg: f64,
    pub(super) keep_out_deg: f64,
    pub(super) time_s: f64,
}

impl Added {
    /// Adds another, weighted.
    pub(super) fn add(&mut self, other: &Self, weight: f64) {
        self.moves += weight * other.moves;
        self.long_swings += weight * other.long_swings;
        self.travel_deg += weight * other.travel_deg;
        self.outside_arc_deg += weight * other.outside_arc_deg;
        self.keep_out_deg += weight * other.keep_out_deg;
        self.time_s += weight * other.time_s;
    }
}

/// What a solve at a place leads to.
#[derive(Debug, Clone, Default)]
pub(super) struct TransitionRow {
    /// Target less true angle at the place, wrapped \[deg\].
    pub(super) true_residual_deg: f64,
    /// Probability of the runs that have solved here, or settled where their true error is known.
    pub(super) counted: f64,
    /// The residual is within tolerance.
    pub(super) pass: f64,
    /// The command leaves the reading as it is.
    pub(super) stay: f64,
    /// The command is refused.
    pub(super) refuse: f64,
    /// The other places, ordered by kind, among the entries of the chain.
    pub(super) entries: Range<usize>,
    pub(super) added: Added,
    /// Probability of a move through a keep-out.
    pub(super) crossing: f64,
    /// Probability of a move that winds the cable too far.
    pub(super) winding: f64,
}

impl TransitionRow {
    /// Probability that the solve is rejected, and its command not refused.
    pub(super) fn goes_on(&self) -> f64 {
        self.added.moves + self.stay
    }

    /// Nothing but a pass has a probability.
    pub(super) fn is_certain_to_pass(&self) -> bool {
        self.entries.is_empty() && self.stay == 0.0
    }
}

/// A long swing.
pub(super) const LONG: u8 = 1;

/// A move through a keep-out.
pub(super) const CROSSING: u8 = 2;

/// A move that winds the cable too far.
pub(super) const WINDING: u8 = 4;

/// So many degrees inside keep-outs count.
pub(super) fn crosses(keep_out_deg: f64) -> bool {
    keep_out_deg > crate::tally::TOUCH_DEG
}
