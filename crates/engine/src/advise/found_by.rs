//! How figures were found.

use serde::{Deserialize, Serialize};

/// How answers were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum FoundBy {
    /// All by solving the loop.
    Exact,
    /// All by running it.
    MonteCarlo,
    /// Some by each: not every loop can be solved.
    Both,
}

impl FoundBy {
    /// So many of all answers were found by solving.
    #[must_use]
    pub fn of(solved: u64, all: u64) -> Self {
        match solved {
            n if n == all => Self::Exact,
            0 => Self::MonteCarlo,
            _ => Self::Both,
        }
    }

    /// The method for a sentence: "with the exact method".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Exact => "with the exact method",
            Self::MonteCarlo => "by simulation",
            Self::Both => "with the exact method, or by simulation where that can't",
        }
    }
}
