//! The normal distribution: density, and the probability of an interval, right far into the tails.

use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::sync::LazyLock;

/// Standard normal density.
#[inline]
pub(super) fn density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

/// Probability beyond `z`, to a small relative error also where it is tiny.
#[inline]
pub(super) fn beyond(z: f64) -> f64 {
    if z >= FARTHEST {
        0.0
    } else if z >= 0.0 {
        density(z) * mills(z)
    } else {
        1.0 - density(z) * mills(-z)
    }
}

/// Terms of a series of the Mills ratio.
const TERMS: usize = 10;
/// Centres of series in one sigma.
const CENTRES: f64 = 16.0;
/// Series reach this far \[sigma\]; beyond lies less than the least float.
const FARTHEST: f64 = 38.0;

/// Taylor series of the Mills ratio, `beyond(z) / density(z)`, about evenly spaced centres. The ratio `M` fulfils
/// `M' = z M - 1`, from which all derivatives follow.
static SERIES: LazyLock<Vec<[f64; TERMS]>> = LazyLock::new(|| {
    let centres = (0..=(FARTHEST * CENTRES) as usize).map(|i| i as f64 / CENTRES);
    centres
        .map(|z| {
            let mut terms = [0.0; TERMS];
            terms[0] = if z < 10.0 {
                0.5 * libm::erfc(z * FRAC_1_SQRT_2) / density(z)
            } else {
                // Laplace's continued fraction (Abramowitz & Stegun 1964, 26.2.14).
                1.0 / (1..60).rev().fold(z, |rest, k| z + f64::from(k) / rest)
            };
            terms[1] = z * terms[0] - 1.0;
            for n in 1..TERMS - 1 {
                // The derivative of order n + 1, over its factorial.
                terms[n + 1] = (z * terms[n] + terms[n - 1]) / (n + 1) as f64;
            }
            terms
        })
        .collect()
});

/// The Mills ratio for `z` from 0 to [`FARTHEST`].
#[inline]
fn mills(z: f64) -> f64 {
    let centre = (z * CENTRES + 0.5) as usize;
    let t = z - centre as f64 / CENTRES;
    let terms = &SERIES[centre];
    terms.iter().rev().fold(0.0, |sum, term| sum * t + term)
}

/// Ends at even distances, from below to above, with one exponential for all of them.
#[derive(Debug)]
pub(super) struct Ladder {
    z: f64,
    step: f64,
    density: f64,
    /// Next density over this one.
    ratio: f64,
    /// Next ratio over this one.
    bend: f64,
}

impl Ladder {
    /// What all ladders of one step have in common.
    pub(super) fn bend(step: f64) -> f64 {
        libm::exp(-step * step)
    }

    /// Ends at `z`, `z + step`, and so on.
    pub(super) fn new(z: f64, step: f64, bend: f64) -> Self {
        Self {
            z,
            step,
            density: density(z),
            ratio: libm::exp(-step * (z + 0.5 * step)),
            bend,
        }
    }

    /// The next end.
    #[inline]
    pub(super) fn climb(&mut self) -> PieceEnd {
        let away = self.z.abs();
        let end = PieceEnd {
            z: self.z,
            tail: if away < FARTHEST {
                self.density * mills(away)
            } else {
                0.0
            },
        };
        self.z += self.step;
        self.density *= self.ratio;
        self.ratio *= self.bend;
        end
    }
}

/// One end of an interval, in sigma, with the smaller of the two tails that it parts.
///
/// Neighbouring intervals share an end, so its tail is computed once.
#[derive(Debug, Clone, Copy)]
pub(super) struct PieceEnd {
    z: f64,
    tail: f64,
}

impl PieceEnd {
    /// An end at `z` sigma.
    #[inline]
    pub(super) fn at(z: f64) -> Self {
        Self {
            z,
            tail: beyond(z.abs()),
        }
    }

    /// How far from the mean, in sigma.
    pub(super) fn sigmas(self) -> f64 {
        self.z
    }

    /// The end as far on the other side of the mean.
    pub(super) fn mirrored(self) -> Self {
        Self { z: -self.z, ..self }
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
    PieceEnd::at(low).to(PieceEnd::at(high))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table 26.1 has Q(1), Q(2), Q(3), table 26.2 -log10 Q at 5, 6 and 8.
    /// Shows (exact): tails keep twelve digits. With: `ladders_and_series_agree_with_the_library`,
    /// `intervals_add_up_and_keep_their_precision_in_the_tail`. Source: Abramowitz & Stegun 1964, tables 26.1 and 26.2
    /// (from memory); statrs.
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
    fn ladders_and_series_agree_with_the_library() {
        for step in [0.05, 0.71, 3.0] {
            let mut ladder = Ladder::new(-9.1, step, Ladder::bend(step));
            for i in 0..(18.0 / step) as usize {
                let z = -9.1 + i as f64 * step;
                let exact = 0.5 * libm::erfc(z.abs() * FRAC_1_SQRT_2);
                let end = ladder.climb();
                assert!((end.tail / exact - 1.0).abs() < 1e-11, "{step} {z}");
                assert!((beyond(z.abs()) / exact - 1.0).abs() < 1e-13, "{z}");
            }
        }
        for z in [9.99, 10.01, 20.3, 35.0] {
            let exact = 0.5 * libm::erfc(z * FRAC_1_SQRT_2);
            assert!((beyond(z) / exact - 1.0).abs() < 1e-12, "{z}");
        }
        assert_eq!(beyond(-1.0), 1.0 - beyond(1.0));
        assert_eq!(beyond(40.0), 0.0);
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
