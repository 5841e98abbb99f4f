//! The normal distribution: density, and the probability of an interval, right far into the tails.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Standard normal density.
#[inline]
pub(super) fn density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

/// Probability beyond `z`, to a small relative error also where it is tiny.
#[inline]
pub(super) fn beyond(z: f64) -> f64 {
    0.5 * libm::erfc(z * FRAC_1_SQRT_2)
}

/// One end of an interval, in sigma, with the smaller of the two tails that it parts.
///
/// Neighbouring intervals share an end, so its tail is computed once.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    z: f64,
    tail: f64,
}

impl End {
    /// An end at `z` sigma.
    #[inline]
    pub(super) fn at(z: f64) -> Self {
        Self {
            z,
            tail: beyond(z.abs()),
        }
    }

    /// Probability between this end and a higher one; 0 where it is not higher.
    #[inline]
    pub(super) fn to(self, high: Self) -> f64 {
        let p = if self.z > 0.0 {
            self.tail - high.tail
        } else if high.z < 0.0 {
            high.tail - self.tail
        } else {
            // Both tails are at most one half.
            (0.5 - self.tail) + (0.5 - high.tail)
        };
        if high.z > self.z && p > 0.0 { p } else { 0.0 }
    }
}

/// Probability of the interval from `low` to `high`, in sigma.
#[inline]
pub(super) fn between(low: f64, high: f64) -> f64 {
    End::at(low).to(End::at(high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz & Stegun (1964), Handbook of Mathematical Functions, tables 26.1 (Q(1), Q(2), Q(3)) and
    /// 26.2 (-log10 Q at 5, 6 and 8); values from memory.
    #[test]
    fn tails_are_those_of_the_handbook() {
        for (z, q) in [
            (0.0, 0.5),
            (1.0, 0.158_655_253_9),
            (2.0, 0.022_750_131_95),
            (3.0, 0.001_349_898_032),
        ] {
            assert!((beyond(z) / q - 1.0).abs() < 1e-9, "{z}");
        }
        for (z, log) in [(5.0, 6.54265), (6.0, 9.00586), (8.0, 15.20614)] {
            assert!((-beyond(z).log10() - log).abs() < 1e-5, "{z}");
        }
    }

    #[test]
    fn intervals_add_up_and_keep_their_precision_in_the_tail() {
        let parts: f64 = (-90..90)
            .map(|i| between(f64::from(i) * 0.1, f64::from(i + 1) * 0.1))
            .sum();
        assert!((parts - 1.0).abs() < 1e-14, "{parts}");
        let ends = beyond(7.0) - beyond(7.5);
        assert_eq!(between(7.0, 7.5), ends);
        assert_eq!(between(-7.5, -7.0), ends);
        assert_eq!(between(1.0, 1.0), 0.0);
        assert_eq!(between(2.0, 1.0), 0.0);
    }
}
