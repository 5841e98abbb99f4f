//! How the figures are found.

use clap::ValueEnum;

use halfturn_engine::exact::Precision;

/// How the figures of a batch are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::command) enum Method {
    /// By running the loop many times.
    MonteCarlo,
    /// By solving the loop as a Markov chain; an error where the rig has a feature that this cannot hold.
    Exact,
    /// Exact, or by running where the rig has such a feature.
    Auto,
}

/// How fine an exact solution is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::command) enum Fineness {
    /// Rates to about 1e-5.
    Map,
    /// Probabilities right down to 1e-12.
    Full,
}

impl Method {
    /// The method of the core.
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
