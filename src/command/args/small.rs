//! The arguments of `init`, `completions` and `man`.

use std::path::PathBuf;

use clap::Args;

/// Write a rig file and a targets file for you to edit.
#[derive(Debug, Args)]
pub(in crate::command) struct InitArgs {
    /// Folder for rig.toml and targets.csv. Existing files stay as they are.
    #[arg(default_value = ".")]
    pub(in crate::command) dir: PathBuf,
}

/// Print completions for your shell.
#[derive(Debug, Args)]
pub(in crate::command) struct CompletionsArgs {
    /// The shell.
    pub(in crate::command) shell: clap_complete::Shell,
}

/// Print the manual page, or write one for every command.
#[derive(Debug, Args)]
pub(in crate::command) struct ManArgs {
    /// Write the pages of all commands into this folder.
    #[arg(long, value_name = "DIR")]
    pub(in crate::command) out: Option<PathBuf>,
}

/// Print the JSON Schema of a file or result, or list all schemas.
#[derive(Debug, Args)]
pub(in crate::command) struct SchemaArgs {
    /// Name of the schema, such as rig, batch or certificate [default: list all].
    pub(in crate::command) name: Option<String>,
}
