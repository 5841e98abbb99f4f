//! The readings of a log in their order, sent through the play operator.

use super::log::{Log, LogRow};
use crate::angle::{TURN_DEG, residual_finite};
use crate::plant::driven_side_deg;
use crate::rig::{Approach, RigSettings};

/// How a reading becomes a place on the line of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unrolled {
    /// As it is: the reading counts turns, or the drive never passes 0.
    AsWritten,
    /// By the short way from the reading before, because the log reduces readings to one turn.
    ShortWay,
}

/// The way of the drive, with one entry for every row of the log.
#[derive(Debug, Clone)]
pub(super) struct Track {
    /// Readings on the line \[deg\].
    pub(super) readings_deg: Vec<f64>,
    /// Whether the row begins a run, where the side of the backlash is unknown.
    begins: Vec<bool>,
    /// Number of the dwell. Rows of one dwell have no move between them.
    pub(super) dwells: Vec<usize>,
    /// How far a one-sided approach goes beyond its goal \[deg\]; 0 for a direct one.
    overrun_deg: f64,
}

/// The output side of the backlash at one row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Output {
    /// Its position \[deg\].
    pub(super) at_deg: f64,
    /// How the position changes with the width of the backlash: -1/2 after a move up, +1/2 after a move down.
    pub(super) slope: f64,
    /// Whether the position no longer depends on where in the backlash the run began.
    pub(super) known: bool,
    /// How far off the position may be because of that \[deg\].
    pub(super) slack_deg: f64,
}

impl Track {
    pub(super) fn new(log: &Log, unrolled: Unrolled, rig: &RigSettings) -> Self {
        let overrun_deg = match rig.loop_.approach {
            Approach::Direct => 0.0,
            Approach::FromBelow => -rig.loop_.overrun_deg,
            Approach::FromAbove => rig.loop_.overrun_deg,
        };
        let mut track = Self {
            readings_deg: Vec::with_capacity(log.rows.len()),
            begins: Vec::with_capacity(log.rows.len()),
            dwells: Vec::with_capacity(log.rows.len()),
            overrun_deg,
        };
        let mut last: Option<(&LogRow, f64, usize)> = None;
        for row in &log.rows {
            let before = last.filter(|(before, ..)| before.run == row.run);
            let at_deg = match (before, unrolled) {
                (Some((_, at_deg, _)), Unrolled::ShortWay) => {
                    at_deg + residual_finite(row.reading_deg - at_deg, TURN_DEG)
                }
                _ => row.reading_deg,
            };
            let stays = before.is_some_and(|(before, ..)| before.reading_deg == row.reading_deg);
            let dwell = last.map_or(0, |(.., dwell)| dwell + usize::from(!stays));
            track.readings_deg.push(at_deg);
            track.begins.push(before.is_none());
            track.dwells.push(dwell);
            last = Some((row, at_deg, dwell));
        }
        track
    }

    /// Largest distance between two readings of one run \[deg\].
    pub(super) fn reach_deg(&self) -> f64 {
        let mut reach_deg = 0.0_f64;
        let (mut low, mut high) = (0.0_f64, 0.0_f64);
        for (p, begins) in self.readings_deg.iter().copied().zip(&self.begins) {
            (low, high) = if *begins {
                (p, p)
            } else {
                (low.min(p), high.max(p))
            };
            reach_deg = reach_deg.max(high - low);
        }
        reach_deg
    }

    /// Whether a run begins at this row.
    pub(super) fn begins(&self, row: usize) -> bool {
        self.begins[row]
    }

    /// How far the drive moved to each row \[deg\]; 0 at the start of a run.
    pub(super) fn moves_deg(&self) -> Vec<f64> {
        (0..self.readings_deg.len())
            .map(|i| {
                if self.begins[i] {
                    0.0
                } else {
                    self.readings_deg[i] - self.readings_deg[i - 1]
                }
            })
            .collect()
    }

    /// Sends every reading through a backlash of this width. A run begins in the middle of it.
    pub(super) fn outputs(&self, width_deg: f64) -> Vec<Output> {
        let half = 0.5 * width_deg;
        // The output, and the range in which it may be.
        let (mut y, mut low, mut high, mut slope) = (0.0, 0.0, 0.0, 0.0);
        let mut outputs = Vec::with_capacity(self.readings_deg.len());
        for (i, p) in self.readings_deg.iter().copied().enumerate() {
            if self.begins[i] {
                (y, low, high, slope) = (p, p - half, p + half, 0.0);
            } else if p != self.readings_deg[i - 1] {
                let via = (self.overrun_deg != 0.0).then_some(p + self.overrun_deg);
                for p in via.into_iter().chain([p]) {
                    if y < p - half {
                        slope = -0.5;
                    } else if y > p + half {
                        slope = 0.5;
                    }
                    y = driven_side_deg(y, p, width_deg);
                    low = driven_side_deg(low, p, width_deg);
                    high = driven_side_deg(high, p, width_deg);
                }
            }
            outputs.push(Output {
                at_deg: y,
                slope,
                known: low == high && slope != 0.0,
                slack_deg: high - low,
            });
        }
        outputs
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(readings: &[f64]) -> Log {
        let row = |(line, reading_deg): (usize, &f64)| LogRow {
            line,
            run: String::new(),
            time_s: None,
            commanded_deg: None,
            reading_deg: *reading_deg,
            position_angle_deg: None,
        };
        Log {
            rows: readings.iter().enumerate().map(row).collect(),
            resolution_deg: 0.01,
        }
    }

    /// Backlash 1 from the middle. Up by 0.25 moves nothing; up to 1 drags to 0.5; down by 0.5 moves nothing; down
    /// to -1 drags to -0.5.
    /// Shows (fit): backlash is replayed over all readings, the failed ones too. Source: by hand.
    #[test]
    fn play_is_replayed_row_by_row() {
        let rig = RigSettings::default();
        let track = Track::new(
            &log(&[0.0, 0.25, 1.0, 0.5, -1.0, -1.0]),
            Unrolled::AsWritten,
            &rig,
        );
        let found = track.outputs(1.0);
        let at: Vec<f64> = found.iter().map(|o| o.at_deg).collect();
        assert_eq!(at, [0.0, 0.0, 0.5, 0.5, -0.5, -0.5]);
        let known: Vec<bool> = found.iter().map(|o| o.known).collect();
        assert_eq!(known, [false, false, true, true, true, true]);
        assert_eq!(track.dwells, [0, 1, 2, 3, 4, 4]);
        assert_eq!(found[3].slope, -0.5);
        assert_eq!(found[4].slope, 0.5);
    }

    #[test]
    fn readings_of_one_turn_are_unrolled() {
        let rig = RigSettings::default();
        let track = Track::new(&log(&[350.0, 10.0, 350.0, 170.5]), Unrolled::ShortWay, &rig);
        assert_eq!(track.readings_deg, [350.0, 370.0, 350.0, 170.5]);
        assert_eq!(track.reach_deg(), 199.5);
    }
}
