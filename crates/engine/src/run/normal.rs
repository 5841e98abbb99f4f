//! Normal deviates from random bits, two at a time.
//!
//! The method of Box & Muller (1958, Ann. Math. Stat. 29, 610): two uniform deviates make two independent normal
//! ones. It takes the same number of bits for every deviate and has no branch. A loop over many runs therefore
//! becomes vector instructions, and all policies stay in step. It uses additions, multiplications, one division and
//! one square root, which IEEE 754 rounds the same everywhere.
//!
//! The radius takes 52 bits. The largest deviate is 8.49; the normal distribution has 2e-17 beyond it.

use crate::angle::{cosine_series, sine_series};

/// Two independent standard normal deviates from two words of random bits.
#[inline(always)]
pub fn normal_pair(a: u64, b: u64) -> (f64, f64) {
    const ONE: u64 = 0x3ff0_0000_0000_0000; // 1.0
    // [1, 2) from 52 bits, turned into (0, 1].
    let uniform = 2.0 - f64::from_bits((a >> 12) | ONE);
    let radius = (-2.0 * ln(uniform)).sqrt();

    // The upper bits give an angle within 45 degrees of an axis, the two lowest bits the axis.
    let eighth = std::f64::consts::FRAC_PI_4;
    let angle = (f64::from_bits((b >> 12) | ONE) - 1.5) * (2.0 * eighth);
    let square = angle * angle;
    let along = radius * cosine_series(square);
    let across = radius * angle * sine_series(square);
    let swapped = b & 1 != 0;
    let (x, y) = if swapped {
        (across, along)
    } else {
        (along, across)
    };
    let sign = (b & 2) << 62;
    (
        f64::from_bits(x.to_bits() ^ sign),
        f64::from_bits(y.to_bits() ^ sign),
    )
}

/// A uniform deviate in `[0, 1)` from the upper 52 bits of a word.
#[inline(always)]
pub(crate) fn uniform(a: u64) -> f64 {
    f64::from_bits((a >> 12) | 0x3ff0_0000_0000_0000) - 1.0
}

/// An exponential deviate with this mean from a word of random bits: the time to the next of events that come one by
/// one and without memory.
pub fn exponential(mean: f64, a: u64) -> f64 {
    -mean * libm::log(1.0 - uniform(a))
}

/// Natural logarithm of a normal float above 0, within 2e-16.
///
/// With `x = m * 2^e` and `m` between the square roots of 1/2 and 2, `ln m = 2 artanh((m - 1) / (m + 1))`. The terms
/// left out of the series are below 1e-18.
#[inline(always)]
fn ln(x: f64) -> f64 {
    const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;
    // The bits of 1 minus those of the square root of 1/2. They carry into the exponent if m is above that root.
    const ROOT: u64 = 0x3ff0_0000_0000_0000 - 0x3fe6_a09e_667f_3bcd;
    let bits = x.to_bits() + ROOT;
    let exponent = bits >> 52; // e + 1023
    let m = f64::from_bits((bits & MANTISSA) + 0x3fe6_a09e_667f_3bcd);
    // A small whole number as a float: put below a power of two whose unit is 1.
    const UNITS: u64 = 0x4330_0000_0000_0000; // 2^52
    let e = f64::from_bits(exponent | UNITS) - (4_503_599_627_370_496.0 + 1023.0);
    let s = (m - 1.0) / (m + 1.0);
    let q = s * s;
    // 2 / (2 n + 1)
    const C: [f64; 10] = [
        2.0,
        2.0 / 3.0,
        2.0 / 5.0,
        2.0 / 7.0,
        2.0 / 9.0,
        2.0 / 11.0,
        2.0 / 13.0,
        2.0 / 15.0,
        2.0 / 17.0,
        2.0 / 19.0,
    ];
    let mut sum = C[9];
    for c in C[..9].iter().rev() {
        sum = sum * q + c;
    }
    e * std::f64::consts::LN_2 + s * sum
}

