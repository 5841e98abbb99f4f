//! The arguments of `fit`.

use std::path::PathBuf;

use clap::Args;

use super::{angle, whole};
use halfturn_engine::fit::MOST_HARMONICS;

/// Find the rig's errors from a log of solves, or plan such a log.
#[derive(Debug, Args)]
pub(in crate::command) struct FitArgs {
    /// The log, a CSV file. Columns: reading_deg, position_angle_deg, and if you have them time, commanded_deg, solved_ok, run.
    #[arg(required_unless_present = "plan")]
    pub(in crate::command) log: Option<PathBuf>,
    /// Rig file with what you know so far [default: the defaults of a rig file].
    #[arg(long, value_name = "RIG")]
    pub(in crate::command) rig: Option<PathBuf>,
    /// Write the fitted rig file, or with --plan the plan (- for standard output).
    #[arg(long, value_name = "FILE")]
    pub(in crate::command) out: Option<PathBuf>,
    /// Fit all periodic errors up to this many cycles a turn, at most 6 [default: two, and those that show].
    #[arg(long, value_name = "N", value_parser = whole::<u32>(2, MOST_HARMONICS), conflicts_with = "plan")]
    pub(in crate::command) harmonics: Option<u32>,
    /// Replace an existing file.
    #[arg(long)]
    pub(in crate::command) force: bool,
    /// Also draw the residuals, as .svg or .png.
    #[arg(long, value_name = "FILE", conflicts_with = "plan")]
    pub(in crate::command) plot: Option<PathBuf>,
    /// Plan the shortest list of moves and solves that shows the rig's errors.
    #[arg(long, conflicts_with = "log")]
    pub(in crate::command) plan: bool,
    /// Half the width of the 95 % intervals that the plan should reach [default: a tenth of the tolerance].
    #[arg(long, value_name = "DEG", value_parser = accuracy, allow_negative_numbers = true, requires = "plan", conflicts_with = "log")]
    pub(in crate::command) accuracy: Option<f64>,
    /// Lowest reading of the plan [default: from keep-outs, stops and cable].
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true, requires = "plan", conflicts_with = "log")]
    pub(in crate::command) from: Option<f64>,
    /// Highest reading of the plan [default: from keep-outs, stops and cable].
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true, requires = "plan", conflicts_with = "log")]
    pub(in crate::command) to: Option<f64>,
    /// Carry out the plan on the simulated rig and write its log.
    #[arg(long, value_name = "FILE", requires = "plan", conflicts_with = "log")]
    pub(in crate::command) rehearse: Option<PathBuf>,
}

fn accuracy(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| (1e-4..=10.0).contains(a))
        .ok_or_else(|| "must be a number of degrees from 0.0001 to 10".to_owned())
}
