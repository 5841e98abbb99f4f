//! Mean, spread and quantiles of one figure.

use super::Histogram;

/// Count, mean and sum of squared deviations.
///
/// Sums are taken about the first value, and a constant figure has a spread of exactly 0. The relative error of the
/// variance grows with the square of the distance between first value and mean, in units of the spread: a first value
/// 100 sigma off costs four of the sixteen digits.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Moments {
    n: u64,
    shift: f64,
    sum: f64,
    squares: f64,
}

impl Moments {
    /// Adds a finite value.
    #[inline]
    pub fn push(&mut self, x: f64) {
        if self.n == 0 {
            self.shift = x;
        }
        let d = x - self.shift;
        self.n += 1;
        self.sum += d;
        self.squares += d * d;
    }

    /// Adds a finite value, `times` times.
    pub fn push_many(&mut self, x: f64, times: u64) {
        self.merge(&Self {
            n: times,
            shift: x,
            sum: 0.0,
            squares: 0.0,
        });
    }

    /// Adds the values of another.
    pub fn merge(&mut self, other: &Self) {
        if other.n == 0 {
            return;
        }
        if self.n == 0 {
            *self = *other;
            return;
        }
        let n = other.n as f64;
        let d = other.shift - self.shift;
        self.n += other.n;
        self.sum += other.sum + n * d;
        self.squares += other.squares + 2.0 * d * other.sum + n * d * d;
    }

    /// Number of values.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.n
    }

    /// Their mean; `None` without values.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.n > 0).then(|| self.shift + self.sum / self.n as f64)
    }

    /// Their standard deviation, with `n - 1`; `None` below two values.
    #[must_use]
    pub fn deviation(&self) -> Option<f64> {
        (self.n > 1).then(|| {
            let n = self.n as f64;
            let about_mean = self.squares - self.sum * self.sum / n;
            (about_mean.max(0.0) / (n - 1.0)).sqrt()
        })
    }
}

/// Moments and quantiles of one figure that is not negative.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Spread {
    /// Number of zeros. Many figures are mostly zero.
    zeros: u64,
    /// The moments of the other values.
    moments: Moments,
    histogram: Histogram,
}

impl Spread {
    /// Adds a finite value that is not negative.
    #[inline]
    pub fn push(&mut self, x: f64) {
        if x == 0.0 {
            self.zeros += 1;
        } else {
            self.moments.push(x);
            self.histogram.push(x);
        }
    }

    /// Adds the values of another.
    pub fn merge(&mut self, other: &Self) {
        self.zeros += other.zeros;
        self.moments.merge(&other.moments);
        self.histogram.merge(&other.histogram);
    }

    /// Mean and deviation.
    #[must_use]
    pub fn moments(&self) -> Moments {
        let mut all = self.moments;
        all.push_many(0.0, self.zeros);
        all
    }

    /// Quantiles.
    #[must_use]
    pub fn histogram(&self) -> Histogram {
        let mut all = self.histogram.clone();
        all.push_many(0.0, self.zeros);
        all
    }

    /// Number of values.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.zeros + self.moments.count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1000000.2, then 1000000.1 and 1000000.3 in turn, 1001 values; certified mean 1000000.2 and standard deviation 0.1.
    /// Shows (files): means and deviations. Source: NIST StRD, univariate summary statistics, NumAcc3, 1999.
    #[test]
    fn numacc3_of_the_nist_reference_data_sets() {
        let mut whole = Moments::default();
        let mut parts = [Moments::default(); 7];
        for i in 0..1001 {
            let x = match i {
                0 => 1_000_000.2,
                i if i % 2 == 1 => 1_000_000.1,
                _ => 1_000_000.3,
            };
            whole.push(x);
            parts[i * 7 / 1001].push(x);
        }
        let mut merged = Moments::default();
        for part in &parts {
            merged.merge(part);
        }
        // The data are rounded at 1e-10 of the values: relative 1e-9 of the spread.
        let tolerance = 1e-9;
        for m in [whole, merged] {
            assert!((m.mean().unwrap_or(0.0) - 1_000_000.2).abs() < tolerance);
            assert!((m.deviation().unwrap_or(0.0) - 0.1).abs() < tolerance);
        }
    }

    #[test]
    fn too_few_values_have_no_spread() {
        let mut m = Moments::default();
        assert_eq!(m.mean(), None);
        m.push(3.0);
        assert_eq!((m.mean(), m.deviation()), (Some(3.0), None));
        m.push(3.0);
        assert_eq!(m.deviation(), Some(0.0));
    }
}
