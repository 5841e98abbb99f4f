//! Estimates with their intervals.

use crate::summary::CONFIDENCE;
pub(super) use crate::summary::distribution::normal_two_sided;
use crate::summary::distribution::{self, chi_square_quantile, f_beyond, gamma_below};
use serde::Serialize;

/// One parameter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Standard error; `None` where the log does not tell.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub se: Option<f64>,
    /// Lower end of the 95 % interval; `None` where there is none.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// The log tells the parameter well enough to be of use.
    pub identifiable: bool,
}

impl Estimate {
    /// A value of which the log says nothing.
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

    /// Half the width of the interval; infinite where there is none.
    #[must_use]
    pub fn half_width(&self) -> f64 {
        match (self.low, self.high) {
            (Some(low), Some(high)) => 0.5 * (high - low),
            _ => f64::INFINITY,
        }
    }
}

/// Upper tail of the intervals: half of what they leave out.
const TAIL: f64 = 0.5 * (1.0 - CONFIDENCE);

/// Factor of a standard error in an interval, for so many degrees of freedom.
pub(super) fn student(freedom: usize) -> f64 {
    student_two_sided(1.0 - CONFIDENCE, freedom)
}

/// The ends between which a chi-square variable lies as often as an interval promises.
pub(super) fn chi_square_tails(freedom: f64) -> (f64, f64) {
    if freedom.is_nan() || freedom <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    let end = |probability| chi_square_quantile(freedom, probability);
    (end(TAIL), end(1.0 - TAIL))
}

/// Size that a Student variable exceeds, to either side, with this probability.
pub(super) fn student_two_sided(probability: f64, freedom: usize) -> f64 {
    /// Beyond so many degrees of freedom the two distributions are the same.
    const NORMAL_FROM: usize = 100_000;
    if freedom >= NORMAL_FROM {
        return normal_two_sided(probability);
    }
    distribution::student_two_sided(probability, freedom.max(1) as f64)
}

/// Probability that an F variable with 1 and so many degrees of freedom is larger.
pub(super) fn f_tail(f: f64, freedom: usize) -> f64 {
    if f.is_nan() || f <= 0.0 {
        return 1.0;
    }
    f_beyond(f, freedom.max(1) as f64)
}

/// The length of a vector of two normal components with deviation `sigma`, measured as `length`: an interval for
/// its true length.
///
/// The square of the measured length is a noncentral chi-square variable of two degrees of freedom, whose
/// distribution function is inverted (a sum of central ones; Johnson, Kotz & Balakrishnan 1995, "Continuous
/// Univariate Distributions" 2, equation 29.2). Near 0 the plain interval would be wrong: a length has a bias.
pub(super) fn length_interval(length: f64, sigma: f64, factor: f64) -> (f64, f64) {
    if sigma <= 0.0 || length / sigma > 12.0 {
        return ((length - factor * sigma).max(0.0), length + factor * sigma);
    }
    // Few degrees of freedom widen the interval as they do for one component.
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
    // What is measured is never outside.
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

    /// Both ways of computing meet where one takes over from the other.
    #[test]
    fn lengths_far_from_zero_have_the_plain_interval() {
        let (low, high) = length_interval(11.99, 1.0, 1.96);
        // The bias of a length, 1 / (2 length), is taken off.
        assert!((low - 10.03).abs() < 0.06, "{low}");
        assert!((high - 13.95).abs() < 0.06, "{high}");
        assert_eq!(length_interval(0.0, 0.0, 2.0), (0.0, 0.0));
        let (low, high) = length_interval(0.1, 1.0, 1.96);
        assert!(low == 0.0 && high >= 0.1);
    }
}
