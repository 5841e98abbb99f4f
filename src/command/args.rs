//! The arguments of every command.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use super::judge::{JudgeArgs, VectorsArgs};
use super::sky::SkyArgs;
use crate::advise::Wishes;
use crate::angle::MOST_ANGLE_DEG;
use crate::exact::Precision;
use crate::rig::{Named, Rule};
use crate::sweep::Shard;

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
Exit codes: 0 done; 1 the answer is bad news (an unsafe target, a controller that failed); 2 the input is wrong; 130 stopped.

A rotator moves by itself and can wind cables, pinch fingers or hit the pier. Check keep-out sectors by
hand, watch the first runs, and let the maker's instructions come first.";

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
    Init(InitArgs),
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
    /// Seed of the random numbers: same seed, same result.
    #[arg(long, value_name = "S", default_value_t = 1, global = true)]
    pub(super) seed: u64,
    /// Threads to use; the result does not depend on it [default: all cores].
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), global = true)]
    pub(super) threads: Option<u16>,
    /// No progress and no warnings.
    #[arg(long, global = true)]
    pub(super) quiet: bool,
}

/// Judge every target of the night, recommend arc, tolerance, rule and band with a proof, and write the
/// report.
#[derive(Debug, Args)]
pub(super) struct AdviseArgs {
    /// Rig file; the built-in demo rig without it.
    pub(super) rig: Option<PathBuf>,
    /// Targets file; the built-in demo targets without it.
    pub(super) targets: Option<PathBuf>,
    /// Folder for the report; made if it is not there.
    #[arg(long, value_name = "DIR", default_value = "halfturn-report")]
    pub(super) out: PathBuf,
    /// Runs for every target and setting.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = clap::value_parser!(u64).range(1..=MOST_TRIALS))]
    pub(super) trials: u64,
    /// Largest share of runs that may hunt at a safe target.
    #[arg(long, value_name = "SHARE", default_value_t = 0.001, value_parser = share)]
    pub(super) max_ping_pong: f64,
    /// Also solve every target, now and with the advised arc, for probabilities that runs are too few to tell: exact
    /// fails where a rig cannot be solved, auto leaves such targets out. The verdicts are those of the runs.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo)]
    pub(super) method: Method,
    /// Good solves within which every target should settle.
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(super) max_solves: u32,
    /// Probability with which it should.
    #[arg(long, value_name = "SHARE", default_value_t = 0.99, value_parser = share)]
    pub(super) settle_chance: f64,
    /// Take only settings whose arc, band included, is clear of every keep-out.
    #[arg(long)]
    pub(super) clear_of_keep_outs: bool,
    /// Judge every target also after a meridian flip, which turns the field by 180 degrees.
    #[arg(long)]
    pub(super) flips: bool,
    /// Probability with which the bound on the residual after a swing may be exceeded.
    #[arg(long, value_name = "SHARE", default_value_t = 0.001, value_parser = share)]
    pub(super) tail: f64,
    /// Largest share of the frame that may be lost between nights framed at either end of the tolerance.
    #[arg(long, value_name = "SHARE", default_value_t = 0.02, value_parser = share)]
    pub(super) max_lost_area: f64,
    /// Share of a mosaic's overlap that must be left at the corners of its panels.
    #[arg(long, value_name = "SHARE", default_value_t = 0.5, value_parser = share)]
    pub(super) mosaic_keep: f64,
    /// Largest displacement of the frame's corner, in pixels [default: no limit].
    #[arg(long, value_name = "PX", value_parser = positive)]
    pub(super) max_corner_px: Option<f64>,
    /// Chance that a swing is followed by another, below which a hysteresis band is wide enough.
    #[arg(long, value_name = "SHARE", default_value_t = 0.05, value_parser = share)]
    pub(super) max_persistence: f64,
    /// How far the drive angle of a flat may be from that of a light frame.
    #[arg(long, value_name = "DEG", default_value_t = 1.0, value_parser = flat_angle)]
    pub(super) flats_within: f64,
    /// Also write a new rig file with the advised settings, RIG.advised.toml or another name; never over a file
    /// that is there.
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true)]
    pub(super) write: Option<Option<PathBuf>>,
    /// Prove a certificate again instead, with its own files, or with RIG and TARGETS.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["write", "flips", "max_ping_pong", "max_solves", "trials", "method"])]
    pub(super) check: Option<PathBuf>,
}

