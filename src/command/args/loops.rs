//! The arguments of the commands about one target: `trace` and `batch`.

use std::path::PathBuf;

use clap::Args;

use super::{Fineness, MOST_TRIALS, Method, TargetArg, one_of, share, target, whole};
use halfturn_engine::rig::Rule;

/// Show one run move by move.
#[derive(Debug, Args)]
pub(in crate::command) struct TraceArgs {
    /// Rig file [default: the built-in demo rig].
    pub(in crate::command) rig: Option<PathBuf>,
    /// Targets files, for a name as --target.
    pub(in crate::command) targets: Vec<PathBuf>,
    /// Position angle of the target, or its name in the targets files (without a rig file in the demo targets).
    #[arg(long, value_name = "DEG|NAME", value_parser = target, allow_negative_numbers = true)]
    pub(in crate::command) target: TargetArg,
    /// Wrap rule to use in place of the rig's.
    #[arg(long, value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rule: Option<Rule>,
    /// Number of the run. batch names the first one that hunts.
    #[arg(long, value_name = "I", default_value_t = 0, value_parser = whole::<u64>(0, u64::MAX), allow_negative_numbers = true)]
    pub(in crate::command) trial: u64,
    /// Show the first run that hunts.
    #[arg(long, conflicts_with = "trial")]
    pub(in crate::command) hunting: bool,
    /// Also draw it, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}

/// Compare the wrap rules at one target over many runs.
#[derive(Debug, Args)]
pub(in crate::command) struct BatchArgs {
    /// Rig file [default: the built-in demo rig].
    pub(in crate::command) rig: Option<PathBuf>,
    /// Targets files, for a name as --target.
    pub(in crate::command) targets: Vec<PathBuf>,
    /// Position angle of the target, or its name in the targets files (without a rig file in the demo targets).
    #[arg(long, value_name = "DEG|NAME", value_parser = target, allow_negative_numbers = true)]
    pub(in crate::command) target: TargetArg,
    /// Runs under every rule [default: 100 000, with --half-width 100 million].
    #[arg(long, value_name = "N", value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: Option<u64>,
    /// Stop when the share of runs that hunt is known to ± this, such as 0.001, or after --trials runs.
    #[arg(long = "half-width", value_name = "SHARE", value_parser = share)]
    pub(in crate::command) until: Option<f64>,
    /// Wrap rules to compare, with commas between them [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rules: Vec<Rule>,
    /// monte-carlo runs the loop many times. exact solves it as a Markov chain, and refuses a rig where it can't. auto
    /// solves where it can and runs elsewhere.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo, hide_possible_values = true)]
    pub(in crate::command) method: Method,
    /// Accuracy of the exact method. map: 1e-5. full: 1e-12.
    #[arg(long, value_enum, default_value_t = Fineness::Full, hide_possible_values = true)]
    pub(in crate::command) precision: Fineness,
    /// Also draw settle times, and hunting by distance from the seam, into this folder.
    #[arg(long, value_name = "DIR")]
    pub(in crate::command) out: Option<PathBuf>,
}
