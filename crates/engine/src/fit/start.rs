//! Where a fit starts: the slope and offset for which the angles of a log agree best on the circle.

use nalgebra::DVector;

use super::model::{BASE, GAIN, Problem, ZERO};
use crate::angle::{TURN_DEG, residual_finite};

/// Largest gain error that the search tries: the range of the key of the rig file.
const MOST_GAIN_ERROR: f64 = 0.5;

/// Most gain errors that are tried.
const MOST_TRIES: usize = 20_000;

/// A first guess, and how good it is.
#[derive(Debug, Clone)]
pub(super) struct FirstGuess {
    /// Coefficients of the model without shifts.
    pub(super) coefficients: DVector<f64>,
    /// Mean distance of the angles from the guess, on the circle \[deg\].
    pub(super) distance_deg: f64,
    /// The same with a jump of the zero point.
    pub(super) jump_distance_deg: f64,
    /// The row where a jump makes the angles agree better, and the coefficients with that jump.
    pub(super) jump: Option<(usize, DVector<f64>)>,
}

/// Tries gain errors over their whole range and takes the best; of equally good ones the smallest.
///
/// The measure is the length of the mean of unit vectors at the remaining angles, as in a periodogram (Mardia & Jupp
/// 2000, "Directional Statistics", section 2.3). It needs no wrapping, and an outlier has the weight of one row.
pub(super) fn start(problem: &Problem) -> FirstGuess {
    let (turned, readings): (Vec<f64>, Vec<f64>) = problem.pairs().unzip();
    let low = readings.iter().copied().fold(f64::INFINITY, f64::min);
    let high = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let reach = (high - low).max(1.0);
    // From one try to the next the ends of the log turn against each other by at most 20 degrees.
    let tries = ((2.0 * MOST_GAIN_ERROR * reach / 20.0).ceil() as usize).clamp(10, MOST_TRIES);
    let at = |k: usize| {
        // 0 first, then outwards to both sides.
        let size = MOST_GAIN_ERROR * k.div_ceil(2) as f64 / tries.div_ceil(2) as f64;
        if k.is_multiple_of(2) { -size } else { size }
    };
    let middle = 0.5 * (low + high);
    let ways = |gain: f64| {
        let left = turned.iter().zip(&readings);
        left.map(move |(t, p)| libm::sincos((t - p - gain * (p - middle)).to_radians()))
    };
    let sum = |(sin, cos): (f64, f64), (s, c): (f64, f64)| (sin + s, cos + c);
    let length = |(sin, cos): (f64, f64)| libm::hypot(sin, cos);
    let angle = |(sin, cos): (f64, f64)| libm::atan2(sin, cos).to_degrees();
    let all = |gain: f64| ways(gain).fold((0.0, 0.0), sum);
    // Both sums at the row where they are longest together.
    let parts = |gain: f64| {
        let (whole, mut before) = (all(gain), (0.0, 0.0));
        let mut best = (length(whole), 0, before, whole);
        for (row, way) in ways(gain).enumerate() {
            let after = (whole.0 - before.0, whole.1 - before.1);
            let together = length(before) + length(after);
            if together > best.0 * (1.0 + 1e-9) {
                best = (together, row, before, after);
            }
            before = sum(before, way);
        }
        best
    };
    let best = |measure: &dyn Fn(f64) -> f64| {
        let mut best = (0.0, f64::NEG_INFINITY);
        for gain in (0..=tries).map(at) {
            let length = measure(gain);
            if length > best.1 * (1.0 + 1e-9) {
                best = (gain, length);
            }
        }
        // Between the tries, by halving the step.
        let mut step = MOST_GAIN_ERROR / tries.div_ceil(2) as f64;
        for _ in 0..20 {
            step *= 0.5;
            for gain in [best.0 - step, best.0 + step] {
                let length = measure(gain);
                if length > best.1 && gain.abs() <= MOST_GAIN_ERROR {
                    best = (gain, length);
                }
            }
        }
        best.0
    };
    let split = best(&|gain| parts(gain).0);
    let (_, row, before, after) = parts(split);
    let jump = (row > 0).then(|| {
        let mut coefficients = DVector::zeros(BASE + 1);
        coefficients[ZERO] = angle(before) - split * middle;
        coefficients[GAIN] = split;
        coefficients[BASE] = residual_finite(angle(after) - angle(before), TURN_DEG);
        (problem.rows[row], coefficients)
    });
    let gain = best(&|gain| length(all(gain)));
    let zero = angle(all(gain)) - gain * middle;
    let mut coefficients = DVector::zeros(BASE);
    coefficients[ZERO] = zero;
    coefficients[GAIN] = gain;
    let distance = |at: &DVector<f64>, from: usize| {
        let rows = turned.iter().zip(&readings).enumerate();
        let distances = rows.map(|(row, (t, p))| {
            let jump = if row >= from { at[BASE] } else { 0.0 };
            residual_finite(t - p - at[ZERO] - at[GAIN] * p - jump, TURN_DEG).abs()
        });
        distances.sum::<f64>() / turned.len().max(1) as f64
    };
    let distance_deg = distance(&coefficients, usize::MAX);
    FirstGuess {
        jump_distance_deg: jump
            .as_ref()
            .map_or(distance_deg, |(_, with)| distance(with, row)),
        coefficients,
        distance_deg,
        jump,
    }
}
