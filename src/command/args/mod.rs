//! The arguments of every command, a file for those of a kind.

mod advise;
mod common;
mod fit;
mod limits;
mod loops;
mod method;
mod small;
mod sweep;
mod values;

use clap::{Parser, Subcommand};

use super::judge::{JudgeArgs, VectorsArgs};
#[cfg(feature = "serve")]
use super::serve::ServeArgs;
use super::sky::SkyArgs;

pub(super) use advise::AdviseArgs;
pub(super) use common::Common;
pub(super) use fit::FitArgs;
pub(super) use limits::LimitArgs;
pub(super) use loops::{BatchArgs, TraceArgs};
pub(super) use method::{Fineness, Method};
pub(super) use small::{CompletionsArgs, InitArgs, ManArgs, SchemaArgs};
pub(super) use sweep::{MergeArgs, SweepArgs};
use values::{MOST_TRIALS, angle, flat_angle, positive, share, target, target_angle};
pub(super) use values::{TargetArg, one_of, whole};

/// Shows where your plate-solve-driven camera rotator will hunt, and which arc is safe. It simulates and advises. It
/// commands no hardware.
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
Exit codes: 0 done. 1 bad news: an unsafe target, a failed controller. 2 wrong input. 130 stopped.

A rotator moves by itself. It can wind cables, pinch fingers or hit the pier. Watch the first runs, and check keep-outs by hand. The maker's instructions come first.";

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

#[cfg(test)]
mod tests {
    use clap::{Arg, Command, CommandFactory as _};

    use super::*;

    fn built() -> Command {
        let mut cli = Cli::command();
        cli.build();
        cli
    }

    /// Shows (README): an option of `advise` has an effect on `--check`, or is refused beside it; its seed is that of
    /// the certificate or of `--seed`. With: `certificate::a_broken_certificate_is_an_error_with_its_place`. Source:
    /// none: own rule.
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
