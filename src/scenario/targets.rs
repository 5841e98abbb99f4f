//! The targets file: a CSV table of names and position angles.

use std::collections::HashMap;

use sha2::{Digest as _, Sha256};

use super::line::fields;
use super::sexagesimal::{Unit, parse};
use crate::angle::MOST_ANGLE_DEG;
use crate::rig::{InputError, is_plain_line, made_plain};

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

impl Target {
    /// The same target after a meridian flip, which turns the field by half a turn.
    #[must_use]
    pub fn flipped(&self) -> Self {
        Self {
            name: format!("{} (flipped)", self.name),
            position_angle_deg: self.position_angle_deg + 180.0,
            ..self.clone()
        }
    }
}

/// SHA-256 over the names and position angles, in their order, in hexadecimal.
#[must_use]
pub fn targets_digest(targets: &[Target]) -> String {
    let mut hash = Sha256::new();
    for target in targets {
        hash.update(format!(
            "{:?} = {:?}\n",
            target.name, target.position_angle_deg
        ));
    }
    hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

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

/// Most targets of a file.
const MOST_TARGETS: usize = 100_000;

/// Reads a targets file. `file` is the name for messages.
///
/// # Errors
/// [`InputError`] for the first fault: no targets or too many, an unknown or missing column, a name that
/// is empty or used twice, a number that is not finite or out of its range.
pub fn read_targets(text: &str, file: &str) -> Result<Vec<Target>, InputError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut rows = lines(text)
        .enumerate()
        .map(|(i, text)| (i + 1, text.trim()))
        .filter(|(_, text)| !text.is_empty() && !text.starts_with('#'))
        .map(|(line, text)| Row::new(text, file, line));
    let none = || {
        InputError::of_file(
            file,
            "there is no target: it needs a header line and at least one row",
        )
    };
    let header = rows.next().ok_or_else(none)??;
    let columns = Columns::of(&header)?;

    let mut targets = Vec::new();
    let mut first_lines: HashMap<String, usize> = HashMap::new();
    for row in rows {
        let row = row?;
        if targets.len() == MOST_TARGETS {
            return Err(row.broken(format!("at most {MOST_TARGETS} targets are read")));
        }
        let (found, expected) = (row.fields.len(), header.fields.len());
        if found != expected {
            let columns = if found == 1 { "column" } else { "columns" };
            return Err(row.broken(format!(
                "this row has {found} {columns}, the header has {expected}"
            )));
        }
        let target = columns.target(&row)?;
        if let Some(first) = first_lines.insert(target.name.clone(), row.line) {
            return Err(row.fault(
                "name",
                &target.name,
                format!("is used twice (first in line {first}): every target needs its own name"),
            ));
        }
        targets.push(target);
    }
    if targets.is_empty() {
        return Err(none());
    }
    Ok(targets)
}

/// The lines of a text, ended by a line feed, a carriage return or both.
fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.split('\n')
        .flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
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
    fn of(header: &Row<'_>) -> Result<Self, InputError> {
        let fault = |key: &str, problem: String| header.fault(&made_plain(key), "", problem);
        for (i, column) in header.fields.iter().enumerate() {
            if column.contains([';', '\t']) {
                let hint = "fields are parted by commas, numbers have a decimal point";
                return Err(fault(column, format!("unknown column; {hint}")));
            }
            if !COLUMNS.contains(&column.as_str()) {
                return Err(fault(
                    column,
                    format!("unknown column; allowed are {}", COLUMNS.join(", ")),
                ));
            }
            if header.fields[..i].contains(column) {
                return Err(fault(column, "this column is there twice".to_owned()));
            }
        }
        let place = |name: &str| header.fields.iter().position(|c| c == name);
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
        if name.chars().count() > NAME_LENGTH || !is_plain_line(name) {
            let problem = format!(
                "must be one line of at most {NAME_LENGTH} characters, without control characters"
            );
            return Err(row.fault("name", name, problem));
        }
        let position_angle_deg = row
            .number(
                Some(self.position_angle_deg),
                "position_angle_deg",
                -MOST_ANGLE_DEG,
                MOST_ANGLE_DEG,
            )?
            .ok_or_else(|| row.fault("position_angle_deg", "", "must not be empty".to_owned()))?;
        let ra_deg = match row.number(self.ra_deg, "ra_deg", 0.0, 360.0)? {
            Some(ra) => Some(ra),
            None => row
                .sexagesimal(self.ra, "ra", Unit::Hours, 0.0, 24.0)?
                .map(|h| h * 15.0),
        };
        let dec_deg = match row.number(self.dec_deg, "dec_deg", -90.0, 90.0)? {
            Some(dec) => Some(dec),
            None => row.sexagesimal(self.dec, "dec", Unit::Degrees, -90.0, 90.0)?,
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
    fields: Vec<String>,
    file: &'a str,
    line: usize,
}

impl<'a> Row<'a> {
    fn new(text: &str, file: &'a str, line: usize) -> Result<Self, InputError> {
        let row = |fields| Self { fields, file, line };
        match fields(text) {
            Ok(fields) => Ok(row(fields)),
            Err(problem) => Err(row(Vec::new()).broken(problem.to_owned())),
        }
    }

    fn text(&self, column: usize) -> &str {
        self.fields.get(column).map_or("", String::as_str)
    }

    /// A fault of the row as a whole.
    fn broken(&self, problem: String) -> InputError {
        InputError {
            line: Some(self.line),
            ..InputError::of_file(self.file, problem)
        }
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
        unit: Unit,
        low: f64,
        high: f64,
    ) -> Result<Option<f64>, InputError> {
        let Some(text) = column.map(|c| self.text(c)).filter(|t| !t.is_empty()) else {
            return Ok(None);
        };
        let example = match unit {
            Unit::Hours => "05:34:31.9 or 5h34m31.9s",
            Unit::Degrees => "+22:00:52 or 22d00m52s",
        };
        parse(text, unit)
            .filter(|v| (low..=high).contains(v))
            .map(Some)
            .ok_or_else(|| {
                self.fault(
                    key,
                    text,
                    format!("must be like {example}, from {low} to {high}"),
                )
            })
    }
}
