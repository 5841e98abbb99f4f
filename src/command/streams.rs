//! Standard output and standard error.

use std::io::Write as _;
use std::path::Path;

use halfturn_engine::rig::escape_controls;

/// Names of standard output for `--json`.
const STANDARD_OUTPUT: [&str; 2] = ["-", "/dev/stdout"];

pub(super) fn is_standard_output(path: &Path) -> bool {
    STANDARD_OUTPUT.iter().any(|name| path.as_os_str() == *name)
}

/// Writes a message to standard error. It may quote anybody's file, so that of its control characters only line feeds
/// reach the terminal.
pub(super) fn complain(message: &str) {
    let lines: Vec<String> = message.split('\n').map(escape_controls).collect();
    // If standard error is closed, the message has no reader.
    let _ = writeln!(std::io::stderr().lock(), "{}", lines.join("\n"));
}