impl AdviseArgs {
    /// What the user asks of the settings.
    pub(super) fn wishes(&self) -> Wishes {
        Wishes {
            tail: self.tail,
            max_solves: self.max_solves,
            settle_chance: self.settle_chance,
            max_lost_area: self.max_lost_area,
            mosaic_keep: self.mosaic_keep,
            max_corner_px: self.max_corner_px,
            max_persistence: self.max_persistence,
            clear_of_keep_outs: self.clear_of_keep_outs,
            flats_within_deg: self.flats_within,
        }
    }
}

/// Show one loop move by move.
#[derive(Debug, Args)]
pub(super) struct TraceArgs {
    /// Rig file; the built-in demo rig without it.
    pub(super) rig: Option<PathBuf>,
    /// Position angle of the target.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(super) target: f64,
    /// Wrap rule instead of the rig's own.
    #[arg(long, value_parser = rule)]
    pub(super) rule: Option<Rule>,
    /// Which run of the seed; batch names the first one that ping-pongs.
    #[arg(long, value_name = "I", default_value_t = 0)]
    pub(super) trial: u64,
    /// Show the first run that ping-pongs instead, of the first million runs or 20 million solves.
    #[arg(long, conflicts_with = "trial")]
    pub(super) hunting: bool,
    /// Also draw it, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(super) plot: Option<PathBuf>,
}

/// Compare the wrap rules at one target over many runs.
#[derive(Debug, Args)]
pub(super) struct BatchArgs {
    /// Rig file; the built-in demo rig without it.
    pub(super) rig: Option<PathBuf>,
    /// Position angle of the target.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(super) target: f64,
    /// Runs of every rule [default: 100 000].
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST_TRIALS))]
    pub(super) trials: Option<u64>,
    /// Stop when the ping-pong rate of every rule is known to within this half width, a share such as 0.001;
    /// --trials is then the most runs [default: 100 million with --until].
    #[arg(long, value_name = "SHARE", value_parser = share)]
    pub(super) until: Option<f64>,
    /// Rules to compare, parted by commas [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = rule)]
    pub(super) rules: Vec<Rule>,
    /// How the figures are found.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo)]
    pub(super) method: Method,
    /// How fine the exact method is.
    #[arg(long, value_enum, default_value_t = Fineness::Full)]
    pub(super) precision: Fineness,
    /// Also draw settle times, and ping-pong against the distance from the seam, into this folder.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
}

/// Run the wrap rules over a grid: one or two numbers of the rig, or the target, are varied.
#[derive(Debug, Args)]
pub(super) struct SweepArgs {
    /// Rig file; the built-in demo rig without it.
    pub(super) rig: Option<PathBuf>,
    /// What to vary: any numeric key of the rig file, or target; COUNT values with both ends, such as
    /// loop.tolerance_deg=0.1:0.5:9 (once or twice).
    #[arg(long, value_name = "KEY=FROM:TO:COUNT", required = true)]
    pub(super) vary: Vec<String>,
    /// Position angle of the target; needed unless it is varied.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true)]
    pub(super) target: Option<f64>,
    /// Rules to run, parted by commas [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = rule)]
    pub(super) rules: Vec<Rule>,
    /// Runs of every rule in every cell.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = clap::value_parser!(u64).range(1..=MOST_TRIALS))]
    pub(super) trials: u64,
    /// How the figures are found.
    #[arg(long, value_enum, default_value_t = Method::MonteCarlo)]
    pub(super) method: Method,
    /// How fine the exact method is.
    #[arg(long, value_enum, default_value_t = Fineness::Map)]
    pub(super) precision: Fineness,
    /// The table: a row for every cell and rule, written as they are done; - for standard output.
    #[arg(long, value_name = "FILE", default_value = "halfturn-sweep.csv")]
    pub(super) out: PathBuf,
    /// Go on with a table that was stopped or cut; begin it if it is not there.
    #[arg(long, conflicts_with = "force")]
    pub(super) resume: bool,
    /// Replace a table that is there.
    #[arg(long)]
    pub(super) force: bool,
    /// Run only part I of N, to be merged with the others by halfturn merge.
    #[arg(long, value_name = "I/N", value_parser = Shard::read, conflicts_with = "plot")]
    pub(super) shard: Option<Shard>,
    /// Also draw ping-pong over what is varied, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(super) plot: Option<PathBuf>,
}

