//! A run recorded move by move.

use serde::Serialize;

use super::{Figures, MoveEvent, Observer, SolveEvent, run, stream};
use crate::controller::Command;
use crate::plant::PlannedMove;
use crate::scenario::Scenario;

/// Runs number `trial` of a seed under the model's own controller, and records it.
#[must_use]
pub fn traced(scenario: &Scenario, seed: u64, trial: u64) -> (Figures, Trace) {
    let mut trace = Trace::default();
    let figures = run(
        scenario,
        &mut scenario.controller(),
        &mut stream(seed, trial),
        &mut trace,
    );
    (figures, trace)
}

/// One turn of the loop: a command, or none if the loop only confirms, and the solve after it.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TraceRow {
    /// Time at the start \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub start_s: f64,
    /// Where the controller wanted to go before the wrap rule \[deg\]; `None` without a command.
    pub wanted_deg: Option<f64>,
    /// What it commanded \[deg\]; `None` without a command.
    pub command_deg: Option<f64>,
    /// Whether the wrap rule moved the command to an equivalent framing.
    pub folded: bool,
    /// Whether the stops refused the command.
    pub refused: bool,
    /// Reading before the move \[deg\].
    pub from_deg: f64,
    /// Reading between the two legs \[deg\]; `None` for one leg.
    pub via_deg: Option<f64>,
    /// Reading after the move \[deg\].
    pub reading_deg: f64,
    /// Whether the move is a correction longer than half a period.
    pub long_swing: bool,
    /// Time when the drive stopped \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub moved_s: f64,
    /// Failed attempts to solve.
    pub failed_attempts: u32,
    /// The good solve; `None` if the run ended before it.
    pub solved: Option<Solved>,
    /// Time at the end \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub end_s: f64,
}

impl TraceRow {
    /// A row in which nothing has moved yet.
    fn still(reading_deg: f64, at_s: f64) -> Self {
        Self {
            start_s: at_s,
            moved_s: at_s,
            end_s: at_s,
            from_deg: reading_deg,
            reading_deg,
            ..Self::default()
        }
    }
}

/// A good solve of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Solved {
    /// Measured position angle, in `[0, 360)` \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    pub position_angle_deg: f64,
    /// True position angle, in `[0, 360)` \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    pub true_angle_deg: f64,
    /// Target minus measured position angle, to the nearest equivalent framing \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -180, max = 180)))]
    pub residual_deg: f64,
}

/// Collects the rows of a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    rows: Vec<TraceRow>,
}

impl Trace {
    /// The rows, in the order of time.
    #[must_use]
    pub fn rows(&self) -> &[TraceRow] {
        &self.rows
    }

    /// The row that waits for its solve, or a new row without a command.
    fn open(&mut self) -> &mut TraceRow {
        let waits = self.rows.last().is_some_and(|r| r.solved.is_none());
        if !waits {
            let (at_s, reading_deg) = self
                .rows
                .last()
                .map_or((0.0, 0.0), |r| (r.end_s, r.reading_deg));
            self.rows.push(TraceRow::still(reading_deg, at_s));
        }
        let last = self.rows.len() - 1;
        &mut self.rows[last]
    }
}

impl Observer for Trace {
    fn moved(&mut self, event: &MoveEvent) {
        let (via_deg, reading_deg) = match event.planned {
            PlannedMove::Move { via_deg, to_deg } => (via_deg, to_deg),
            PlannedMove::Still | PlannedMove::Refused => (None, event.from_deg),
        };
        self.rows.push(TraceRow {
            start_s: event.start_s,
            wanted_deg: Some(event.command.wanted_deg),
            command_deg: Some(event.command.drive_deg),
            folded: event.command.folded(),
            from_deg: event.from_deg,
            via_deg,
            reading_deg,
            long_swing: event.long_swing,
            moved_s: event.end_s,
            end_s: event.end_s,
            ..TraceRow::default()
        });
    }

    fn refused(&mut self, command: &Command, reading_deg: f64, at_s: f64) {
        self.rows.push(TraceRow {
            wanted_deg: Some(command.wanted_deg),
            command_deg: Some(command.drive_deg),
            folded: command.folded(),
            refused: true,
            ..TraceRow::still(reading_deg, at_s)
        });
    }

    fn solve_failed(&mut self, end_s: f64) {
        let row = self.open();
        row.failed_attempts += 1;
        row.end_s = end_s;
    }

    fn solved(&mut self, event: &SolveEvent) {
        let row = self.open();
        row.reading_deg = event.reading_deg;
        row.end_s = event.end_s;
        row.solved = Some(Solved {
            position_angle_deg: event.position_angle_deg,
            true_angle_deg: event.true_angle_deg,
            residual_deg: event.residual_deg,
        });
    }
}
