//! The arguments of `judge` and `vectors`.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Args;

use super::super::args::{one_of, whole};
use halfturn_engine::judge::Family;

/// Run a controller in any language against scenarios, and judge its wrap logic.
///
/// The command after -- is started once. It is told events and answers them, one JSON object a line over its standard
/// input and output; docs/judge.md has the protocol.
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(in crate::command) struct JudgeArgs {
    /// Rig file to judge with; a graded set of rigs without it.
    #[arg(long, value_name = "RIG")]
    pub(super) rig: Option<PathBuf>,
    /// Scenarios to play.
    #[arg(long, value_name = "N", default_value_t = 2000, value_parser = whole::<u32>(1, 1_000_000), allow_negative_numbers = true)]
    pub(super) scenarios: u32,
    /// Families of scenarios, parted by commas [default: all].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Family::ALL))]
    pub(super) families: Vec<Family>,
    /// Longest wait for an answer, in seconds.
    #[arg(long, value_name = "S", default_value_t = 5.0, value_parser = seconds)]
    pub(super) answer_timeout: f64,
    /// Play the scenarios of a file again, and no others.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["rig", "scenarios", "families"])]
    pub(super) replay: Option<PathBuf>,
    /// Folder for failing scenarios, made when there are any; those in its regressions.json are played first.
    #[arg(long, value_name = "DIR", default_value = "halfturn-judge")]
    pub(super) out: PathBuf,
    /// Leave failing scenarios as they are; making them simpler plays up to 600 more for every property that failed.
    #[arg(long)]
    pub(super) no_shrink: bool,
    /// Write the result as JUnit XML.
    #[arg(long, value_name = "FILE")]
    pub(super) junit: Option<PathBuf>,
    /// Print the result as TAP instead of tables.
    #[arg(long)]
    pub(super) tap: bool,
    /// The controller, with its arguments.
    #[arg(last = true, required = true, value_name = "COMMAND")]
    pub(super) command: Vec<OsString>,
}

/// Write test vectors of the wrap rules: wanted angles and the right commands, for testing a function.
///
/// CSV goes to standard output, JSON where --json says.
#[derive(Debug, Args)]
pub(in crate::command) struct VectorsArgs {
    /// Folder for the CSV, the JSON, its schema, and the digest.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
}

const AFTER_HELP: &str = "\
Example: halfturn judge -- python3 examples/controllers/correct.py

Exit codes: 0 everything held; 1 something did not; 2 the input is wrong, or the command cannot be started; 130 stopped.";

fn seconds(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|s| (0.01..=3600.0).contains(s))
        .ok_or_else(|| "must be a number of seconds from 0.01 to 3600".to_owned())
}