#[cfg(test)]
mod tests {
    use rand::Rng;
    use statrs::distribution::{ContinuousCDF, Normal};

    use super::*;
    use crate::sample::stream;

    #[test]
    fn the_logarithm_is_good_to_the_last_place() {
        let mut rng = stream(5, 0);
        for i in 0..200_000_u64 {
            let x = match i {
                0 => 1.0,
                1 => f64::EPSILON,
                2 => std::f64::consts::FRAC_1_SQRT_2,
                _ => uniform(rng.next_u64()) + f64::EPSILON,
            };
            let off = ln(x) - x.ln();
            assert!(off.abs() <= 4e-16 * x.ln().abs().max(0.5), "{x:e}: {off:e}");
        }
    }

    /// Kolmogorov's test against the normal distribution of statrs: the largest distance of n values times
    /// the root of n exceeds 2.7 with probability 2 exp(-2 * 2.7^2) = 1e-6 (Kolmogorov 1933), for each of four
    /// samples.
    /// Shows (model 9): pairs by the method of Box & Muller, with these bits. With:
    /// `replay::a_run_is_replayed_from_the_page_alone`, `tails_have_their_share`. Source: Box & Muller 1958;
    /// Kolmogorov's test against statrs; Abramowitz & Stegun 1964, table 26.1.
    #[test]
    fn pairs_are_normal_and_independent() {
        let n = 200_000;
        let normal = Normal::standard();
        let mut rng = stream(6, 0);
        let pairs: Vec<(f64, f64)> = (0..n)
            .map(|_| normal_pair(rng.next_u64(), rng.next_u64()))
            .collect();
        let root = std::f64::consts::FRAC_1_SQRT_2;
        let views: [fn((f64, f64)) -> f64; 4] = [|p| p.0, |p| p.1, |p| p.0 + p.1, |p| p.0 - p.1];
        for (i, view) in views.into_iter().enumerate() {
            let scale = if i < 2 { 1.0 } else { root };
            let mut sorted: Vec<f64> = pairs.iter().map(|p| scale * view(*p)).collect();
            sorted.sort_by(f64::total_cmp);
            let count = f64::from(n);
            let distance = sorted
                .iter()
                .enumerate()
                .map(|(rank, x)| {
                    let (below, cdf) = (rank as f64 / count, normal.cdf(*x));
                    (cdf - below).abs().max((below + 1.0 / count - cdf).abs())
                })
                .fold(0.0, f64::max);
            assert!(distance * count.sqrt() < 2.7, "view {i}: {distance}");
        }
        // Independence of sizes: the correlation of squares is 0 with a deviation of 1 / root n.
        let product: f64 = pairs
            .iter()
            .map(|(x, y)| (x * x - 1.0) * (y * y - 1.0) / 2.0)
            .sum();
        assert!((product / f64::from(n)).abs() < 5.0 / f64::from(n).sqrt());
    }

    #[test]
    fn tails_have_their_share() {
        // P(|X| > 4) = 6.334e-5 (Abramowitz & Stegun 1964, table 26.1); 4 million values: 253 +- 16.
        let mut rng = stream(7, 0);
        let far = (0..2_000_000)
            .map(|_| normal_pair(rng.next_u64(), rng.next_u64()))
            .map(|(x, y)| u32::from(x.abs() > 4.0) + u32::from(y.abs() > 4.0))
            .sum::<u32>();
        assert!((173..=333).contains(&far), "{far}"); // 5 sigma: 6e-7
    }

    /// Shows (model 9): the largest deviate is 8.49. Source: by hand.
    #[test]
    fn the_extremes_of_the_bits_are_finite() {
        for a in [0, u64::MAX, 0xfff] {
            for b in [0, u64::MAX, 1, 2, 3] {
                let (x, y) = normal_pair(a, b);
                assert!(
                    x.is_finite() && y.is_finite() && x.hypot(y) < 8.5,
                    "{a:x} {b:x}"
                );
            }
        }
    }
}
