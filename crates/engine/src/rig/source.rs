//! Where the values of a rig come from: offsets -> lines, values -> messages and numbers.

use toml::Spanned;
use toml::de::DeValue;

use super::input::{InputError, escape_controls};

/// A file, or an option of the command line.
pub(super) struct Source<'a> {
    pub(super) file: &'a str,
    /// Where each line starts, in bytes; empty for an option.
    line_starts: Vec<usize>,
}

impl<'a> Source<'a> {
    pub(super) fn of_file(file: &'a str, text: &str) -> Self {
        let ends = text.bytes().enumerate().filter(|(_, b)| *b == b'\n');
        Self {
            file,
            line_starts: std::iter::once(0).chain(ends.map(|(i, _)| i + 1)).collect(),
        }
    }

    pub(super) fn of_option(option: &'a str) -> Self {
        Self {
            file: option,
            line_starts: Vec::new(),
        }
    }

    /// The line of an offset, from 1; `None` for an option.
    pub(super) fn line(&self, offset: usize) -> Option<usize> {
        let line = self.line_starts.partition_point(|start| *start <= offset);
        (line > 0).then_some(line)
    }

    pub(super) fn syntax(&self, error: &toml::de::Error) -> InputError {
        InputError {
            line: error.span().and_then(|s| self.line(s.start)),
            ..InputError::of_file(
                self.file,
                format!(
                    "not valid TOML: {}. A number has a decimal point, a text stands in quotes",
                    escape_controls(error.message())
                ),
            )
        }
    }

    pub(super) fn fault(
        &self,
        path: &str,
        value: &Spanned<DeValue<'_>>,
        allowed: String,
    ) -> InputError {
        InputError {
            file: self.file.to_owned(),
            line: self.line(value.span().start),
            key: escape_controls(path),
            value: shown(value.get_ref()),
            allowed,
        }
    }
}

pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        // Only the text of a decimal integer reads as a float.
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<f64>().ok()?,
        DeValue::Integer(_) => return None,
        DeValue::Float(x) => x.as_str().parse::<f64>().ok()?,
        _ => return None,
    };
    // Turns -0.0 into 0.0: no result may depend on the sign of a zero.
    number.is_finite().then_some(number + 0.0)
}

/// A list of two numbers.
pub(super) fn pair(value: &DeValue<'_>) -> Option<[f64; 2]> {
    let DeValue::Array(entries) = value else {
        return None;
    };
    match entries.iter().collect::<Vec<_>>()[..] {
        [one, two] => Some([number(one.get_ref())?, number(two.get_ref())?]),
        _ => None,
    }
}

pub(super) fn whole(value: &DeValue<'_>) -> Option<i64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok(),
        _ => None,
    }
}

/// A number that people write but TOML does not allow, `.3` or `5.`, with the missing zero.
pub(super) fn with_zero(text: &str) -> Option<String> {
    let (sign, body) = match text.strip_prefix(['+', '-']) {
        Some(body) => (&text[..1], body),
        None => ("", text),
    };
    let (before, after) = body.split_once('.')?;
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if !(digits(before) && digits(after)) || before.is_empty() == after.is_empty() {
        return None;
    }
    Some(if before.is_empty() {
        format!("{sign}0.{after}")
    } else {
        format!("{sign}{before}.0")
    })
}

/// A value as in the file, cut if it is long.
fn shown(value: &DeValue<'_>) -> String {
    let text = match value {
        DeValue::String(s) => escape_controls(&toml::Value::String(s.to_string()).to_string()),
        DeValue::Integer(i) => {
            let prefix = match i.radix() {
                2 => "0b",
                8 => "0o",
                16 => "0x",
                _ => "",
            };
            format!("{prefix}{}", i.as_str())
        }
        DeValue::Float(x) => x.as_str().to_owned(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(_) => "[…]".to_owned(),
        DeValue::Table(_) => "{…}".to_owned(),
    };
    if text.chars().count() > 60 {
        let start: String = text.chars().take(57).collect();
        format!("{start}…")
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_find_their_lines() {
        let source = Source::of_file("x", "ab\n\ncd\n");
        let lines = [0, 2, 3, 4, 6, 7].map(|offset| source.line(offset));
        assert_eq!(lines, [1, 1, 2, 3, 3, 4].map(Some));
        assert_eq!(Source::of_option("--set").line(0), None);
    }

    #[test]
    fn a_missing_zero_is_put_in() {
        let table = [
            (".3", Some("0.3")),
            ("-.25", Some("-0.25")),
            ("5.", Some("5.0")),
            (".", None),
            ("1.5", None),
            (".3x", None),
            ("3", None),
        ];
        for (text, expected) in table {
            assert_eq!(with_zero(text).as_deref(), expected, "{text}");
        }
    }
}
