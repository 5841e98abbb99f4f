//! The arguments of every command, a file for those of a kind.

mod advise;
mod fit;
mod limits;
mod loops;
mod method;
mod small;
mod sweep;

use std::fmt::Display;
use std::path::PathBuf;
use std::str::FromStr;

use clap::{Args, Parser, Subcommand};

use super::judge::{JudgeArgs, VectorsArgs};
#[cfg(feature = "serve")]
use super::serve::ServeArgs;
use super::sky::SkyArgs;
use halfturn_engine::angle::MOST_ANGLE_DEG;

pub(super) use advise::AdviseArgs;
pub(super) use fit::FitArgs;
pub(super) use limits::LimitArgs;
pub(super) use loops::{BatchArgs, TraceArgs};
pub(super) use method::{Fineness, Method};
pub(super) use small::{CompletionsArgs, InitArgs, ManArgs, SchemaArgs};
pub(super) use sweep::{MergeArgs, SweepArgs};

/// Greatest number of runs: a thousand billion.
const MOST_TRIALS: u64 = 1_000_000_000_000;

/// Tells which targets of the night will make your plate-solve-driven camera rotator hunt, and which
/// arc is safe. It advises and simulates; it commands no hardware.
#[derive(Debug, Parser)]
#[command(name = "halfturn", version, max_term_width = 100, after_help = AFTER_HELP)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(super) command: Command,
    /// Options of every command.
    #[command(flatten)]
    pub(super) common: Common,
}

const AFTER_HELP: &str = "\
Exit codes: 0 done; 1 the answer is bad news (an unsafe or unusable target, a controller that failed); 2 the input is wrong; 130 stopped.

A rotator moves by itself and can wind cables, pinch fingers or hit the pier. Check keep-out sectors by hand, watch the first runs, and let the maker's instructions come first.";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    Advise(AdviseArgs),
    Trace(TraceArgs),
    Batch(BatchArgs),
    Sweep(SweepArgs),
    Merge(MergeArgs),
    Judge(JudgeArgs),
    Vectors(VectorsArgs),
    Fit(FitArgs),
    Sky(SkyArgs),
    #[cfg(feature = "serve")]
    Serve(ServeArgs),
    Init(InitArgs),
    Schema(SchemaArgs),
    Completions(CompletionsArgs),
    Man(ManArgs),
}

/// Options of every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Common options")]
pub(super) struct Common {
    /// Override one key of the rig file, such as loop.tolerance_deg=0.3 (may be repeated).
    #[arg(long = "set", value_name = "KEY=VALUE", global = true)]
    pub(super) set: Vec<String>,
    /// Write the result as JSON to a file, or to standard output with -.
    #[arg(long, value_name = "FILE", global = true)]
    pub(super) json: Option<PathBuf>,
    /// Seed of the random numbers: same seed, same result [default: 1].
    #[arg(long, value_name = "S", value_parser = whole::<u64>(0, u64::MAX), allow_negative_numbers = true, global = true)]
    pub(super) seed: Option<u64>,
    /// Threads to use; the result does not depend on it [default: all cores].
    #[arg(long, value_name = "N", value_parser = whole::<u16>(1, 1024), allow_negative_numbers = true, global = true)]
    pub(super) threads: Option<u16>,
    /// No progress and no warnings.
    #[arg(long, global = true)]
    pub(super) quiet: bool,
}

impl Common {
    /// The seed of the user, or that of the program.
    pub(super) fn seed(&self) -> u64 {
        self.seed.unwrap_or(1)
    }
}

/// One of these, by its name.
pub(in crate::command) fn one_of<T>(
    all: &'static [T],
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static
where
    T: FromStr + Display + Sync,
{
    move |text| {
        text.parse().map_err(|_| {
            let names: Vec<String> = all.iter().map(T::to_string).collect();
            format!("must be one of {}", names.join(", "))
        })
    }
}

/// A whole number between two bounds.
pub(in crate::command) fn whole<T>(
    low: T,
    high: T,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static
where
    T: FromStr + PartialOrd + Display + Copy + Send + Sync + 'static,
{
    move |text| {
        text.parse()
            .ok()
            .filter(|n| (low..=high).contains(n))
            .ok_or_else(|| format!("must be a whole number from {low} to {high}"))
    }
}

fn angle(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| a.abs() <= MOST_ANGLE_DEG)
        .ok_or_else(|| {
            format!("must be a number of degrees from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG}")
        })
}

fn share(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|s| *s > 0.0 && *s < 1.0)
        .ok_or_else(|| "must be above 0 and below 1".to_owned())
}

fn positive(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|x| *x > 0.0 && x.is_finite())
        .ok_or_else(|| "must be a number above 0".to_owned())
}

fn flat_angle(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| (0.0..=90.0).contains(a))
        .ok_or_else(|| "must be a number of degrees from 0 to 90".to_owned())
}

#[cfg(test)]
mod tests {
    use clap::{Arg, Command, CommandFactory as _};

    use super::*;

    fn built() -> Command {
        let mut cli = Cli::command();
        cli.build();
        cli
    }

    /// Each option of `advise` has an effect on `--check`, or is refused beside it.
    #[test]
    fn nothing_is_passed_over_beside_check() {
        let used = [
            "rig", "targets", "check", "set", "json", "seed", "threads", "quiet", "help",
        ];
        let cli = built();
        let advise = cli.find_subcommand("advise").expect("the command");
        let check = |arg: &&Arg| arg.get_id() == "check";
        let check = advise.get_arguments().find(check).expect("the option");
        let refused = advise.get_arg_conflicts_with(check);
        for arg in advise.get_arguments() {
            let refused = refused.contains(&arg);
            let used = used.contains(&arg.get_id().as_str());
            assert!(used != refused, "{arg}");
        }
    }

    /// The terminal says where a line of the help ends, so that none ends in mid-paragraph.
    #[test]
    fn no_help_is_wrapped_by_hand() {
        fn walk(command: &Command) {
            let texts = [
                command.get_about(),
                command.get_long_about(),
                command.get_after_help(),
            ];
            let args = command.get_arguments();
            let args = args.flat_map(|arg| [arg.get_help(), arg.get_long_help()]);
            for text in texts.into_iter().chain(args).flatten() {
                let text = text.to_string();
                assert!(!text.replace("\n\n", "").contains('\n'), "{text}");
            }
            command.get_subcommands().for_each(walk);
        }
        walk(&built());
    }
}
