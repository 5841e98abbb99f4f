//! The targets file: a CSV table of names and position angles.

use std::collections::HashMap;

use crate::rig::InputError;

/// The text of the built-in demo targets.
pub const DEMO_TARGETS: &str = include_str!("../../assets/demo-targets.csv");

/// The name under which messages speak of the built-in demo targets.
pub const DEMO_TARGETS_NAME: &str = "demo-targets.csv (built in)";

/// One target of the night.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Unique name.
    pub name: String,
    /// Planned position angle as given \[deg\].
    pub position_angle_deg: f64,
    /// Right ascension, ICRS \[deg\].
    pub ra_deg: Option<f64>,
    /// Declination, ICRS \[deg\].
    pub dec_deg: Option<f64>,
    /// Planned time on the target \[min\].
    pub minutes: Option<f64>,
}

/// Greatest angle that is taken as a position angle \[deg\].
const ANGLE_DEG: f64 = 360_000.0;

/// Longest name of a target, in characters.
const NAME_LENGTH: usize = 100;

/// Columns that a targets file may have.
const COLUMNS: [&str; 7] = [
    "name",
    "position_angle_deg",
    "ra_deg",
    "dec_deg",
    "ra",
    "dec",
    "minutes",
];

/// Reads a targets file. `file` is the name for messages.
///
/// # Errors
/// [`InputError`] for the first fault: no targets, an unknown or missing column, a name that is empty
/// or used twice, a number that is not finite or out of its range.
pub fn read_targets(text: &str, file: &str) -> Result<Vec<Target>, InputError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let header = reader.headers().map_err(|e| broken(file, &e))?.clone();
    let columns = Columns::of(&header, file)?;

    let mut targets = Vec::new();
    let mut lines: HashMap<String, usize> = HashMap::new();
    for record in reader.records() {
        let record = record.map_err(|e| broken(file, &e))?;
        let line = record.position().map_or(0, |p| line_of(text, p.byte()));
        let row = Row {
            record: &record,
            file,
            line,
        };
        let target = columns.target(&row)?;
        if let Some(first) = lines.insert(target.name.clone(), line) {
            return Err(row.fault(
                "name",
                &target.name,
                format!("is used twice (first in line {first}): every target needs its own name"),
            ));
        }
        targets.push(target);
    }
    if targets.is_empty() {
        return Err(InputError::of_file(
            file,
            "there is no target: it needs a header line and at least one row",
        ));
    }
    Ok(targets)
}

/// The line of a record that starts at this offset; comments and blank lines before it are passed over.
fn line_of(text: &str, offset: u64) -> usize {
    let offset = usize::try_from(offset).unwrap_or(0).min(text.len());
    let mut line = 1 + text.as_bytes()[..offset]
        .iter()
        .filter(|b| **b == b'\n')
        .count();
    for skipped in text[offset..].lines() {
        if skipped.trim().is_empty() || skipped.starts_with('#') {
            line += 1;
        } else {
            break;
        }
    }
    line
}

fn broken(file: &str, error: &csv::Error) -> InputError {
    let line = error
        .position()
        .and_then(|p| usize::try_from(p.line()).ok());
    let problem = match error.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => format!("this row has {len} columns, the header has {expected_len}"),
        csv::ErrorKind::Utf8 { .. } => "is not UTF-8".to_owned(),
        _ => format!("not a CSV table: {error}"),
    };
    InputError {
        line,
        ..InputError::of_file(file, problem)
    }
}

/// Where each column stands.
struct Columns {
    name: usize,
    position_angle_deg: usize,
    ra_deg: Option<usize>,
    dec_deg: Option<usize>,
    ra: Option<usize>,
    dec: Option<usize>,
    minutes: Option<usize>,
}

impl Columns {
    fn of(header: &csv::StringRecord, file: &str) -> Result<Self, InputError> {
        let fault = |key: &str, problem: String| InputError {
            line: Some(header.position().map_or(1, |p| p.line().max(1) as usize)),
            key: key.to_owned(),
            ..InputError::of_file(file, problem)
        };
        for (i, column) in header.iter().enumerate() {
            if !COLUMNS.contains(&column) {
                return Err(fault(
                    column,
                    format!("unknown column; allowed are {}", COLUMNS.join(", ")),
                ));
            }
            if header.iter().take(i).any(|c| c == column) {
                return Err(fault(column, "this column is there twice".to_owned()));
            }
        }
        let place = |name: &str| header.iter().position(|c| c == name);
        let needed = |name: &str| {
            place(name).ok_or_else(|| fault(name, "this column is missing".to_owned()))
        };
        Ok(Self {
            name: needed("name")?,
            position_angle_deg: needed("position_angle_deg")?,
            ra_deg: place("ra_deg"),
            dec_deg: place("dec_deg"),
            ra: place("ra"),
            dec: place("dec"),
            minutes: place("minutes"),
        })
    }

