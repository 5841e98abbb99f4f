//! Many runs: the random stream of each, and the batch over all cores.

mod batch;

pub use crate::run::{Stream, stream};
pub use batch::{Batch, Cancelled, Monitor, Unattended, batch};
