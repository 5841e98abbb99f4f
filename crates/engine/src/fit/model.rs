//! The model of a log: position angles as a function of readings, linear except in the width of the backlash.
//!
//! With `x = (1 + gain_error) * y + periodic(y) + eta` and `theta = Z + sense * x` (docs/model.md, section
//! 2),
//!
//! ```text
//! sense * theta - y = sense * Z + gain_error * y + a1 cos y + b1 sin y + a2 cos 2y + b2 sin 2y + shifts + eta + e
//! ```

use nalgebra::{DMatrix, DVector};

use super::log::Log;
use super::track::{Output, Track, Unrolled};
use crate::angle::{TURN_DEG, residual_finite, sin_deg};
use crate::rig::{RigSettings, Sense};

/// Number of columns without shifts: the zero point, the gain error, and cosine and sine of two harmonics.
pub(super) const BASE: usize = 6;
/// The column of the zero point.
pub(super) const ZERO: usize = 0;
/// The column of the gain error.
pub(super) const GAIN: usize = 1;
/// The columns of cosine and sine of one and of two cycles a turn.
pub(super) const HARMONICS: [(usize, usize); 2] = [(2, 3), (4, 5)];

/// From this many jumps against the move before them, the shifts look like lost steps.
const LEAST_LOSSES: usize = 2;

/// What a wave runs over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Over {
    /// The shaft: a periodic error. Its cycles are those a turn.
    Reading,
    /// The shaft, against itself after a move up and after a move down: a backlash that differs round the turn.
    Direction,
    /// The clock. Its cycles are those in the log, and it is 0 at the last row.
    Time,
}

/// A cosine or a sine of size 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wave {
    pub(super) over: Over,
    pub(super) cycles: f64,
    pub(super) sine: bool,
}

impl Wave {
    /// Cosine and sine.
    pub(super) fn pair(over: Over, cycles: f64) -> [Shift; 2] {
        [false, true].map(|sine| Shift::Wave(Self { over, cycles, sine }))
    }

    /// Its value where it has turned by this angle.
    fn at(self, turned_deg: f64) -> f64 {
        sin_deg(turned_deg + if self.sine { 0.0 } else { 90.0 })
    }
}

/// What the model has beside its base: mostly a way in which the zero point changes within a log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shift {
    /// A jump at this row, from 0.
    Jump(usize),
    /// Evenly with time, or with the row number in a log without times. The column is 0 at the last row.
    Drift,
    /// An equal loss at every move up.
    LossUp,
    /// An equal loss at every move down.
    LossDown,
    /// A part of a wave; its cosine and its sine follow each other.
    Wave(Wave),
}

/// The periodic errors among the shifts, of whole cycles a turn: cycles, and the columns of cosine and sine.
pub(super) fn harmonics(shifts: &[Shift]) -> Vec<(u32, usize, usize)> {
    let base = HARMONICS
        .into_iter()
        .zip(1..)
        .map(|((cos, sin), cycles)| (cycles, cos, sin));
    let more = shifts
        .iter()
        .zip(BASE..)
        .filter_map(|(shift, j)| match shift {
            Shift::Wave(w) if w.over == Over::Reading && !w.sine && w.cycles.fract() == 0.0 => {
                Some((w.cycles as u32, j, j + 1))
            }
            _ => None,
        });
    base.chain(more).collect()
}

/// A log prepared for a fit with one sense.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    pub(super) track: Track,
    pub(super) sense: Sense,
    /// Rows (from 0) that were solved.
    pub(super) rows: Vec<usize>,
    /// Their position angles, times the sense \[deg\].
    turned_deg: Vec<f64>,
    /// For every row of the log, seconds since the first row, or the row number in a log without times.
    clock: Vec<f64>,
    /// Whether the log has times.
    pub(super) timed: bool,
    /// Size of the move to each row of the log \[deg\].
    pub(super) moves_deg: Vec<f64>,
}

/// The linear model for one width of the backlash.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    /// One row for every solved row of the log.
    pub(super) columns: DMatrix<f64>,
    /// Position of the output side of the backlash at each solved row.
    pub(super) outputs: Vec<Output>,
}

impl Problem {
    pub(super) fn new(log: &Log, unrolled: Unrolled, rig: &RigSettings, sense: Sense) -> Self {
        let track = Track::new(log, unrolled, rig);
        let solved = log.rows.iter().enumerate();
        let solved = solved.filter_map(|(i, row)| row.position_angle_deg.map(|pa| (i, pa)));
        let (rows, angles): (Vec<usize>, Vec<f64>) = solved.unzip();
        let first = log.rows.first().and_then(|r| r.time_s).unwrap_or(0.0);
        let timed = log.rows.iter().all(|r| r.time_s.is_some());
        let clock = log.rows.iter().enumerate();
        Self {
            moves_deg: track.moves_deg(),
            track,
            sense,
            rows,
            turned_deg: angles.iter().map(|pa| sense.factor() * pa).collect(),
            clock: clock
                .map(|(i, r)| match r.time_s {
                    Some(t) if timed => t - first,
                    _ => i as f64,
                })
                .collect(),
            timed,
        }
    }

    /// Number of solved rows.
    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    /// Length of the log on its clock.
    pub(super) fn span(&self) -> f64 {
        self.clock.last().copied().unwrap_or(0.0)
    }

