//! The arguments of `init`, `completions` and `man`.

use std::path::PathBuf;

use clap::Args;

/// Write a commented rig file and a targets file to start from.
#[derive(Debug, Args)]
pub(in crate::command) struct InitArgs {
    /// Folder for rig.toml and targets.csv; files that are there are left alone.
    #[arg(default_value = ".")]
    pub(in crate::command) dir: PathBuf,
}

/// Print the completions of a shell.
#[derive(Debug, Args)]
pub(in crate::command) struct CompletionsArgs {
    /// The shell.
    pub(in crate::command) shell: clap_complete::Shell,
}

/// Print the manual page, or write one for every command.
#[derive(Debug, Args)]
pub(in crate::command) struct ManArgs {
    /// Folder for the pages of all commands.
    #[arg(long, value_name = "DIR")]
    pub(in crate::command) out: Option<PathBuf>,
}

/// Print the JSON Schema of a file or a result, or list all schemas.
#[derive(Debug, Args)]
pub(in crate::command) struct SchemaArgs {
    /// Which one, such as rig, batch or certificate; all are listed without it.
    pub(in crate::command) name: Option<String>,
}
