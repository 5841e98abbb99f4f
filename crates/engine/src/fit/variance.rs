//! Repeatability error against solve noise: the variance components of a log with repeated solves.
//!
//! Rows without a move between them (a dwell) share their repeatability error. The rest of the model is the same for
//! them too. A log is therefore equivalent to the means of its dwells, with variance `repeatability_error^2 + noise^2
//! / n`, and the scatter within them, which is noise alone. Restricted maximum likelihood finds both (Patterson &
//! Thompson 1971, Biometrika 58, 545), with an allowance for the fitted parameters.

use nalgebra::{DMatrix, DVector};

use super::interval::{chi_square_tails, normal_two_sided};
use super::least_squares::{LeastSquares, solve};
use super::model::Problem;
use super::search::{crossing, golden};
use crate::summary::CONFIDENCE;

/// Fewest repeated solves (rows beyond the first of each dwell) that tell the two apart.
const LEAST_REPEATS: usize = 4;

/// A smaller variance is rounding \[deg^2\].
const LEAST_VARIANCE: f64 = 1e-16;

/// The used rows, grouped by dwell.
#[derive(Debug, Clone)]
pub(super) struct Dwells {
    /// For each dwell, the places of its rows among the solved rows.
    pub(super) members: Vec<Vec<usize>>,
}

impl Dwells {
    /// The dwells of the solved rows that `used` marks. A row of `breaks` begins a new dwell.
    pub(super) fn of(problem: &Problem, used: &[bool], breaks: &[usize]) -> Self {
        let mut members: Vec<Vec<usize>> = Vec::new();
        let mut last = None;
        for (place, row) in problem.rows.iter().enumerate().filter(|(i, _)| used[*i]) {
            // A jump of the zero point splits a dwell.
            let part = breaks.iter().filter(|at| row >= *at).count();
            let key = Some((problem.track.dwells[*row], part));
            match members.last_mut() {
                Some(dwell) if key == last => dwell.push(place),
                _ => members.push(vec![place]),
            }
            last = key;
        }
        Self { members }
    }

    /// The mean over each dwell.
    pub(super) fn means(&self, values: &DVector<f64>) -> DVector<f64> {
        let mean =
            |dwell: &Vec<usize>| dwell.iter().map(|i| values[*i]).sum::<f64>() / dwell.len() as f64;
        DVector::from_iterator(self.members.len(), self.members.iter().map(mean))
    }

    /// The mean of each column over each dwell.
    pub(super) fn mean_columns(&self, columns: &DMatrix<f64>) -> DMatrix<f64> {
        let mean = |i: usize, j: usize| {
            let dwell = &self.members[i];
            dwell.iter().map(|k| columns[(*k, j)]).sum::<f64>() / dwell.len() as f64
        };
        DMatrix::from_fn(self.members.len(), columns.ncols(), mean)
    }

    /// Sum of squares about the means of the dwells, and its degrees of freedom.
    pub(super) fn within(&self, values: &DVector<f64>) -> (f64, usize) {
        let means = self.means(values);
        let dwells = self.members.iter().zip(means.iter());
        let about = |(dwell, mean): (&Vec<usize>, &f64)| -> f64 {
            dwell.iter().map(|i| (values[*i] - mean).powi(2)).sum()
        };
        let rows: usize = self.members.iter().map(Vec::len).sum();
        (dwells.map(about).sum(), rows - self.members.len())
    }

    /// Inverse variances of the means, for these variances \[deg^2\].
    pub(super) fn weights(&self, repeatability_error: f64, noise: f64) -> DVector<f64> {
        let variance = |dwell: &Vec<usize>| repeatability_error + noise / dwell.len() as f64;
        let weights = self
            .members
            .iter()
            .map(|d| 1.0 / variance(d).max(LEAST_VARIANCE));
        DVector::from_iterator(self.members.len(), weights)
    }
}

/// A variance with its interval \[deg^2\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Variance {
    pub(super) value: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

/// The variance components of a log.
#[derive(Debug, Clone)]
pub(super) struct Components {
    pub(super) repeatability_error: Variance,
    pub(super) noise: Variance,
    /// Sum of the two.
    pub(super) total: f64,
    /// Whether the repeated solves are enough to tell the two apart.
    pub(super) separable: bool,
}

/// The restricted likelihood of one linear model.
struct Likelihood<'a> {
    dwells: &'a Dwells,
    columns: &'a DMatrix<f64>,
    means: &'a DVector<f64>,
    within: f64,
    within_freedom: usize,
}

impl Likelihood<'_> {
    fn fit(&self, repeatability_error: f64, noise: f64) -> LeastSquares {
        solve(
            self.columns,
            self.means,
            &self.dwells.weights(repeatability_error, noise),
        )
    }

    /// Minus twice the logarithm of the restricted likelihood, up to a constant.
    fn deviance(&self, repeatability_error: f64, noise: f64) -> f64 {
        let fit = self.fit(repeatability_error, noise);
        let between: f64 = self
            .dwells
            .weights(repeatability_error, noise)
            .iter()
            .map(|w| -libm::log(*w))
            .sum();
        between
            + fit.log_determinant
            + fit.sum_of_squares
            + self.within_freedom as f64 * libm::log(noise)
            + self.within / noise
    }

    /// For a repeatability error of `ratio` times the noise: the best variance of the noise, and the deviance there.
    fn at_ratio(&self, ratio: f64) -> (f64, f64) {
        let fit = self.fit(ratio, 1.0);
        let freedom = (fit.freedom() + self.within_freedom).max(1) as f64;
        let noise = ((fit.sum_of_squares + self.within) / freedom).max(LEAST_VARIANCE);
        let between: f64 = self
            .dwells
            .weights(ratio, 1.0)
            .iter()
            .map(|w| -libm::log(*w))
            .sum();
        (
            noise,
            freedom * libm::log(noise) + between + fit.log_determinant,
        )
    }
}

