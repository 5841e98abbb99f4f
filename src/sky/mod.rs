//! The sky side: the panels of a mosaic, and the angle that a FITS header holds.
//!
//! Angles are position angles in degrees, north through east. Nothing here precesses: an angle refers to the
//! north of the frame that its coordinates are given in. `docs/sky.md` has the conventions.

pub mod fits;
mod panels;
mod plane;
pub mod pointing;
pub mod time;

pub use panels::{Mosaic, MosaicError, Panel, lay_out};
pub use plane::{Place, Plane};
