//! The options that say what counts as safe.

use clap::Args;

use super::{share, whole};
use halfturn_engine::verdict::Limits;

/// What counts as safe.
#[derive(Debug, Clone, Copy, Args)]
pub(in crate::command) struct LimitArgs {
    /// Largest share of the runs that may have a fault at a safe target.
    #[arg(long, value_name = "SHARE", default_value_t = 0.001, value_parser = share)]
    max_fault: f64,
    /// Good solves within which a run should settle.
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = whole::<u32>(1, 10_000), allow_negative_numbers = true)]
    max_solves: u32,
    /// Share of the runs that should settle in time.
    #[arg(long, value_name = "SHARE", default_value_t = 0.99, value_parser = share)]
    settle_chance: f64,
}

impl LimitArgs {
    pub(in crate::command) fn limits(self) -> Limits {
        Limits {
            max_fault: self.max_fault,
            max_solves: self.max_solves,
            settle_chance: self.settle_chance,
        }
    }
}
