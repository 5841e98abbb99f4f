//! What can be wrong with the file of a sweep.

/// Most cells of which every row is kept.
pub const MOST_GATHERED: u64 = 40_000;

/// What is wrong with the file of a sweep.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SweepError {
    /// The file exists already.
    #[error("{0}: exists already. Add --resume to go on with it, or --force to replace it")]
    Exists(String),
    /// Another program is writing it.
    #[error("{0}: another run of the program writes this file. Name another, or wait")]
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
    #[error(
        "--plot and --json show at most {MOST_GATHERED} cells, but this sweep has {0}. Leave them out, or use a smaller grid"
    )]
    TooMany(u64),
    /// The shards do not make a whole sweep.
    #[error("{0}")]
    Shards(String),
}
