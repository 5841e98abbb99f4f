//! Rig -> many rigs: a grid over one or two numbers of a rig, or the target.
//!
//! An [`Axis`] is what `--vary` says, a [`Grid`] numbers the cells, a [`SweepRequest`] has checked them all,
//! and [`run_cells`] hands on the [`SweepRow`]s of one cell after the other. A [`Shard`] is a part of the cells
//! that is run elsewhere.

mod axis;
mod cells;
mod grid;
mod request;

pub use axis::{Axis, Varied, unit_of};
pub use cells::{SweepRow, run_cells};
pub use grid::{Grid, Shard};
pub use request::{FORMAT, SweepRequest, digest};
