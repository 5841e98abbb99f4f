//! Which rows are outliers, and how often outliers come: the contaminated normal distribution of docs/model.md,
//! section 3.

use super::interval::student_two_sided;

/// Probability of finding an outlier in a log that has none.
const FALSE_ALARM: f64 = 1e-3;

/// Outliers are at least this many times as wide as the other errors.
const LEAST_WIDTH: f64 = 3.0;

/// Rounds of the EM algorithm.
const ROUNDS: usize = 60;

/// The outliers in a set of residuals.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Outliers {
    /// For each residual, whether it is an outlier.
    pub(super) flags: Vec<bool>,
    /// Share of outliers.
    pub(super) rate: f64,
    /// Their error, one standard deviation \[deg\]; `None` without outliers.
    pub(super) sigma_deg: Option<f64>,
}

impl Outliers {
    #[cfg(test)]
    /// Number of flagged residuals.
    pub(super) fn count(&self) -> usize {
        self.flags.iter().filter(|f| **f).count()
    }
}

/// Finds the outliers among `trusted` residuals. `sigmas` are the deviations of their other errors \[deg\], known with
/// `freedom` degrees of freedom.
///
/// The first outlier must be beyond chance, and off by at least `least_deg`. With one, rate and width follow from the mixture of two normal
/// distributions by the EM algorithm (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39, 1). A row that is more
/// likely than not an outlier is flagged.
pub(super) fn outliers(
    residuals: &[f64],
    trusted: &[bool],
    least_deg: f64,
    sigmas: &[f64],
    freedom: usize,
) -> Outliers {
    let count = trusted.iter().filter(|t| **t).count().max(1) as f64;
    let limit = student_two_sided(FALSE_ALARM / count, freedom);
    let beyond = |((r, trusted), sigma): ((&f64, &bool), &f64)| {
        *trusted && r.abs() > least_deg.max(limit * sigma)
    };
    let rows = residuals.iter().zip(trusted).zip(sigmas);
    let mut flags: Vec<bool> = rows.map(beyond).collect();
    let squares = || residuals.iter().map(|r| r * r);
    let taken = |flags: &[bool]| -> Vec<f64> {
        squares()
            .zip(flags)
            .filter_map(|(sq, f)| f.then_some(sq))
            .collect()
    };
    let wide = taken(&flags);
    if wide.is_empty() {
        return Outliers {
            flags,
            rate: 0.0,
            sigma_deg: None,
        };
    }
    let variances: Vec<f64> = sigmas.iter().map(|s| s * s).collect();
    let usual = variances.iter().copied().fold(f64::INFINITY, f64::min);
    let least = LEAST_WIDTH * LEAST_WIDTH * usual;
    let mut rate = wide.len() as f64 / count;
    let mut width = (wide.iter().sum::<f64>() / wide.len() as f64).max(least);
    let odds = |sq: f64, variance: f64, rate: f64, width: f64| {
        let exponent = 0.5 * sq * (1.0 / variance - 1.0 / width);
        rate / (1.0 - rate).max(1e-9) * (variance / width).sqrt() * libm::exp(exponent.min(700.0))
    };
    for _ in 0..ROUNDS {
        let (mut sum, mut sum_squares) = (0.0, 0.0);
        let rows = squares().zip(&variances).zip(trusted);
        for ((sq, variance), _) in rows.filter(|(_, t)| **t) {
            let odds = odds(sq, *variance, rate, width);
            let share = odds / (1.0 + odds);
            sum += share;
            sum_squares += share * sq;
        }
        rate = (sum / count).clamp(1e-6, 0.9);
        width = (sum_squares / sum.max(1e-12)).max(least);
    }
    let rows = squares().zip(&variances).zip(trusted);
    for (flag, ((sq, variance), trusted)) in flags.iter_mut().zip(rows) {
        *flag |= *trusted && odds(sq, *variance, rate, width) > 1.0;
    }
    Outliers {
        flags,
        rate,
        sigma_deg: Some(width.sqrt()),
    }
}

/// A scale of residuals that outliers do not move: their median absolute value, as a standard deviation.
///
/// A fit of least absolute residuals makes as many of them 0 as it has parameters (`fitted`). These are left out.
pub(super) fn robust_sigma(residuals: impl Iterator<Item = f64>, fitted: usize) -> f64 {
    /// Standard deviation of a normal variable over its median absolute value.
    const PER_MEDIAN: f64 = 1.482_602_218_505_602;
    let mut sizes: Vec<f64> = residuals.map(f64::abs).collect();
    sizes.sort_by(f64::total_cmp);
    let sizes = &sizes[fitted.min(sizes.len() / 2)..];
    let median = match sizes.len() {
        0 => 0.0,
        n if n.is_multiple_of(2) => 0.5 * (sizes[n / 2 - 1] + sizes[n / 2]),
        n => sizes[n / 2],
    };
    PER_MEDIAN * median
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (fit): outliers: none is found where there is none, and a tenth of them is. With:
    /// `a_tenth_of_outliers_is_found`. Source: Tukey 1960, simulated.
    #[test]
    fn none_is_found_where_there_is_none() {
        let residuals: Vec<f64> = (0..100).map(|i| 0.03 * f64::from(i - 50) / 50.0).collect();
        let found = outliers(&residuals, &[true; 100], 0.0, &[0.0175; 100], 90);
        assert_eq!((found.count(), found.rate, found.sigma_deg), (0, 0.0, None));
    }

    #[test]
    fn a_tenth_of_outliers_is_found() {
        let mut residuals: Vec<f64> = (0..100).map(|i| 0.03 * f64::from(i - 50) / 50.0).collect();
        for i in 0..10 {
            residuals[10 * i] = if i % 2 == 0 { 2.0 } else { -2.0 };
        }
        let found = outliers(&residuals, &[true; 100], 0.0, &[0.0175; 100], 90);
        assert_eq!(found.count(), 10);
        assert!((found.rate - 0.1).abs() < 5e-3, "{}", found.rate);
        assert!((found.sigma_deg.unwrap_or(0.0) - 2.0).abs() < 0.05);
    }
}
