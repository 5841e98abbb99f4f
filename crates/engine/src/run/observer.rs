//! What can be watched during a run.

use crate::controller::Command;
use crate::plant::PlannedMove;

/// A command that was carried out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoveEvent {
    /// The command.
    pub command: Command,
    /// Reading before the move \[deg\].
    pub from_deg: f64,
    /// What the drive did for it.
    pub planned: PlannedMove,
    /// Whether the move is a correction longer than half a period.
    pub long_swing: bool,
    /// Time at the start \[s\].
    pub start_s: f64,
    /// Time at the end, overhead included \[s\].
    pub end_s: f64,
}

/// A good solve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolveEvent {
    /// Reading of the drive \[deg\].
    pub reading_deg: f64,
    /// Measured position angle, in `[0, 360)` \[deg\].
    pub position_angle_deg: f64,
    /// True position angle, in `[0, 360)` \[deg\].
    pub true_angle_deg: f64,
    /// Target minus measured position angle, to the nearest equivalent framing \[deg\].
    pub residual_deg: f64,
    /// Time at the end \[s\].
    pub end_s: f64,
}

/// Watches a run. Every method has a default that does nothing.
pub trait Observer {
    /// A command was carried out.
    #[inline]
    fn moved(&mut self, event: &MoveEvent) {
        let _ = event;
    }

    /// The stops refused a command at this reading \[deg\] and time \[s\].
    #[inline]
    fn refused(&mut self, command: &Command, reading_deg: f64, at_s: f64) {
        let _ = (command, reading_deg, at_s);
    }

    /// An attempt to solve failed. `end_s` is the time at its end \[s\].
    #[inline]
    fn solve_failed(&mut self, end_s: f64) {
        let _ = end_s;
    }

    /// A good solve.
    #[inline]
    fn solved(&mut self, event: &SolveEvent) {
        let _ = event;
    }
}

/// An observer that ignores everything.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobserved;

impl Observer for Unobserved {}
