//! Running the program, as the tests share it.

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

pub(crate) fn halfturn(dir: &Path, args: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .current_dir(dir)
        .args(args)
        .output()
        .expect("the program starts")
}

pub(crate) fn json(output: &std::process::Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| {
        panic!(
            "{e}: {}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        )
    })
}

pub(crate) fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

pub(crate) fn write(dir: &Path, name: &str, text: &str) {
    std::fs::write(dir.join(name), text).expect("a file can be written");
}

/// What the program says on standard error.
pub(crate) fn complaint(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// What the program says on standard output.
pub(crate) fn output(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Names in a folder, sorted.
pub(crate) fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .expect("the folder")
        .flatten()
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Says that a test, or a part of one, is left out.
#[expect(clippy::print_stderr, reason = "a test that is left out must be seen")]
pub(crate) fn skipped(why: &str) {
    eprintln!("SKIPPED: {why}");
}
