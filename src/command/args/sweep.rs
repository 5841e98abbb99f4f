//! The arguments of `sweep` and `merge`.

use std::path::PathBuf;

use clap::Args;

use super::{Fineness, MOST_TRIALS, Method, angle, one_of, whole};
use halfturn_engine::rig::Rule;
use halfturn_engine::sweep::Shard;

/// Run the wrap rules over a grid: one or two numbers of the rig, or the target, are varied.
#[derive(Debug, Args)]
pub(in crate::command) struct SweepArgs {
    /// Rig file; the built-in demo rig without it.
    pub(in crate::command) rig: Option<PathBuf>,
    /// What to vary: any numeric key of the rig file, or target; COUNT values with both ends, such as
    /// loop.tolerance_deg=0.1:0.5:9 (once or twice).
    #[arg(long, value_name = "KEY=FROM:TO:COUNT", required = true)]
    pub(in crate::command) vary: Vec<String>,
    /// Position angle of the target; needed unless it is varied.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(in crate::command) target: Option<f64>,
    /// Rules to run, parted by commas [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rules: Vec<Rule>,
    /// Runs of every rule in every cell.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: u64,
    /// How the figures are found.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo)]
    pub(in crate::command) method: Method,
    /// How fine the exact method is.
    #[arg(long, value_enum, default_value_t = Fineness::Map)]
    pub(in crate::command) precision: Fineness,
    /// The table: a row for every cell and rule, written as they are done; - for standard output.
    #[arg(long, value_name = "FILE", default_value = "halfturn-sweep.csv")]
    pub(in crate::command) out: PathBuf,
    /// Go on with a table that was stopped or cut; begin it if it is not there.
    #[arg(long, conflicts_with = "force")]
    pub(in crate::command) resume: bool,
    /// Replace a table that is there.
    #[arg(long)]
    pub(in crate::command) force: bool,
    /// Run only part I of N, to be merged with the others by halfturn merge.
    #[arg(long, value_name = "I/N", value_parser = Shard::read, conflicts_with = "plot")]
    pub(in crate::command) shard: Option<Shard>,
    /// Also draw hunting over what is varied, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}

/// Merge the shards of a sweep into the table of the whole sweep.
#[derive(Debug, Args)]
pub(in crate::command) struct MergeArgs {
    /// The table to write.
    pub(in crate::command) out: PathBuf,
    /// The table of every shard, in any order.
    #[arg(required = true)]
    pub(in crate::command) shards: Vec<PathBuf>,
    /// Replace a table that is there.
    #[arg(long)]
    pub(in crate::command) force: bool,
    /// Also draw hunting over what was varied, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}
