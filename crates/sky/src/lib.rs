//! The sky: the panels of a mosaic, a night of targets, field rotation, and the angle in a FITS header.
//!
//! Angles are position angles in degrees, north through east. Panels and headers are not precessed: an angle counts
//! from the north of the frame of its coordinates. [`pointing`] knows the pole of date. `docs/sky.md` has the
//! conventions.

// Tests may use the system's sines, results may not. See clippy.toml.
#![cfg_attr(not(test), warn(clippy::disallowed_methods))]

pub mod field;
pub mod fits;
pub mod night;
mod panels;
mod plane;
pub mod pointing;
pub mod time;

pub use panels::{JudgedPanel, Mosaic, MosaicError, Panel, SkyLine, judge_panels, lay_out};
pub use plane::{Plane, SkyPlace};
