//! What can be wrong with the file of a sweep.

/// Most cells of which every row is kept.
pub const MOST_GATHERED: u64 = 40_000;

/// What is wrong with the file of a sweep.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SweepError {
    /// The file exists already.
    #[error(
        "{0}: is there already, and is left alone; --resume goes on with it, --force replaces it"
    )]
    Exists(String),
    /// Another program is writing it.
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
    /// More cells than can be kept.
    #[error("--plot and --json show at most {MOST_GATHERED} cells; this sweep has {0}")]
    TooMany(u64),
    /// The shards do not make a whole sweep.
    #[error("{0}")]
    Shards(String),
}
