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
    let fit = |gain: f64| {
        let left = turned.iter().zip(&readings);
        let left = left.map(|(t, p)| t - p - gain * (p - middle));
        let (sin, cos) = left.fold((0.0, 0.0), |(sin, cos), x| {
            let (s, c) = libm::sincos(x.to_radians());
            (sin + s, cos + c)
        });
        (libm::hypot(sin, cos), libm::atan2(sin, cos).to_degrees())
    };
    let mut best = (0.0, f64::NEG_INFINITY);
    for gain in (0..=tries).map(at) {
        let (length, _) = fit(gain);
        if length > best.1 * (1.0 + 1e-9) {
            best = (gain, length);
        }
    }
    // Between the tries, by halving the step.
    let mut step = MOST_GAIN_ERROR / tries.div_ceil(2) as f64;
    for _ in 0..20 {
        step *= 0.5;
        for gain in [best.0 - step, best.0 + step] {
            let (length, _) = fit(gain);
            if length > best.1 && gain.abs() <= MOST_GAIN_ERROR {
                best = (gain, length);
            }
        }
    }
    let gain = best.0;
    let zero = fit(gain).1 - gain * middle;
    let mut coefficients = DVector::zeros(BASE);
    coefficients[ZERO] = zero;
    coefficients[GAIN] = gain;
    let distances = turned.iter().zip(&readings);
    let distances =
        distances.map(|(t, p)| residual_finite(t - p - zero - gain * p, TURN_DEG).abs());
    FirstGuess {
        coefficients,
        distance_deg: distances.sum::<f64>() / turned.len().max(1) as f64,
    }
}
