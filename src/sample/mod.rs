//! Many runs: the random stream of each, and the batch over all cores.

mod batch;
mod stream;

pub use batch::{Batch, Cancelled, Monitor, Unattended, batch};
pub use stream::{Stream, stream};
