//! The targets file: a CSV table of names and position angles.

use std::collections::HashMap;

use sha2::{Digest as _, Sha256};

use super::catalogue::find_object;
use super::sexagesimal::{Unit, parse};
use super::table::{Table, TableRow};
use super::{Policy, Scenario};
use crate::angle::MOST_ANGLE_DEG;
use crate::rig::{InputError, Rig, is_printable_line};

/// The text of the built-in demo targets.
pub const DEMO_TARGETS: &str = include_str!("../../../../assets/demo-targets.csv");

/// The name of the built-in demo targets in messages.
pub const DEMO_TARGETS_NAME: &str = "demo-targets.csv (built in)";

/// One target of a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Name, unique in its list.
    pub name: String,
    /// Planned position angle as written \[deg\].
    pub position_angle_deg: f64,
    /// Right ascension, ICRS \[deg\]; `None` if the row gives none.
    pub ra_deg: Option<f64>,
    /// Declination, ICRS \[deg\]; `None` if the row gives none.
    pub dec_deg: Option<f64>,
    /// Planned time on the target \[min\]; `None` if the row gives none.
    pub minutes: Option<f64>,
    /// Position angle of the target that the drive framed before \[deg\]; `None` if it starts parked.
    pub after_deg: Option<f64>,
}

impl Target {
    /// A target without a name at a position angle \[deg\].
    #[must_use]
    pub fn at(position_angle_deg: f64) -> Self {
        Self {
            name: String::new(),
            position_angle_deg,
            ra_deg: None,
            dec_deg: None,
            minutes: None,
            after_deg: None,
        }
    }

    /// The target after a meridian flip, which turns the field by half a turn.
    #[must_use]
    pub fn flipped(&self) -> Self {
        Self {
            name: format!("{} (flipped)", self.name),
            position_angle_deg: self.position_angle_deg + 180.0,
            after_deg: Some(self.position_angle_deg),
            ..self.clone()
        }
    }

    /// The loop of this target. The drive starts parked, or where the loop of the target before ended.
    #[must_use]
    pub fn scenario(&self, rig: &Rig, policy: Policy) -> Scenario {
        let scenario = Scenario::new(rig, policy, self.position_angle_deg);
        match self.after_deg {
            None => scenario,
            Some(before_deg) => {
                let before = Scenario::new(rig, policy, before_deg);
                scenario.after(before)
            }
        }
    }
}

/// Every target, each followed by the same target after a meridian flip.
#[must_use]
pub fn with_flips(targets: Vec<Target>) -> Vec<Target> {
    let both = |t: Target| {
        let flipped = t.flipped();
        [t, flipped]
    };
    targets.into_iter().flat_map(both).collect()
}

/// SHA-256 over names and position angles, in their order, in hexadecimal.
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
const COLUMNS: [&str; 8] = [
    "name",
    "position_angle_deg",
    "ra_deg",
    "dec_deg",
    "ra",
    "dec",
    "object",
    "minutes",
];

const MOST_TARGETS: usize = 100_000;

/// Reads a targets file. `file` is the name that messages show.
///
/// # Errors
/// [`InputError`] for the first fault: no targets or too many, an unknown or missing column, a name that is empty or
/// used twice, a number that is not finite or out of its range.
pub fn read_targets(text: &str, file: &str) -> Result<Vec<Target>, InputError> {
    let table = Table::read(text, file, &COLUMNS, "target")?;
    let columns = Columns::of(&table)?;

    let mut targets = Vec::new();
    let mut first_lines: HashMap<String, usize> = HashMap::new();
    for row in table.rows() {
        let row = row?;
        if targets.len() == MOST_TARGETS {
            return Err(row.broken(format!("too many targets. Give at most {MOST_TARGETS}")));
        }
        let target = columns.target(&row)?;
        if let Some(first) = first_lines.insert(target.name.clone(), row.line) {
            return Err(row.fault(
                "name",
                &target.name,
                format!("is also the name in line {first}. Give each target another name"),
            ));
        }
        targets.push(target);
    }
    if targets.is_empty() {
        return Err(table.no_rows());
    }
    Ok(targets)
}

/// The place of each column.
struct Columns {
    name: usize,
    position_angle_deg: usize,
    ra_deg: Option<usize>,
    dec_deg: Option<usize>,
    ra: Option<usize>,
    dec: Option<usize>,
    object: Option<usize>,
    minutes: Option<usize>,
}

impl Columns {
    fn of(table: &Table<'_>) -> Result<Self, InputError> {
        Ok(Self {
            name: table.needed("name")?,
            position_angle_deg: table.needed("position_angle_deg")?,
            ra_deg: table.place("ra_deg"),
            dec_deg: table.place("dec_deg"),
            ra: table.place("ra"),
            dec: table.place("dec"),
            object: table.place("object"),
            minutes: table.place("minutes"),
        })
    }

    fn target(&self, row: &TableRow<'_>) -> Result<Target, InputError> {
        let name = row.text(self.name);
        if name.is_empty() {
            return Err(row.fault("name", "", "must not be empty".to_owned()));
        }
        if name.chars().count() > NAME_LENGTH || !is_printable_line(name) {
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
            None => sexagesimal(row, self.ra, "ra", Unit::Hours, 0.0, 24.0)?.map(|h| h * 15.0),
        };
        let dec_deg = match row.number(self.dec_deg, "dec_deg", -90.0, 90.0)? {
            Some(dec) => Some(dec),
            None => sexagesimal(row, self.dec, "dec", Unit::Degrees, -90.0, 90.0)?,
        };
        let (ra_deg, dec_deg) = self.of_object(row, ra_deg, dec_deg)?;
        Ok(Target {
            name: name.to_owned(),
            position_angle_deg,
            ra_deg,
            dec_deg,
            minutes: row.number(self.minutes, "minutes", 0.0, 100_000.0)?,
            after_deg: None,
        })
    }
}

impl Columns {
    /// The coordinates of the catalogue, if the row names one of its objects.
    fn of_object(
        &self,
        row: &TableRow<'_>,
        ra_deg: Option<f64>,
        dec_deg: Option<f64>,
    ) -> Result<(Option<f64>, Option<f64>), InputError> {
        let Some(name) = self.object.map(|c| row.text(c)).filter(|t| !t.is_empty()) else {
            return Ok((ra_deg, dec_deg));
        };
        if ra_deg.is_some() || dec_deg.is_some() {
            let problem = "stands beside coordinates in this row. Remove one of the two";
            return Err(row.fault("object", name, problem.to_owned()));
        }
        let found = find_object(name).map_err(|e| row.fault("object", name, e.to_string()))?;
        Ok((Some(found.ra_deg), Some(found.dec_deg)))
    }
}

/// Degrees or hours, minutes and seconds, separated by colons, spaces or unit letters; or a plain decimal number of
/// degrees (of hours for a right ascension).
fn sexagesimal(
    row: &TableRow<'_>,
    column: Option<usize>,
    key: &str,
    unit: Unit,
    low: f64,
    high: f64,
) -> Result<Option<f64>, InputError> {
    let Some(text) = column.map(|c| row.text(c)).filter(|t| !t.is_empty()) else {
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
            row.fault(
                key,
                text,
                format!("must be like {example}, from {low} to {high}"),
            )
        })
}
