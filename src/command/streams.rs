//! Standard output and standard error.

use std::io::Write as _;
use std::path::Path;

/// Names of standard output for `--json`.
const STANDARD_OUTPUT: [&str; 2] = ["-", "/dev/stdout"];

pub(super) fn is_standard_output(path: &Path) -> bool {
    STANDARD_OUTPUT.iter().any(|name| path.as_os_str() == *name)
}

/// Writes a line to standard error.
pub(super) fn complain(line: &str) {
    // If standard error is closed, the message has no reader.
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}
