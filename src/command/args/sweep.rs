//! The arguments of `sweep` and `merge`.

use std::path::PathBuf;

use clap::Args;

use super::{Fineness, MOST_TRIALS, Method, one_of, target_angle, whole};
use halfturn_engine::rig::Rule;
use halfturn_engine::sweep::Shard;

/// Vary one or two numbers of the rig, and run the wrap rules over the grid.
#[derive(Debug, Args)]
pub(in crate::command) struct SweepArgs {
    /// Rig file [default: the built-in demo rig].
    pub(in crate::command) rig: Option<PathBuf>,
    /// Key of the rig, or target, with its values, such as loop.tolerance_deg=0.1:0.5:9 (once or twice).
    #[arg(long, value_name = "KEY=FROM:TO:COUNT", required = true)]
    pub(in crate::command) vary: Vec<String>,
    /// Position angle of the target, unless you vary it.
    #[arg(long, value_name = "DEG", value_parser = target_angle, allow_negative_numbers = true)]
    pub(in crate::command) target: Option<f64>,
    /// Wrap rules to run, with commas between them [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rules: Vec<Rule>,
    /// Runs under every rule in every cell.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: u64,
    /// monte-carlo runs the loop many times. exact solves it as a Markov chain, and refuses a rig where it can't. auto
    /// solves where it can and runs elsewhere.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo, hide_possible_values = true)]
    pub(in crate::command) method: Method,
    /// Accuracy of the exact method. map: 1e-5. full: 1e-12.
    #[arg(long, value_enum, default_value_t = Fineness::Map, hide_possible_values = true)]
    pub(in crate::command) precision: Fineness,
    /// The table, a row for every cell and rule (- for standard output).
    #[arg(long, value_name = "FILE", default_value = "halfturn-sweep.csv")]
    pub(in crate::command) out: PathBuf,
    /// Go on with a table that was stopped, or begin it.
    #[arg(long, conflicts_with = "force")]
    pub(in crate::command) resume: bool,
    /// Replace an existing table.
    #[arg(long)]
    pub(in crate::command) force: bool,
    /// Run only part I of N. halfturn merge joins the parts.
    #[arg(long, value_name = "I/N", value_parser = Shard::read, conflicts_with = "plot")]
    pub(in crate::command) shard: Option<Shard>,
    /// Also draw hunting over what you vary, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}

/// Join the shards of a sweep into one table.
#[derive(Debug, Args)]
pub(in crate::command) struct MergeArgs {
    /// The table to write.
    pub(in crate::command) out: PathBuf,
    /// The tables of all shards, in any order.
    #[arg(required = true)]
    pub(in crate::command) shards: Vec<PathBuf>,
    /// Replace an existing table.
    #[arg(long)]
    pub(in crate::command) force: bool,
    /// Also draw hunting over what the sweep varied, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}
