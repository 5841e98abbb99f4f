//! The command line over the library.
//!
//! Every command reads its input, calls the library, and returns a [`Reply`] or a [`Failure`]. Only [`main`] writes
//! to the screen and turns them into an exit code. Two exceptions: `sweep --out -` writes its rows to standard output
//! as they come, and `serve` writes its address while it runs.

mod advise;
mod args;
mod batch;
mod certificate;
mod exit;
mod fit;
mod fitted;
mod gain;
mod init;
mod inputs;
mod judge;
mod merge;
mod monitor;
mod outputs;
mod page_start;
mod reply;
mod schema;
#[cfg(feature = "serve")]
mod serve;
mod shell;
mod sky;
mod streams;
mod sweep;
mod trace;

pub use args::Cli;
pub use exit::Exit;
#[cfg(feature = "serve")]
pub(crate) use page_start::ONE_FILE;
pub use reply::{Failure, Reply, Said};

use std::io::Write as _;
use std::process::ExitCode;

use clap::Parser as _;

use args::Command;
use halfturn_report::Screen;
use streams::complain;

/// Runs the program: reads the arguments, does the work, writes the answer.
#[must_use]
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            if error.use_stderr() {
                complain(error.to_string().trim_end());
                return Exit::WrongInput.into();
            }
            // If even the help cannot be written, nothing can be done.
            let _ = error.print();
            return Exit::Done.into();
        }
    };
    match answer(&cli) {
        Ok(reply) => show(&reply),
        Err(failure) => {
            complain(&format!("error: {failure}"));
            failure.exit().into()
        }
    }
}

fn answer(cli: &Cli) -> Result<Reply, Failure> {
    let common = &cli.common;
    let no_result = match &cli.command {
        Command::Init(_) => Some("init"),
        Command::Schema(_) => Some("schema"),
        Command::Completions(_) => Some("completions"),
        Command::Man(_) => Some("man"),
        _ => None,
    };
    // A script would wait in vain for the file.
    if let Some(name) = no_result.filter(|_| common.json.is_some()) {
        return Err(Failure::Argument(format!(
            "--json: {name} has no result. Leave it out"
        )));
    }
    let no_rig = match &cli.command {
        Command::Merge(_) => Some("merge"),
        Command::Vectors(_) => Some("vectors"),
        _ => no_result,
    };
    if let Some(name) = no_rig {
        let useless = [
            (!common.set.is_empty(), "--set", "reads no rig"),
            (common.seed.is_some(), "--seed", "has no random numbers"),
            (
                common.threads.is_some(),
                "--threads",
                "needs one thread only",
            ),
        ];
        if let Some((_, option, why)) = useless.iter().find(|(given, ..)| *given) {
            return Err(Failure::Argument(format!(
                "{option}: {name} {why}. Leave it out"
            )));
        }
    }
    match &cli.command {
        Command::Advise(args) => monitor::in_pool(common, |m| advise::advise(common, args, m))?,
        Command::Trace(args) => trace::trace(common, args),
        Command::Batch(args) => monitor::in_pool(common, |m| batch::batch(common, args, m))?,
        Command::Sweep(args) => monitor::in_pool(common, |m| sweep::sweep(common, args, m))?,
        Command::Merge(args) => merge::merge(common, args),
        Command::Judge(args) => monitor::in_pool(common, |m| judge::judge(common, args, m))?,
        Command::Vectors(args) => judge::vectors(common, args),
        Command::Fit(args) => fit::fit(common, args),
        Command::Sky(args) => sky::sky(common, args),
        #[cfg(feature = "serve")]
        Command::Serve(args) => serve::serve(common, args),
        Command::Init(args) => init::init(common, args),
        Command::Schema(args) => schema::schema(args),
        Command::Completions(args) => shell::completions(args),
        Command::Man(args) => shell::man(args),
    }
}

/// Writes the reply to standard output and its warnings to standard error.
fn show(reply: &Reply) -> ExitCode {
    for warning in &reply.warnings {
        complain(&format!("warning: {warning}"));
    }
    let text = match &reply.said {
        Said::Document(document) => &document.text(screen(reply.details)),
        Said::Raw(text) => text,
    };
    let mut out = std::io::stdout().lock();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    match written {
        Ok(()) => reply.exit.into(),
        // The reader has seen enough, as with `| head`. That is no error.
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => reply.exit.into(),
        Err(e) => {
            complain(&format!("error: standard output: {e}"));
            Exit::WrongInput.into()
        }
    }
}

/// Standard output, if it is a terminal. States have colours there, unless `NO_COLOR` is set.
fn screen(details: bool) -> Screen {
    let terminal = console::Term::stdout();
    Screen {
        width: terminal.size_checked().map(|(_, columns)| columns.into()),
        colour: terminal.is_term() && console::colors_enabled(),
        details,
    }
}
