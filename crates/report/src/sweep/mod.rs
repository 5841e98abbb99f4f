//! The table of a sweep: rows -> lines, the file that grows cell by cell, shards -> one file, and what is
//! shown of it.
//!
//! A file is a [`Head`] and the lines of the cells in their order. It says itself what was asked for, so
//! that it can be gone on with, or merged with other shards, and nothing else.

mod cells;
mod file;
mod gathered;
mod head;
mod json;
mod line;
mod merge;
mod picture;
mod table;

pub use cells::{Cells, Fault};
pub use file::{Existing, SweepFile};
pub use gathered::{Entry, Gathered, MOST_GATHERED};
pub use head::{Head, HeadFault};
#[cfg(feature = "schema")]
pub(crate) use json::SweepResult;
pub use json::{merge_json, sweep_json, sweep_rows};
pub use line::lines;
pub use merge::{Merged, merge};
pub use picture::sweep_picture;
pub use table::{Extremes, sweep_document};

/// What is wrong with the file of a sweep.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SweepError {
    /// It is there already.
    #[error(
        "{0}: is there already, and is left alone; --resume goes on with it, --force replaces it"
    )]
    Exists(String),
    /// Another program writes it.
    #[error("{0}: is being written by another run of the program")]
    InUse(String),
    /// It holds something else.
    #[error("{file}: {problem}")]
    Content {
        /// The file.
        file: String,
        /// What is wrong with it.
        problem: String,
    },
    /// It cannot be read.
    #[error("{file}: cannot be read: {source}")]
    Read {
        /// The file.
        file: String,
        /// Why.
        source: std::io::Error,
    },
    /// It cannot be written.
    #[error("{file}: cannot be written: {source}")]
    Write {
        /// The file.
        file: String,
        /// Why.
        source: std::io::Error,
    },
    /// More cells than are kept.
    #[error("--plot and --json show at most {MOST_GATHERED} cells; this sweep has {0}")]
    TooMany(u64),
    /// The shards do not make a whole.
    #[error("{0}")]
    Shards(String),
}
