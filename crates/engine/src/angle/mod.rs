//! Angles in degrees: folding into an arc, signed residuals, the sine, and sectors of the circle.
//!
//! Whatever wraps an angle in this crate uses [`fold`], [`residual`] or their unchecked versions in this folder.

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

/// Largest angle that a user may give \[deg\]. Up to a thousand turns, results are exact to 1e-10.
pub const MOST_ANGLE_DEG: f64 = 1000.0 * TURN_DEG;
