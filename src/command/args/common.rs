//! Options of every command.

use std::path::PathBuf;

use clap::Args;

use super::values::whole;

/// Options of every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Common options")]
pub(in crate::command) struct Common {
    /// Set a key of the rig, such as loop.tolerance_deg=0.3 (may repeat).
    #[arg(long = "set", value_name = "KEY=VALUE", global = true)]
    pub(in crate::command) set: Vec<String>,
    /// Write the result as JSON to this file (- for standard output).
    #[arg(long, value_name = "FILE", global = true)]
    pub(in crate::command) json: Option<PathBuf>,
    /// Seed of the random numbers [default: 1].
    #[arg(long, value_name = "S", value_parser = whole::<u64>(0, u64::MAX), allow_negative_numbers = true, global = true)]
    pub(in crate::command) seed: Option<u64>,
    /// Threads to use [default: all cores].
    #[arg(long, value_name = "N", value_parser = whole::<u16>(1, 1024), allow_negative_numbers = true, global = true)]
    pub(in crate::command) threads: Option<u16>,
    /// Show no progress and no warnings.
    #[arg(long, global = true)]
    pub(in crate::command) quiet: bool,
}

impl Common {
    /// The seed of the user, or that of the program.
    pub(in crate::command) fn seed(&self) -> u64 {
        self.seed.unwrap_or(1)
    }
}
