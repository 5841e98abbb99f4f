//! How to find the figures.

use clap::ValueEnum;

use halfturn_engine::exact::Precision;

/// How the figures of a batch are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::command) enum Method {
    /// By running the loop many times.
    MonteCarlo,
    /// By solving the loop as a Markov chain. An error if the rig has a feature that it cannot handle.
    Exact,
    /// Exact, or by running if the rig has such a feature.
    Auto,
}

/// The fineness of an exact solution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::command) enum Fineness {
    /// Rates to about 1e-5.
    Map,
    /// Probabilities down to 1e-12.
    Full,
}

impl Method {
    /// The engine's method for this choice.
    pub(in crate::command) fn with(self, fineness: Fineness) -> halfturn_engine::method::Method {
        use halfturn_engine::method::Method as Core;
        let precision = match fineness {
            Fineness::Map => Precision::MAP,
            Fineness::Full => Precision::FULL,
        };
        match self {
            Self::MonteCarlo => Core::MonteCarlo,
            Self::Exact => Core::Exact(precision),
            Self::Auto => Core::Auto(precision),
        }
    }
}
