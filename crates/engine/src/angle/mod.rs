//! Angles in degrees: folding into an arc, signed residuals, the sine, and sectors of the circle.
//!
//! Everything that wraps an angle in this crate goes through [`fold`], [`residual`] or their
//! unchecked twins in this folder.

mod fold;
mod sector;
mod sine;
mod span;

pub use fold::{NotFinite, fold, residual};
pub use fold::{fold_finite, nearest_whole, residual_finite, whole_and_bits};
pub use sector::{Sectors, overlap_deg};
pub use sine::sin_deg;
pub(crate) use sine::{cosine_series, sine_series};
pub use span::AngleSpan;

/// One whole turn \[deg\].
pub const TURN_DEG: f64 = 360.0;

/// Greatest angle that a user may give \[deg\]: a thousand turns keep every result exact to 1e-10.
pub const MOST_ANGLE_DEG: f64 = 1000.0 * TURN_DEG;
