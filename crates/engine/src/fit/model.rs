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

/// A way in which the zero point changes within a log.
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
            columns.set_column(BASE + j, &self.shift_column(*shift));
        }
        Linear { columns, outputs }
    }

    /// What a shift of size 1 does to every solved row.
    pub(super) fn shift_column(&self, shift: Shift) -> DVector<f64> {
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
pub(super) fn backlash_column(outputs: &[Output], coefficients: &DVector<f64>) -> DVector<f64> {
    let slope = |o: &Output| {
        let [_, _, c1, s1, c2, s2] = base(o.at_deg);
        let [_, g, a1, b1, a2, b2] = [0, 1, 2, 3, 4, 5].map(|j| coefficients[j]);
        let waves = -a1 * s1 + b1 * c1 + 2.0 * (b2 * c2 - a2 * s2);
        o.slope * (1.0 + g + waves.to_radians())
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
            Shift::LossUp | Shift::LossDown | Shift::Drift => {}
        }
    }
    lag >= LEAST_LOSSES && lag >= 3 * lead
}
