//! Rig -> many rigs: a grid over one or two numbers of a rig, or over the target.
//!
//! [`Axis`] reads `--vary`, [`Grid`] numbers the cells, [`SweepRequest`] checks them all, and [`run_cells`] passes on
//! the [`SweepRow`]s cell by cell. A [`Shard`] is a part of the cells, to run elsewhere.

mod axis;
mod cells;
mod grid;
mod request;

pub use axis::{Axis, Varied, unit_of};
pub use cells::{SweepRow, run_cells};
pub use grid::{Grid, Shard};
pub use request::{FORMAT, SweepRequest, digest};
