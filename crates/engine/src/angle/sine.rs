//! The sine of an angle in degrees, with the same bits on every platform.
//!
//! The system's `sin` differs between platforms in the last place, and then two machines disagree about a run. Here
//! the argument is reduced exactly in degrees, and the Taylor series is summed on ±45 degrees, where its remainder
//! after eight terms is below 5e-17.

use super::whole_and_bits;

const RADIANS_PER_DEGREE: f64 = std::f64::consts::PI / 180.0;

/// Sine of an angle \[deg\], for less than 1e15 turns. Exact at multiples of 90 degrees, elsewhere within 2e-16. NaN
/// and infinities give NaN.
#[inline(always)]
#[must_use]
pub fn sin_deg(angle_deg: f64) -> f64 {
    let (quarters, bits) = whole_and_bits(angle_deg * (1.0 / 90.0));
    let x = (angle_deg - 90.0 * quarters) * RADIANS_PER_DEGREE;
    let square = x * x;
    let (sine, cosine) = (x * sine_series(square), cosine_series(square));
    let value = if bits & 1 == 0 { sine } else { cosine };
    let negative = (bits & 2) << 62;
    f64::from_bits(value.to_bits() ^ negative) + 0.0 // no negative zero at 180 degrees
}

/// `sin(x) / x` from `x^2`: the terms `(-1)^n / (2n + 1)!`.
#[inline(always)]
pub(crate) fn sine_series(s: f64) -> f64 {
    const C: [f64; 8] = [
        1.0,
        -1.0 / 6.0,
        1.0 / 120.0,
        -1.0 / 5_040.0,
        1.0 / 362_880.0,
        -1.0 / 39_916_800.0,
        1.0 / 6_227_020_800.0,
        -1.0 / 1_307_674_368_000.0,
    ];
    series(s, &C)
}

/// `cos(x)` from `x^2`: the terms `(-1)^n / (2n)!`.
#[inline(always)]
pub(crate) fn cosine_series(s: f64) -> f64 {
    const C: [f64; 9] = [
        1.0,
        -1.0 / 2.0,
        1.0 / 24.0,
        -1.0 / 720.0,
        1.0 / 40_320.0,
        -1.0 / 3_628_800.0,
        1.0 / 479_001_600.0,
        -1.0 / 87_178_291_200.0,
        1.0 / 20_922_789_888_000.0,
    ];
    series(s, &C)
}

#[inline(always)]
fn series<const N: usize>(s: f64, coefficients: &[f64; N]) -> f64 {
    let mut sum = coefficients[N - 1];
    for c in coefficients[..N - 1].iter().rev() {
        sum = sum * s + c;
    }
    sum
}
