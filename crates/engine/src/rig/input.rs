//! What is wrong with a file that the user gave, and where.

use std::borrow::Cow;
use std::fmt;

use super::error::RigError;

/// One fault in an input file or an override: where it is, what stands there, what is allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputError {
    /// Name of the file, or the option that carried the value.
    pub file: String,
    /// Line in the file, from 1; `None` if the fault has no line.
    pub line: Option<usize>,
    /// Dotted key or column at fault; empty if none is.
    pub key: String,
    /// The value as given; empty if there is none.
    pub value: String,
    /// What is wrong or what is allowed instead.
    pub allowed: String,
}

impl InputError {
    /// A fault of the whole file.
    pub fn of_file(file: &str, problem: impl Into<String>) -> Self {
        Self {
            file: file.to_owned(),
            line: None,
            key: String::new(),
            value: String::new(),
            allowed: problem.into(),
        }
    }

    pub(super) fn of_rig(error: RigError, file: &str, line: Option<usize>) -> Self {
        Self {
            file: file.to_owned(),
            line,
            key: error.key,
            value: error.value,
            allowed: error.allowed,
        }
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        f.write_str(": ")?;
        if !self.key.is_empty() {
            f.write_str(&short(&self.key, SHOWN))?;
            if !self.value.is_empty() {
                write!(f, " = {}", short(&self.value, SHOWN))?;
            }
            f.write_str(": ")?;
        }
        // A rule may be long, but it may also quote the file, and that has no limit.
        f.write_str(&short(&self.allowed, 5 * SHOWN))
    }
}

impl std::error::Error for InputError {}

/// Most characters of a key or value in a message. A file may hold longer ones.
const SHOWN: usize = 200;

fn short(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => format!("{}…", &text[..end]).into(),
        None => text.into(),
    }
}

/// Whether a text is one line without control characters and without marks that turn the direction of writing. Such a
/// mark could make one name look like another.
pub fn is_printable_line(text: &str) -> bool {
    text.chars().all(is_plain)
}

fn is_plain(c: char) -> bool {
    !c.is_control()
        && !matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A text for a message: whatever [`is_printable_line`] refuses is written as `\u{…}`.
pub fn escape_controls(text: &str) -> String {
    text.chars()
        .map(|c| {
            if is_plain(c) {
                c.to_string()
            } else {
                c.escape_unicode().to_string()
            }
        })
        .collect()
}
