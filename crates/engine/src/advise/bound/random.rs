//! The random part of the bound: repeatability error and solve noise before and after a swing.

use crate::rig::RigSettings;

/// Halvings of the search for a quantile: to the last bits of a number.
const HALVINGS: u32 = 80;

/// Repeatability error and solve noise of one solve.
pub(super) struct Random {
    /// \[deg\]
    repeatability_error_deg: f64,
    noise_deg: f64,
    outlier_deg: f64,
    outlier_rate: f64,
}

impl Random {
    pub(super) fn of(s: &RigSettings) -> Self {
        Self {
            repeatability_error_deg: s.drive.repeatability_deg,
            noise_deg: s.solve.noise_deg,
            outlier_deg: s.solve.outlier_deg,
            outlier_rate: s.solve.outlier_rate,
        }
    }

    /// Two-sided quantile of the difference of two solves \[deg\]: it is exceeded with this probability.
    pub(super) fn pair_quantile_deg(&self, tail: f64) -> f64 {
        self.quantile_deg(tail, self.outlier_rate)
    }

    /// What repeatability error, solve noise and outliers add to that quantile \[deg\]: the first two share what there would
    /// be without outliers by their variances.
    pub(super) fn parts_deg(&self, tail: f64) -> (f64, f64, f64) {
        let plain_deg = self.quantile_deg(tail, 0.0);
        let variances = self.repeatability_error_deg.powi(2) + self.noise_deg.powi(2);
        let repeatability_error = if variances > 0.0 {
            self.repeatability_error_deg.powi(2) / variances
        } else {
            0.0
        };
        let outliers_deg = (self.pair_quantile_deg(tail) - plain_deg).max(0.0);
        (
            plain_deg * repeatability_error,
            plain_deg * (1.0 - repeatability_error),
            outliers_deg,
        )
    }

    fn quantile_deg(&self, tail: f64, rate: f64) -> f64 {
        // Neither, one or both of the two solves is an outlier: Tukey's mixture, twice.
        let spread = |first: f64, second: f64| {
            (2.0 * self.repeatability_error_deg.powi(2) + first.powi(2) + second.powi(2)).sqrt()
        };
        let (plain, wild) = (self.noise_deg, self.outlier_deg);
        let kinds = [
            ((1.0 - rate).powi(2), spread(plain, plain)),
            (2.0 * rate * (1.0 - rate), spread(plain, wild)),
            (rate.powi(2), spread(wild, wild)),
        ];
        let beyond = |x: f64| -> f64 {
            let of = |(weight, sd): &(f64, f64)| {
                if *sd > 0.0 {
                    weight * libm::erfc(x / (sd * std::f64::consts::SQRT_2))
                } else {
                    0.0
                }
            };
            kinds.iter().map(of).sum()
        };
        let widest = kinds.iter().fold(0.0_f64, |w, (_, sd)| w.max(*sd));
        let (mut low, mut high) = (0.0, 40.0 * widest);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if beyond(middle) > tail {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }
}
