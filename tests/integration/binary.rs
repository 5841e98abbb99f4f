//! Running the program, as the tests share it.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The program. The checks that are a package of their own find it beside them, where `cargo test` has put it.
pub(crate) fn program() -> PathBuf {
    if let Some(path) = option_env!("CARGO_BIN_EXE_halfturn") {
        return path.into();
    }
    let test = std::env::current_exe().expect("the test has a path");
    let name = format!("halfturn{}", std::env::consts::EXE_SUFFIX);
    let path = test.ancestors().nth(2).expect("a profile").join(name);
    assert!(
        path.exists(),
        "run `cargo test --no-run` first: no {path:?}"
    );
    path
}

/// How much of a long test to do: `HALFTURN_FULL=1`, as in `.ci/run`, asks for all of it.
pub(crate) fn sized<T>(quick: T, full: T) -> T {
    if std::env::var_os("HALFTURN_FULL").is_some() {
        full
    } else {
        quick
    }
}

/// The folder of the project.
pub(crate) fn root() -> PathBuf {
    let package = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut above = package.ancestors();
    let found = above.find(|dir| dir.join("docs").is_dir());
    found.expect("a folder with docs").to_owned()
}

/// A file of the project.
pub(crate) fn in_root(path: &str) -> String {
    root().join(path).display().to_string()
}

/// A controller of the examples.
pub(crate) fn example(name: &str) -> String {
    in_root(&format!("examples/controllers/{name}"))
}

/// True where the interpreter is there; says so loudly where it is not.
pub(crate) fn there_is(interpreter: &str) -> bool {
    let found = Command::new(interpreter).arg("--version").output();
    let there = found.is_ok_and(|o| o.status.success());
    if !there {
        skipped(&format!(
            "{interpreter} is not installed, so that its controllers are not judged"
        ));
    }
    there
}

pub(crate) fn halfturn(dir: &Path, args: &[&str]) -> std::process::Output {
    Command::new(program())
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

/// Tells a measured figure past the harness that swallows what tests print.
pub(crate) fn tell(line: &str) {
    let _ = writeln!(std::io::stderr(), "measured: {line}");
}
