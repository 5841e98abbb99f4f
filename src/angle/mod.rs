//! Angles in degrees: folding into an arc, signed residuals, the sine, and sectors of the circle.
//!
//! Everything that wraps an angle in this crate goes through [`fold`], [`residual`] or their
//! unchecked twins in this folder.

mod fold;
mod sector;
mod sine;

pub use fold::{NotFinite, fold, residual};
pub(crate) use fold::{fold_finite, residual_finite};
pub(crate) use sector::Sectors;
pub use sine::sin_deg;

/// One whole turn \[deg\].
pub const TURN_DEG: f64 = 360.0;