    fn target(&self, row: &Row<'_>) -> Result<Target, InputError> {
        let name = row.text(self.name);
        if name.is_empty() {
            return Err(row.fault("name", "", "must not be empty".to_owned()));
        }
        if name.chars().count() > NAME_LENGTH || name.chars().any(char::is_control) {
            let problem = format!("must be one line of at most {NAME_LENGTH} characters");
            return Err(row.fault("name", name, problem));
        }
        let position_angle_deg = row
            .number(
                Some(self.position_angle_deg),
                "position_angle_deg",
                -ANGLE_DEG,
                ANGLE_DEG,
            )?
            .ok_or_else(|| row.fault("position_angle_deg", "", "must not be empty".to_owned()))?;
        let ra_deg = match row.number(self.ra_deg, "ra_deg", 0.0, 360.0)? {
            Some(ra) => Some(ra),
            None => row.sexagesimal(self.ra, "ra", 0.0, 24.0)?.map(|h| h * 15.0),
        };
        let dec_deg = match row.number(self.dec_deg, "dec_deg", -90.0, 90.0)? {
            Some(dec) => Some(dec),
            None => row.sexagesimal(self.dec, "dec", -90.0, 90.0)?,
        };
        Ok(Target {
            name: name.to_owned(),
            position_angle_deg,
            ra_deg,
            dec_deg,
            minutes: row.number(self.minutes, "minutes", 0.0, 100_000.0)?,
        })
    }
}

/// One row of the table.
struct Row<'a> {
    record: &'a csv::StringRecord,
    file: &'a str,
    line: usize,
}

impl Row<'_> {
    fn text(&self, column: usize) -> &str {
        self.record.get(column).unwrap_or_default()
    }

    fn fault(&self, key: &str, value: &str, allowed: String) -> InputError {
        InputError {
            file: self.file.to_owned(),
            line: Some(self.line),
            key: key.to_owned(),
            value: if value.is_empty() {
                String::new()
            } else {
                format!("{value:?}")
            },
            allowed,
        }
    }

    /// A number of the row; `None` where the column or the value is not there.
    fn number(
        &self,
        column: Option<usize>,
        key: &str,
        low: f64,
        high: f64,
    ) -> Result<Option<f64>, InputError> {
        let Some(text) = column.map(|c| self.text(c)).filter(|t| !t.is_empty()) else {
            return Ok(None);
        };
        match text.parse::<f64>() {
            Ok(v) if v >= low && v <= high => Ok(Some(v)),
            _ => Err(self.fault(
                key,
                text,
                format!("must be a number from {low} to {high}, with a decimal point"),
            )),
        }
    }

    /// Degrees or hours, minutes and seconds, parted by colons, spaces or unit letters; or a plain
    /// decimal number of degrees (of hours for a right ascension).
    fn sexagesimal(
        &self,
        column: Option<usize>,
        key: &str,
        low: f64,
        high: f64,
    ) -> Result<Option<f64>, InputError> {
        let Some(text) = column.map(|c| self.text(c)).filter(|t| !t.is_empty()) else {
            return Ok(None);
        };
        parse_sexagesimal(text)
            .filter(|v| (low..=high).contains(v))
            .map(Some)
            .ok_or_else(|| {
                self.fault(
                    key,
                    text,
                    format!("must be like 05:34:31.9 or 5h34m31.9s, from {low} to {high}"),
                )
            })
    }
}

fn parse_sexagesimal(text: &str) -> Option<f64> {
    let negative = text.starts_with(['-', '\u{2212}']);
    let body = text.trim_start_matches(['+', '-', '\u{2212}']);
    let parts: Vec<f64> = body
        .split(|c: char| c == ':' || c.is_whitespace() || "hdms°'\"′″".contains(c))
        .filter(|p| !p.is_empty())
        .map(|p| {
            // Digits and a point only: no exponent, no second sign.
            let plain = p.chars().all(|c| c.is_ascii_digit() || c == '.');
            plain.then(|| p.parse::<f64>().ok()).flatten()
        })
        .collect::<Option<_>>()?;
    if parts.is_empty() || parts.len() > 3 || parts[1..].iter().any(|p| *p >= 60.0) {
        return None;
    }
    let value = parts.iter().rev().fold(0.0, |sum, part| sum / 60.0 + part);
    Some(if negative { -value } else { value })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sexagesimal_keeps_the_sign_of_minus_zero() {
        assert_eq!(parse_sexagesimal("-00:30:00"), Some(-0.5));
        assert_eq!(parse_sexagesimal("5h34m30s"), Some(5.575));
        assert_eq!(parse_sexagesimal("22 30"), Some(22.5));
        assert_eq!(parse_sexagesimal("12:60:00"), None);
        assert_eq!(parse_sexagesimal("1:2:3:4"), None);
        assert_eq!(parse_sexagesimal("1e3"), None);
    }
}
