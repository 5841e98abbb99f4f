//! The table of a sweep: rows -> lines, the file that grows cell by cell, shards -> one file, and what is shown of
//! it.
//!
//! A file is a [`Head`] and the lines of the cells in their order. The head holds the whole request. Nothing else is
//! needed to continue the file or to merge it with other shards.

mod cells;
mod error;
mod file;
mod gathered;
mod head;
mod json;
mod line;
mod merge;
mod picture;
mod table;

pub use cells::{Cells, Fault};
pub use error::{MOST_GATHERED, SweepError};
pub use file::{Existing, SweepFile};
pub use gathered::{Entry, Extremes, Gathered};
pub use head::{Head, HeadFault};
#[cfg(feature = "schema")]
pub(crate) use json::SweepResult;
pub use json::{merge_json, sweep_json, sweep_rows};
pub use line::lines;
pub use merge::{Merged, merge};
pub use picture::sweep_picture;
pub use table::sweep_document;
