//! The two wrap functions of the model (docs/model.md, section 1).
//!
//! Rules, for a finite `x` and a period above zero:
//!
//! * [`fold`] lands in the half-open arc `[start, start + period)`. A value that is inside already
//!   is returned unchanged, so folding twice is folding once. Where rounding would produce the open
//!   end, the result is `start`, which is the same angle.
//! * [`residual`] lands in `(-period/2, +period/2]`: exactly half a period is positive.
//! * Neither returns negative zero.

use thiserror::Error;

/// An angle, start or period that no wrap rule can be applied to.
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
/// assert_eq!(halfturn::angle::fold(200.0, 0.0, 180.0)?, 20.0);
/// assert_eq!(halfturn::angle::fold(-0.5, 0.0, 180.0)?, 179.5);
/// # Ok::<(), halfturn::angle::NotFinite>(())
/// ```
pub fn fold(x_deg: f64, start_deg: f64, period_deg: f64) -> Result<f64, NotFinite> {
    check_angle("the angle", x_deg)?;
    check_angle("the start of the arc", start_deg)?;
    check_period(period_deg)?;
    Ok(fold_finite(x_deg, start_deg, period_deg))
}

/// The signed distance of `x_deg` from the nearest multiple of `period_deg`, in `(-period/2, +period/2]`.
///
/// # Errors
/// [`NotFinite`] when an argument is NaN or infinite, or the period is not above zero.
///
/// # Example
/// ```
/// assert_eq!(halfturn::angle::residual(359.5, 180.0)?, -0.5);
/// assert_eq!(halfturn::angle::residual(-90.0, 180.0)?, 90.0);
/// # Ok::<(), halfturn::angle::NotFinite>(())
/// ```
pub fn residual(x_deg: f64, period_deg: f64) -> Result<f64, NotFinite> {
    check_angle("the angle", x_deg)?;
    check_period(period_deg)?;
    Ok(residual_finite(x_deg, period_deg))
}

/// [`fold`] for arguments that are known to be finite.
#[inline]
pub(crate) fn fold_finite(x_deg: f64, start_deg: f64, period_deg: f64) -> f64 {
    let end = start_deg + period_deg;
    if x_deg >= start_deg && x_deg < end {
        return x_deg + 0.0; // turns -0.0 into 0.0
    }
    let mut y = x_deg - ((x_deg - start_deg) / period_deg).floor() * period_deg;
    // The quotient is rounded: it can be one period off beside a multiple of the period.
    if y < start_deg {
        y += period_deg;
    }
    if y >= end {
        y -= period_deg;
    }
    if y >= start_deg && y < end {
        y + 0.0
    } else {
        start_deg + 0.0
    }
}

/// [`residual`] for arguments that are known to be finite.
#[inline]
pub(crate) fn residual_finite(x_deg: f64, period_deg: f64) -> f64 {
    let half = 0.5 * period_deg;
    let mut r = x_deg - (x_deg / period_deg).round() * period_deg;
    if r <= -half {
        r += period_deg;
    }
    if r > half {
        r -= period_deg;
    }
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
