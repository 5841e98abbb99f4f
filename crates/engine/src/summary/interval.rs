//! 95 % intervals: of a rate, of a mean, of a quantile.

use super::distribution::binomial_quantile;
use crate::tally::Moments;

/// Confidence of every interval.
pub const CONFIDENCE: f64 = 0.95;

/// The 97.5 % quantile of the standard normal distribution.
const Z: f64 = 1.959_963_984_540_054;

/// Above this many trials, the ranks come from the normal distribution.
const EXACT_RANKS: u64 = 100_000;

/// An interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The Wilson score interval of a rate, `count` of `trials`; all of `[0, 1]` without a trial.
///
/// Wilson (1927), J. Am. Stat. Assoc. 22, 209.
#[must_use]
pub fn wilson(count: u64, trials: u64) -> Interval {
    if trials == 0 {
        return Interval {
            low: 0.0,
            high: 1.0,
        };
    }
    let n = trials as f64;
    let p = count as f64 / n;
    let z2 = Z * Z / n;
    let centre = (p + 0.5 * z2) / (1.0 + z2);
    let half = Z * (p * (1.0 - p) / n + 0.25 * z2 / n).sqrt() / (1.0 + z2);
    Interval {
        // At 0 and 1 the interval ends exactly there. Rounding must not move it.
        low: if count == 0 {
            0.0
        } else {
            (centre - half).max(0.0)
        },
        high: if count == trials {
            1.0
        } else {
            (centre + half).min(1.0)
        },
    }
}

/// Half width of the normal-theory interval of a mean; `None` below two values.
pub(super) fn half_width(moments: &Moments) -> Option<f64> {
    Some(Z * moments.deviation()? / (moments.count() as f64).sqrt())
}

/// The normal-theory interval of a mean; `None` below two values.
#[must_use]
pub fn mean_interval(moments: &Moments) -> Option<Interval> {
    let half = half_width(moments)?;
    let mean = moments.mean()?;
    Some(Interval {
        low: mean - half,
        high: mean + half,
    })
}

/// The ranks between which the quantile `q` of the distribution lies with at least 95 % confidence, from `n` values;
/// `None` if they are too few for one of the ranks.
///
/// The number of values below the quantile is binomial; Hahn & Meeker (1991), "Statistical Intervals", section 5.2.
#[must_use]
pub fn quantile_ranks(q: f64, n: u64) -> Option<(u64, u64)> {
    let tail = 0.5 * (1.0 - CONFIDENCE);
    let (low, high) = if n == 0 {
        return None;
    } else if n > EXACT_RANKS {
        let mean = n as f64 * q;
        let half = Z * (mean * (1.0 - q)).sqrt();
        (
            (mean - half).floor() as u64,
            (mean + half).ceil() as u64 + 1,
        )
    } else {
        let rank = |probability| binomial_quantile(q, n, probability);
        (rank(tail), rank(1.0 - tail) + 1)
    };
    (low >= 1 && high <= n).then_some((low, high))
}