/// Finds both variances. With `widened`, a factor on the cutoff for the noise, also their intervals: profiles of the
/// likelihood, with the factor of Bartlett (1937, Proc. R. Soc. A 160, 268) for few degrees of freedom. Where that of the repeatability reaches 0 it is a bound: all 5 %
/// lie above it.
///
/// `columns` and `values` belong to the solved rows; the columns are the same within a dwell.
pub(super) fn components(
    dwells: &Dwells,
    columns: &DMatrix<f64>,
    values: &DVector<f64>,
    widened: Option<f64>,
) -> Components {
    let (within, within_freedom) = dwells.within(values);
    let likelihood = Likelihood {
        dwells,
        columns: &dwells.mean_columns(columns),
        means: &dwells.means(values),
        within,
        within_freedom,
    };
    let plain = likelihood.fit(0.0, 1.0);
    let freedom = plain.freedom();
    if within_freedom < LEAST_REPEATS || freedom < LEAST_REPEATS {
        let all = freedom + within_freedom;
        let sum = plain.sum_of_squares + within;
        let total = (sum / all.max(1) as f64).max(LEAST_VARIANCE);
        let high = match all {
            0 => f64::INFINITY,
            all => sum / chi_square_tails(all as f64).0,
        };
        let unknown = |value| Variance {
            value,
            low: 0.0,
            high,
        };
        return Components {
            repeatability_error: unknown(0.0),
            noise: unknown(total),
            total,
            separable: false,
        };
    }
    let by_log = |log: f64| likelihood.at_ratio(libm::exp(log)).1;
    // Ratios of the deviations from 1 : 1000 to 100 : 1.
    let log_ratio = golden(by_log, -13.8, 9.2, 26);
    let at_zero = likelihood.at_ratio(0.0);
    let at_best = likelihood.at_ratio(libm::exp(log_ratio));
    let (repeatability_error, noise, least) = if at_zero.1 <= at_best.1 {
        (0.0, at_zero.0, likelihood.deviance(0.0, at_zero.0))
    } else {
        let repeatability_error = libm::exp(log_ratio) * at_best.0;
        (
            repeatability_error,
            at_best.0,
            likelihood.deviance(repeatability_error, at_best.0),
        )
    };
    let point = |value| Variance {
        value,
        low: value,
        high: value,
    };
    let found = Components {
        repeatability_error: point(repeatability_error),
        noise: point(noise),
        total: repeatability_error + noise,
        separable: true,
    };
    let Some(widened) = widened else {
        return found;
    };
    // Given one deviation, the other takes its best value.
    let deviation = noise.sqrt();
    let for_noise = |noise: f64| {
        let most = 4.0 * (repeatability_error + noise + deviation * deviation).sqrt();
        let best = golden(|s| likelihood.deviance(s * s, noise), 0.0, most, 18);
        let least_here = likelihood.deviance(best * best, noise);
        least_here.min(likelihood.deviance(0.0, noise))
    };
    let for_repeatability_error = |repeatability_error: f64| {
        let log = |d: f64| likelihood.deviance(repeatability_error, noise * libm::exp(d));
        log(golden(log, -2.0, 2.0, 18))
    };
    let beyond = 1.0 - CONFIDENCE;
    let spread = ((repeatability_error + noise) / freedom as f64).sqrt();
    let cutoff = |freedom: usize, beyond: f64| {
        (1.0 + 1.0 / (3.0 * freedom as f64)) * normal_two_sided(beyond).powi(2)
    };
    let end = |step: f64, end: f64, beyond: f64| {
        let excess = |d: f64| for_repeatability_error(d * d) - least - cutoff(freedom, beyond);
        crossing(excess, repeatability_error.sqrt(), step, end).powi(2)
    };
    let step = deviation / (2.0 * within_freedom as f64).sqrt();
    let noise_end = |step: f64, end: f64| {
        let excess = |d: f64| for_noise(d * d) - least - widened * cutoff(within_freedom, beyond);
        crossing(excess, deviation, step, end).powi(2)
    };
    let low = if repeatability_error > 0.0 {
        end(-spread, 0.0, beyond)
    } else {
        0.0
    };
    let above = if low > 0.0 { beyond } else { 2.0 * beyond };
    Components {
        repeatability_error: Variance {
            value: repeatability_error,
            low,
            high: end(spread, f64::INFINITY, above),
        },
        noise: Variance {
            value: noise,
            low: noise_end(-step, 1e-3 * deviation),
            high: noise_end(step, f64::INFINITY),
        },
        ..found
    }
}
