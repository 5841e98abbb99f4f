//! The arguments of the commands about one target: `trace` and `batch`.

use std::path::PathBuf;

use clap::Args;

use super::{Fineness, MOST_TRIALS, Method, angle, one_of, share, whole};
use halfturn_engine::rig::Rule;

/// Show one loop move by move.
#[derive(Debug, Args)]
pub(in crate::command) struct TraceArgs {
    /// Rig file; the built-in demo rig without it.
    pub(in crate::command) rig: Option<PathBuf>,
    /// Position angle of the target.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(in crate::command) target: f64,
    /// Wrap rule instead of the rig's own.
    #[arg(long, value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rule: Option<Rule>,
    /// Which run of the seed; batch names the first one that hunts.
    #[arg(long, value_name = "I", default_value_t = 0, value_parser = whole::<u64>(0, u64::MAX), allow_negative_numbers = true)]
    pub(in crate::command) trial: u64,
    /// Show the first run that hunts instead, of the first million runs or 20 million solves.
    #[arg(long, conflicts_with = "trial")]
    pub(in crate::command) hunting: bool,
    /// Also draw it, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) plot: Option<PathBuf>,
}

/// Compare the wrap rules at one target over many runs.
#[derive(Debug, Args)]
pub(in crate::command) struct BatchArgs {
    /// Rig file; the built-in demo rig without it.
    pub(in crate::command) rig: Option<PathBuf>,
    /// Position angle of the target.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(in crate::command) target: f64,
    /// Runs of every rule [default: 100 000].
    #[arg(long, value_name = "N", value_parser = whole::<u64>(1, MOST_TRIALS), allow_negative_numbers = true)]
    pub(in crate::command) trials: Option<u64>,
    /// Stop when the share of runs that hunt is known to within this half width, such as 0.001, under every rule;
    /// --trials is then the most runs [default: 100 million with --half-width].
    #[arg(long = "half-width", value_name = "SHARE", value_parser = share)]
    pub(in crate::command) until: Option<f64>,
    /// Rules to compare, parted by commas [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Rule::ALL))]
    pub(in crate::command) rules: Vec<Rule>,
    /// How the figures are found.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo)]
    pub(in crate::command) method: Method,
    /// How fine the exact method is.
    #[arg(long, value_enum, default_value_t = Fineness::Full)]
    pub(in crate::command) precision: Fineness,
    /// Also draw settle times, and hunting against the distance from the seam, into this folder.
    #[arg(long, value_name = "DIR")]
    pub(in crate::command) out: Option<PathBuf>,
}
