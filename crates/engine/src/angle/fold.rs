//! The two wrap functions of the model (docs/model.md, section 1).
//!
//! For a finite `x` and a period above zero:
//!
//! - [`fold`] is `start + ((x - start) mod period)`, in `[start, start + period)`. If rounding gives the open end,
//!   the result is `start`, which is the same angle.
//! - [`residual`] is `x mod period`, less one period if that is more than half of it: in `(-period/2, +period/2]`.
//! - `mod` is the Euclidean remainder. The operations are rounded in this order, and a program that follows the
//!   formulas gets the same bits. That matters: the last bit decides a drive angle that lies halfway between two
//!   steps.
//! - Neither returns negative zero.

use thiserror::Error;

/// An angle, start or period that a wrap function cannot use.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum NotFinite {
    /// The angle or the start of the arc is NaN or infinite.
    #[error("{name} is {value}: it must be a finite number of degrees")]
    Angle {
        /// Name of the argument.
        name: &'static str,
        /// Its value \[deg\].
        value: f64,
    },
    /// The period is not a finite number above zero.
    #[error("the period is {0}: it must be a finite number of degrees above zero")]
    Period(f64),
}

/// Folds `x_deg` into the arc of one `period_deg` that begins at `start_deg`.
///
/// # Errors
/// [`NotFinite`] when an argument is NaN or infinite, or the period is not above zero.
///
/// # Example
/// ```
/// // A half circle from 0: both angles frame the same field.
/// assert_eq!(halfturn_engine::angle::fold(200.0, 0.0, 180.0)?, 20.0);
/// assert_eq!(halfturn_engine::angle::fold(-0.5, 0.0, 180.0)?, 179.5);
/// # Ok::<(), halfturn_engine::angle::NotFinite>(())
/// ```
pub fn fold(x_deg: f64, start_deg: f64, period_deg: f64) -> Result<f64, NotFinite> {
    check_angle("the angle", x_deg)?;
    check_angle("the start of the arc", start_deg)?;
    check_period(period_deg)?;
    let offset_deg = x_deg - start_deg;
    let offset_deg = if offset_deg.is_finite() {
        offset_deg
    } else {
        x_deg % period_deg - start_deg % period_deg
    };
    Ok(folded(
        offset_deg.rem_euclid(period_deg),
        start_deg,
        period_deg,
    ))
}

/// The signed distance of `x_deg` from the nearest multiple of `period_deg`, in `(-period/2, +period/2]`.
///
/// # Errors
/// [`NotFinite`] when an argument is NaN or infinite, or the period is not above zero.
///
/// # Example
/// ```
/// assert_eq!(halfturn_engine::angle::residual(359.5, 180.0)?, -0.5);
/// assert_eq!(halfturn_engine::angle::residual(-90.0, 180.0)?, 90.0);
/// # Ok::<(), halfturn_engine::angle::NotFinite>(())
/// ```
pub fn residual(x_deg: f64, period_deg: f64) -> Result<f64, NotFinite> {
    check_angle("the angle", x_deg)?;
    check_period(period_deg)?;
    Ok(signed(x_deg.rem_euclid(period_deg), period_deg))
}

/// The whole number nearest to `x`, halves to the even one, for `|x| < 2^51`.
///
/// Adding a large constant and taking it away again drops the fraction. Two additions give the same bits on every
/// processor; the standard library's rounding may not become a vector instruction.
#[inline(always)]
pub fn nearest_whole(x: f64) -> f64 {
    (x + NO_FRACTION) - NO_FRACTION
}

/// [`nearest_whole`], and a word whose lowest bits are those of the same number as an integer.
#[inline(always)]
pub fn whole_and_bits(x: f64) -> (f64, u64) {
    let raised = x + NO_FRACTION;
    (raised - NO_FRACTION, raised.to_bits())
}

/// Floats of this size have a unit of 1: 1.5 * 2^52.
const NO_FRACTION: f64 = 6_755_399_441_055_744.0;

/// The Euclidean remainder of a finite `x` with `|x| < 2^51` periods. It has no branch, and a loop over it becomes
/// vector instructions. Same bits as `x.rem_euclid(period)`, which may round up to the period.
///
/// The period times the number of periods must be exact, as it is for whole degrees.
#[inline(always)]
fn remainder(x: f64, period: f64) -> f64 {
    let nearest = nearest_whole(x * (1.0 / period));
    let floor = if nearest * period > x {
        nearest - 1.0
    } else {
        nearest
    };
    x - floor * period
}

/// [`fold`] without its checks: all arguments must be finite, with at most 2^51 periods.
#[inline(always)]
pub fn fold_finite(x_deg: f64, start_deg: f64, period_deg: f64) -> f64 {
    folded(
        remainder(x_deg - start_deg, period_deg),
        start_deg,
        period_deg,
    )
}

/// [`residual`] without its checks: both arguments must be finite, with at most 2^51 periods.
#[inline(always)]
pub fn residual_finite(x_deg: f64, period_deg: f64) -> f64 {
    signed(remainder(x_deg, period_deg), period_deg)
}

#[inline(always)]
fn folded(remainder_deg: f64, start_deg: f64, period_deg: f64) -> f64 {
    let y = start_deg + remainder_deg;
    let y = if y < start_deg + period_deg {
        y
    } else {
        start_deg
    };
    y + 0.0 // turns -0.0 into 0.0
}

#[inline(always)]
fn signed(remainder_deg: f64, period_deg: f64) -> f64 {
    let above = remainder_deg > 0.5 * period_deg;
    let r = if above {
        remainder_deg - period_deg
    } else {
        remainder_deg
    };
    r + 0.0
}

fn check_angle(name: &'static str, value: f64) -> Result<(), NotFinite> {
    if value.is_finite() {
        Ok(())
    } else {
        Err(NotFinite::Angle { name, value })
    }
}

fn check_period(period_deg: f64) -> Result<(), NotFinite> {
    if period_deg.is_finite() && period_deg > 0.0 {
        Ok(())
    } else {
        Err(NotFinite::Period(period_deg))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The unchecked functions against the formulas, bit for bit: beside every multiple of a quarter of the
    /// period, and on a grid of hundredths.
    /// Shows (model Where): the formulas are rounded operation by operation, with the Euclidean remainder. Source: the
    /// remainder of Rust's standard library.
    #[test]
    fn without_a_branch_the_bits_are_the_same() {
        let mut angles: Vec<f64> = (-200_000..200_000).map(|i| f64::from(i) * 0.01).collect();
        for quarter in -40..=40 {
            let x = 45.0 * f64::from(quarter);
            angles.extend([x, x.next_up(), x.next_down(), x + 1e-17, x - 1e-17, -x]);
        }
        for period in [90.0, 180.0, 360.0] {
            for start in [0.0, -7.5, 276.5, 0.1] {
                for x in &angles {
                    let slow = fold(*x, start, period).map(f64::to_bits);
                    assert_eq!(Ok(fold_finite(*x, start, period).to_bits()), slow, "{x:e}");
                }
            }
            for x in &angles {
                let slow = residual(*x, period).map(f64::to_bits);
                assert_eq!(Ok(residual_finite(*x, period).to_bits()), slow, "{x:e}");
            }
        }
    }
}
