//! Shell completions and manual pages.

use clap::CommandFactory as _;

use super::args::{Cli, CompletionsArgs, ManArgs};
use super::reply::{Failure, Reply};
use crate::report::{probe_folder, write_files};

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
    let mut files: Vec<(String, Vec<u8>)> = cli
        .get_subcommands()
        .filter(|sub| sub.get_name() != "help")
        .map(|sub| {
            let name = format!("halfturn-{}", sub.get_name());
            let file = format!("{name}.1");
            (file, page(sub.clone().name(name)).into_bytes())
        })
        .collect();
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

fn page(command: clap::Command) -> String {
    let mut out = Vec::new();
    // Writing to memory does not fail.
    let _ = clap_mangen::Man::new(command).render(&mut out);
    String::from_utf8_lossy(&out).into_owned()
}
