//! The arguments of `judge` and `vectors`.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Args;

use super::super::args::{one_of, whole};
use halfturn_engine::judge::Family;
use halfturn_engine::rig::Rule;

/// Judge the wrap logic of a controller, a program in any language.
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(in crate::command) struct JudgeArgs {
    /// Rig file to judge with [default: a graded set of rigs].
    #[arg(long, value_name = "RIG")]
    pub(super) rig: Option<PathBuf>,
    /// Number of scenarios to play.
    #[arg(long, value_name = "N", default_value_t = 2000, value_parser = whole::<u32>(1, 1_000_000), allow_negative_numbers = true)]
    pub(super) scenarios: u32,
    /// Families of scenarios, with commas between them [default: all].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Family::ALL))]
    pub(super) families: Vec<Family>,
    /// Wrap rule that the controller claims. Every command must be where this rule puts it [default: any rule].
    #[arg(long, value_name = "RULE", value_parser = one_of(Rule::ALL))]
    pub(super) rule: Option<Rule>,
    /// Also find the smallest swing error that can make the controller hunt for ever.
    #[arg(long)]
    pub(super) margin: bool,
    /// Longest wait for an answer, in seconds.
    #[arg(long, value_name = "S", default_value_t = 5.0, value_parser = seconds)]
    pub(super) answer_timeout: f64,
    /// Play only the scenarios of this file.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["rig", "scenarios", "families", "rule", "margin"])]
    pub(super) replay: Option<PathBuf>,
    /// Folder for failing scenarios. Those in its regressions.json come first.
    #[arg(long, value_name = "DIR", default_value = "halfturn-judge")]
    pub(super) out: PathBuf,
    /// Don't simplify failing scenarios. Simplifying plays up to 600 more for every failed property.
    #[arg(long)]
    pub(super) no_shrink: bool,
    /// Write the result as JUnit XML to this file.
    #[arg(long, value_name = "FILE")]
    pub(super) junit: Option<PathBuf>,
    /// Print the result as TAP.
    #[arg(long)]
    pub(super) tap: bool,
    /// The controller, with its arguments.
    #[arg(last = true, required = true, value_name = "COMMAND")]
    pub(super) command: Vec<OsString>,
}

/// Print test vectors of the wrap rules: wanted angles and the right commands.
#[derive(Debug, Args)]
pub(in crate::command) struct VectorsArgs {
    /// Write CSV, JSON, schema and digest into this folder.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
}

const AFTER_HELP: &str = "\
halfturn starts COMMAND once, sends it events and reads its answers, a JSON object a line. docs/judge.md has the protocol.

Example: halfturn judge -- python3 examples/controllers/correct.py

Exit codes: 0 everything held. 1 something failed. 2 wrong input, or COMMAND does not start. 130 stopped.";

fn seconds(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|s| (0.01..=3600.0).contains(s))
        .ok_or_else(|| "must be a number of seconds from 0.01 to 3600".to_owned())
}
