//! Many runs: the random stream of each, and the batch over all cores.

mod batch;

pub use crate::run::{Stream, stream};
mod until;

pub use batch::{
    Batch, Cancelled, Comparison, Monitor, Unattended, Uncounted, compare, compare_from, run_batch,
};
pub use until::{Until, compare_until};
