//! Shell completions and manual pages.

use clap::CommandFactory as _;

use super::args::{Cli, CompletionsArgs, ManArgs};
use super::reply::{Failure, Reply};
use halfturn_report::{probe_folder, write_files};

pub(super) fn completions(args: &CompletionsArgs) -> Result<Reply, Failure> {
    let mut out = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "halfturn", &mut out);
    Ok(Reply::done(String::from_utf8_lossy(&out).into_owned()))
}

pub(super) fn man(args: &ManArgs) -> Result<Reply, Failure> {
    let mut cli = Cli::command();
    cli.build(); // gives the subcommands their full names and the common options
    let Some(dir) = &args.out else {
        return Ok(Reply::done(page(cli)));
    };
    let mut files = Vec::new();
    pages("halfturn", &cli, &mut files);
    files.push(("halfturn.1".to_owned(), page(cli).into_bytes()));
    let written = files.len();
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    probe_folder(dir, &names)?;
    write_files(dir, files)?;
    Ok(Reply::done(format!(
        "wrote {written} pages to {}\n",
        dir.display()
    )))
}

/// The pages of a command's subcommands, and of theirs.
fn pages(parent: &str, command: &clap::Command, files: &mut Vec<(String, Vec<u8>)>) {
    let subs = command.get_subcommands();
    for sub in subs.filter(|sub| sub.get_name() != "help") {
        let name = format!("{parent}-{}", sub.get_name());
        files.push((
            format!("{name}.1"),
            page(sub.clone().name(name.clone())).into_bytes(),
        ));
        pages(&name, sub, files);
    }
}

fn page(command: clap::Command) -> String {
    let mut out = Vec::new();
    // Writing to memory does not fail.
    let _ = clap_mangen::Man::new(command).render(&mut out);
    String::from_utf8_lossy(&out).into_owned()
}