/// Merge the shards of a sweep into the table of the whole sweep.
#[derive(Debug, Args)]
pub(super) struct MergeArgs {
    /// The table to write.
    pub(super) out: PathBuf,
    /// The table of every shard, in any order.
    #[arg(required = true)]
    pub(super) shards: Vec<PathBuf>,
    /// Replace a table that is there.
    #[arg(long)]
    pub(super) force: bool,
    /// Also draw ping-pong over what was varied, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    pub(super) plot: Option<PathBuf>,
}

/// Estimate the rig's errors from a log of readings and solved position angles, or plan such a log.
#[derive(Debug, Args)]
pub(super) struct FitArgs {
    /// The log: a CSV table with the columns reading_deg,position_angle_deg and, if you like, time,
    /// commanded_deg, solved_ok, run.
    #[arg(required_unless_present = "plan")]
    pub(super) log: Option<PathBuf>,
    /// Rig file with what is believed so far; the defaults of a rig file without it.
    #[arg(long, value_name = "RIG")]
    pub(super) rig: Option<PathBuf>,
    /// Write a rig file with the estimates; with --plan, write the plan (- for standard output).
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// Replace a file that is there.
    #[arg(long)]
    pub(super) force: bool,
    /// Also draw the residuals, as .svg or .png.
    #[arg(long, value_name = "FILE", conflicts_with = "plan")]
    pub(super) plot: Option<PathBuf>,
    /// Plan the shortest list of moves and solves that tells everything, instead of reading a log.
    #[arg(long, conflicts_with = "log")]
    pub(super) plan: bool,
    /// Half the width that the 95 % intervals of a plan may have [default: a tenth of the tolerance].
    #[arg(long, value_name = "DEG", value_parser = accuracy, requires = "plan")]
    pub(super) accuracy: Option<f64>,
    /// Lowest reading of a plan [default: the widest arc between stops and keep-outs].
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true, requires = "plan")]
    pub(super) from: Option<f64>,
    /// Highest reading of a plan.
    #[arg(long, value_name = "DEG", value_parser = angle, allow_negative_numbers = true, requires = "plan")]
    pub(super) to: Option<f64>,
    /// Carry out the plan on the simulated rig, and write the log that it gives.
    #[arg(long, value_name = "FILE", requires = "plan")]
    pub(super) rehearse: Option<PathBuf>,
}

/// How the figures of a batch are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Method {
    /// By running the loop many times.
    MonteCarlo,
    /// By solving the loop as a Markov chain; an error where the rig has a feature that this cannot hold.
    Exact,
    /// Exact, or by running where the rig has such a feature.
    Auto,
}

/// How fine an exact solution is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Fineness {
    /// Rates to about 1e-5.
    Map,
    /// Probabilities right down to 1e-12.
    Full,
}

impl Method {
    /// The method of the core.
    pub(super) fn with(self, fineness: Fineness) -> crate::method::Method {
        use crate::method::Method as Core;
        let precision = match fineness {
            Fineness::Map => Precision::MAP,
            Fineness::Full => Precision::FULL,
        };
        match self {
            Self::MonteCarlo => Core::MonteCarlo,
            Self::Exact => Core::Exact(precision),
            Self::Auto => Core::Auto(precision),
        }
    }
}

/// Write a commented rig file and a targets file to start from.
#[derive(Debug, Args)]
pub(super) struct InitArgs {
    /// Folder for rig.toml and targets.csv; files that are there are left alone.
    #[arg(default_value = ".")]
    pub(super) dir: PathBuf,
}

/// Print the completions of a shell.
#[derive(Debug, Args)]
pub(super) struct CompletionsArgs {
    /// The shell.
    pub(super) shell: clap_complete::Shell,
}

/// Print the manual page, or write one for every command.
#[derive(Debug, Args)]
pub(super) struct ManArgs {
    /// Folder for the pages of all commands.
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
}

pub(super) fn rule(text: &str) -> Result<Rule, String> {
    Rule::from_name(text).ok_or_else(|| {
        let names: Vec<_> = Rule::NAMES.iter().map(|(_, name)| *name).collect();
        format!("must be one of {}", names.join(", "))
    })
}

fn angle(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| a.abs() <= MOST_ANGLE_DEG)
        .ok_or_else(|| {
            format!("must be a number of degrees from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG}")
        })
}

fn accuracy(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|a| (1e-4..=10.0).contains(a))
        .ok_or_else(|| "must be a number of degrees from 0.0001 to 10".to_owned())
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
