//! Estimates with their intervals.

use crate::summary::CONFIDENCE;
pub(super) use crate::summary::distribution::normal_two_sided;
use crate::summary::distribution::{self, chi_square_quantile, f_beyond, gamma_below};
use serde::Serialize;

/// One parameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Estimate {
    /// Best value, in the unit of the parameter.
    pub value: f64,
    /// Standard error; `None` if the log does not tell the parameter.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub se: Option<f64>,
    /// Lower end of the 95 % interval; `None` if it has none.
    pub low: Option<f64>,
    /// Upper end; `None` if it has none.
    pub high: Option<f64>,
    /// Whether the log tells the parameter well enough to be useful.
    pub identifiable: bool,
}

impl Estimate {
    /// A value about which the log says nothing.
    pub(super) fn unknown(value: f64) -> Self {
        Self {
            value,
            se: None,
            low: None,
            high: None,
            identifiable: false,
        }
    }

    /// A value with a symmetric interval.
    pub(super) fn symmetric(value: f64, se: f64, factor: f64) -> Self {
        Self {
            value,
            se: Some(se),
            low: Some(value - factor * se),
            high: Some(value + factor * se),
            identifiable: true,
        }
    }

    /// Widens the interval to hold that of `other`, whose ends `at` puts beside this one.
    pub(super) fn allow_for(&mut self, other: Self, at: impl Fn(f64) -> f64) {
        if let (Some(low), Some(high)) = (other.low, other.high) {
            self.low = self.low.map(|own| own.min(at(low)));
            self.high = self.high.map(|own| own.max(at(high)));
        }
    }

    /// Half the width of the interval; infinite if it lacks an end.
    #[must_use]
    pub fn half_width(&self) -> f64 {
        match (self.low, self.high) {
            (Some(low), Some(high)) => 0.5 * (high - low),
            _ => f64::INFINITY,
        }
    }
}

/// Probability beyond either end of an interval.
const TAIL: f64 = 0.5 * (1.0 - CONFIDENCE);

/// Half width of a 95 % interval in standard errors, for these degrees of freedom.
#[must_use]
pub fn student(freedom: usize) -> f64 {
    student_two_sided(1.0 - CONFIDENCE, freedom)
}

/// Chi-square values with these degrees of freedom: a variable lies between them as often as an interval promises.
pub(super) fn chi_square_tails(freedom: f64) -> (f64, f64) {
    if freedom.is_nan() || freedom <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    let end = |probability| chi_square_quantile(freedom, probability);
    (end(TAIL), end(1.0 - TAIL))
}

/// Absolute value that a Student variable exceeds with this probability.
pub(super) fn student_two_sided(probability: f64, freedom: usize) -> f64 {
    /// From this many degrees of freedom the two distributions are the same.
    const NORMAL_FROM: usize = 100_000;
    if freedom >= NORMAL_FROM {
        return normal_two_sided(probability);
    }
    distribution::student_two_sided(probability, freedom.max(1) as f64)
}

/// Probability that an F variable with 1 and `freedom` degrees of freedom is larger than `f`.
pub(super) fn f_tail(f: f64, freedom: usize) -> f64 {
    if f.is_nan() || f <= 0.0 {
        return 1.0;
    }
    f_beyond(f, freedom.max(1) as f64)
}

/// An interval for the true length of a vector of two normal components with deviation `sigma`, measured as `length`.
///
/// The square of the measured length is a noncentral chi-square variable of two degrees of freedom. Its distribution
/// function, a sum of central ones, is inverted (Johnson, Kotz & Balakrishnan 1995, "Continuous Univariate
/// Distributions" 2, equation 29.2). Near 0 the plain interval would be wrong, because a measured length is too long
/// on average.
pub(super) fn length_interval(length: f64, sigma: f64, factor: f64) -> (f64, f64) {
    if sigma <= 0.0 || length / sigma > 12.0 {
        return ((length - factor * sigma).max(0.0), length + factor * sigma);
    }
    // Few degrees of freedom widen the interval by the same factor as for one component.
    let unit = sigma * factor / normal_two_sided(1.0 - CONFIDENCE);
    let x = (length / unit).powi(2);
    let below = |true_length: f64| noncentral_below(x, true_length.powi(2));
    let solve = |probability: f64| {
        let (mut low, mut high) = (0.0, length / unit + 8.0);
        if below(0.0) <= probability {
            return 0.0;
        }
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if below(middle) > probability {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high) * unit
    };
    // The measured length is never outside its interval.
    (solve(1.0 - TAIL).min(length), solve(TAIL).max(length))
}

/// Distribution function of the noncentral chi-square of two degrees of freedom.
fn noncentral_below(x: f64, noncentrality: f64) -> f64 {
    let half = 0.5 * noncentrality;
    let mut weight = libm::exp(-half);
    let (mut sum, mut weights) = (0.0, 0.0);
    let mut j = 0.0;
    while weights < 1.0 - 1e-12 && j < 1000.0 {
        sum += weight * gamma_below(1.0 + j, 0.5 * x);
        weights += weight;
        j += 1.0;
        weight *= half / j;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `ncx2.cdf(x, 2, nc)`, `t.ppf(0.975, 10)`, `f.sf(4, 1, 20)`.
    /// Shows (fit): amplitude: noncentral chi-square; F and t. With: `lengths_far_from_zero_have_the_plain_interval`.
    /// Source: scipy 1.17.1.
    #[test]
    fn distributions_agree_with_scipy() {
        let table = [
            (1.0, 0.5, 0.324_350_703_705_095_5),
            (9.0, 4.0, 0.785_637_911_837_350_7),
            (150.0, 140.0, 0.645_689_354_156_204),
        ];
        for (x, nc, expected) in table {
            let found = noncentral_below(x, nc);
            assert!((found - expected).abs() < 1e-9, "{x} {nc}: {found}");
        }
        assert!((student(10) - 2.228_138_851_986_274).abs() < 1e-9);
        assert!((f_tail(4.0, 20) - 0.059_265_535_446_570_44).abs() < 1e-9);
    }

    /// The two ways to compute it agree where one takes over from the other.
    #[test]
    fn lengths_far_from_zero_have_the_plain_interval() {
        let (low, high) = length_interval(11.99, 1.0, 1.96);
        // The bias of a length, 1 / (2 length), is removed.
        assert!((low - 10.03).abs() < 0.06, "{low}");
        assert!((high - 13.95).abs() < 0.06, "{high}");
        assert_eq!(length_interval(0.0, 0.0, 2.0), (0.0, 0.0));
        let (low, high) = length_interval(0.1, 1.0, 1.96);
        assert!(low == 0.0 && high >= 0.1);
    }
}