    /// The model with a backlash of this width.
    pub(super) fn linear(&self, width_deg: f64, shifts: &[Shift]) -> Linear {
        let all = self.track.outputs(width_deg);
        let outputs: Vec<Output> = self.rows.iter().map(|i| all[*i]).collect();
        let mut columns = DMatrix::zeros(self.len(), BASE + shifts.len());
        for (i, output) in outputs.iter().enumerate() {
            for (j, value) in base(output.at_deg).into_iter().enumerate() {
                columns[(i, j)] = value;
            }
        }
        for (j, shift) in shifts.iter().enumerate() {
            columns.set_column(BASE + j, &self.shift_column(*shift, &outputs));
        }
        Linear { columns, outputs }
    }

    /// What a shift of size 1 does to every solved row.
    pub(super) fn shift_column(&self, shift: Shift, outputs: &[Output]) -> DVector<f64> {
        let losses = |counts: fn(f64) -> bool, sign: f64| {
            let mut sum = 0.0;
            let sums: Vec<f64> = self
                .moves_deg
                .iter()
                .map(|d| {
                    sum += if counts(*d) { sign } else { 0.0 };
                    sum
                })
                .collect();
            DVector::from_iterator(self.len(), self.rows.iter().map(|i| sums[*i]))
        };
        match shift {
            Shift::Jump(at) => DVector::from_iterator(
                self.len(),
                self.rows.iter().map(|i| f64::from(u8::from(*i >= at))),
            ),
            Shift::Drift => {
                let span = self.span().max(f64::MIN_POSITIVE);
                let shares = self.rows.iter().map(|i| self.clock[*i] / span - 1.0);
                DVector::from_iterator(self.len(), shares)
            }
            Shift::LossUp => losses(|d| d > 0.0, -1.0),
            Shift::LossDown => losses(|d| d < 0.0, 1.0),
            Shift::Wave(w) => {
                let span = self.span().max(f64::MIN_POSITIVE);
                let at = |(row, o): (&usize, &Output)| match w.over {
                    Over::Reading => w.at(w.cycles * o.at_deg),
                    Over::Direction => 2.0 * o.slope * w.at(w.cycles * o.at_deg),
                    Over::Time => {
                        let turned_deg = |share: f64| TURN_DEG * w.cycles * share;
                        w.at(turned_deg(self.clock[*row] / span)) - w.at(turned_deg(1.0))
                    }
                };
                DVector::from_iterator(self.len(), self.rows.iter().zip(outputs).map(at))
            }
        }
    }

    /// The values to explain, `sense * theta - y`, each on the turn nearest to `model_deg` \[deg\].
    pub(super) fn targets(&self, outputs: &[Output], model_deg: &DVector<f64>) -> DVector<f64> {
        DVector::from_iterator(
            self.len(),
            self.turned_deg
                .iter()
                .zip(outputs)
                .zip(model_deg.iter())
                .map(|((turned, o), m)| m + residual_finite(turned - o.at_deg - m, TURN_DEG)),
        )
    }

    /// Position angles times the sense \[deg\], and readings on the line \[deg\], of the solved rows.
    pub(super) fn pairs(&self) -> impl Iterator<Item = (f64, f64)> {
        let readings = self.rows.iter().map(|i| self.track.readings_deg[*i]);
        self.turned_deg.iter().copied().zip(readings)
    }
}

/// The columns that every model has, for the output side of the backlash at `y_deg`.
pub(super) fn base(y_deg: f64) -> [f64; BASE] {
    let cos = |x: f64| sin_deg(x + 90.0);
    [
        1.0,
        y_deg,
        cos(y_deg),
        sin_deg(y_deg),
        cos(2.0 * y_deg),
        sin_deg(2.0 * y_deg),
    ]
}

/// How the shaft angle changes with the width of the backlash, for these coefficients.
pub(super) fn backlash_column(
    outputs: &[Output],
    shifts: &[Shift],
    coefficients: &DVector<f64>,
) -> DVector<f64> {
    let harmonics = harmonics(shifts);
    let slope = |o: &Output| {
        let waves = harmonics.iter().map(|(cycles, cos, sin)| {
            let cycles = f64::from(*cycles);
            let (a, b) = (coefficients[*cos], coefficients[*sin]);
            let turned_deg = cycles * o.at_deg;
            cycles * (b * sin_deg(turned_deg + 90.0) - a * sin_deg(turned_deg))
        });
        o.slope * (1.0 + coefficients[GAIN] + waves.sum::<f64>().to_radians())
    };
    DVector::from_iterator(outputs.len(), outputs.iter().map(slope))
}

/// Whether the shifts of a fit look like lost steps: a loss at every move, or jumps that mostly go against the moves.
pub(super) fn loses_steps(
    problem: &Problem,
    shifts: &[Shift],
    coefficients: &DVector<f64>,
) -> bool {
    let mut lag = 0;
    let mut lead = 0;
    for (j, shift) in shifts.iter().enumerate() {
        let size = coefficients[BASE + j];
        match shift {
            Shift::LossUp | Shift::LossDown if size > 0.0 => return true,
            Shift::Jump(row) if size * problem.moves_deg[*row] < 0.0 => lag += 1,
            Shift::Jump(_) => lead += 1,
            Shift::LossUp | Shift::LossDown | Shift::Drift | Shift::Wave(_) => {}
        }
    }
    lag >= LEAST_LOSSES && lag >= 3 * lead
}
