//! A planned night -> the run sheet: one row for each thing that moves; and such a sheet read again.

use serde::Serialize;
use strum::VariantArray as _;

use super::course::Rotation;
use super::plan::{NightPlan, RuleNight};
use super::timetable::Stretch;
use crate::time::Moment;
use halfturn_engine::advise::Flats;
use halfturn_engine::angle::{MOST_ANGLE_DEG, TURN_DEG, fold_finite, residual_finite};
use halfturn_engine::rig::{InputError, Rig, is_printable_line};
use halfturn_engine::scenario::{Table, TableRow};

/// What moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Moves {
    /// The mount goes to a target.
    Slew,
    /// The focuser finds its place.
    Focus,
    /// The mount goes to the other side of its pier.
    Flip,
    /// The rotator turns the camera.
    Turn,
}

/// A row of a run sheet: what moves, and where all stands after it.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRow {
    /// When it begins.
    pub at: Moment,
    /// What moves.
    pub moves: Moves,
    /// Name of the target.
    pub target: String,
    /// Wanted position angle \[deg\].
    pub position_angle_deg: f64,
    /// Reading to expect after it \[deg\].
    pub reading_deg: f64,
    /// How far the rotator turns \[deg\].
    pub turn_deg: f64,
    /// How far the reading then is from the parking reading \[deg\].
    pub cable_deg: f64,
    /// Zero point to expect, with the flip and the pole of date in it, in `[0, 360)` \[deg\].
    pub zero_point_deg: f64,
    /// Number of the set of flats, from 1.
    pub flats: usize,
    /// What to watch: keep-outs, stops, light.
    pub watch: String,
}

/// The rows of a night, and what one must know of the rig to compare frames with them.
#[derive(Debug, Clone, PartialEq)]
pub struct RunSheet {
    /// The rows, in the order of time.
    pub rows: Vec<SheetRow>,
    /// Line of the first row in its file.
    pub first_line: usize,
    /// Digest of the rig.
    pub rig_digest: String,
    /// 1 if the position angle grows with the reading, else -1.
    pub sense: f64,
    /// Turn after which the same field is framed \[deg\].
    pub period_deg: f64,
    /// Largest residual that the loop accepts \[deg\].
    pub tolerance_deg: f64,
    /// How far a reading may be from the parking reading \[deg\]; 0 for no limit.
    pub cable_limit_deg: f64,
}

/// The columns of a sheet's file, in their order. `time_local` may be left out.
pub const SHEET_COLUMNS: [&str; 16] = [
    "time",
    "time_local",
    "moves",
    "target",
    "position_angle_deg",
    "reading_deg",
    "turn_deg",
    "cable_deg",
    "zero_point_deg",
    "flats",
    "watch",
    "sense",
    "period_deg",
    "tolerance_deg",
    "cable_limit_deg",
    "rig_digest",
];

/// A turn below this is none: a sheet shows two decimals \[deg\].
const STILL_DEG: f64 = 0.005;

/// How far rounding may part two figures of a row \[deg\].
const ROUNDED_DEG: f64 = 0.002;

/// A row whose reading frames an angle this far from its own is wrong. Near a pole of the sky the pole of date shifts
/// the zero point by a few degrees.
const FAR_DEG: f64 = 10.0;

/// Most rows of a sheet.
const MOST_ROWS: usize = 10_000;

impl RunSheet {
    /// The sheet of a night under a rule. `watch` says what a stretch has to be watched for. Flats farther than
    /// `flats_deg` from the middle of their set need another one.
    #[must_use]
    pub fn of(
        rig: &Rig,
        plan: &NightPlan,
        rule: &RuleNight,
        flats_deg: f64,
        watch: impl Fn(&Stretch, &Rotation) -> String,
    ) -> Self {
        let s = rig.settings();
        let (park_deg, rotations) = (s.drive.park_deg, &rule.course.rotations);
        let numbers: Vec<String> = (0..rotations.len()).map(|i| i.to_string()).collect();
        let angles = rotations.iter().zip(&numbers);
        let flats = Flats::of_angles(angles.map(|(r, n)| (r.to_deg, n.as_str())), flats_deg);
        let set_of = |number: &String| {
            flats
                .sets
                .iter()
                .position(|set| set.targets.contains(number))
        };
        let first_pole_deg = plan.stretches.first().map_or(0.0, Stretch::pole_deg);
        let setup = plan.setup;
        let mut rows = Vec::new();
        for ((stretch, r), number) in plan.stretches.iter().zip(rotations).zip(&numbers) {
            let target = &plan.targets[stretch.target];
            let zero_deg =
                s.drive.zero_point_deg + r.turned_deg + stretch.pole_deg() - first_pole_deg;
            let mut row = |at, moves, reading_deg: f64, turn_deg, watch| {
                rows.push(SheetRow {
                    at,
                    moves,
                    target: target.name.clone(),
                    position_angle_deg: target.position_angle_deg,
                    reading_deg,
                    turn_deg,
                    cable_deg: reading_deg - park_deg,
                    zero_point_deg: fold_finite(zero_deg, 0.0, TURN_DEG),
                    flats: set_of(number).map_or(0, |i| i + 1),
                    watch,
                });
            };
            let begin = stretch.begin.plus_s(-stretch.setup_s);
            let first = if stretch.after_flip {
                Moves::Flip
            } else {
                Moves::Slew
            };
            let turn_deg = r.to_deg - r.from_deg;
            let turns = turn_deg.abs() >= STILL_DEG || r.refused;
            let (early, late) = match turns {
                true => (String::new(), watch(stretch, r)),
                false => (watch(stretch, r), String::new()),
            };
            row(begin, first, r.from_deg, 0.0, early);
            if !stretch.after_flip && setup.focus_s > 0.0 {
                let at = stretch.begin.plus_s(-setup.focus_s);
                row(at, Moves::Focus, r.from_deg, 0.0, String::new());
            }
            if turns {
                row(stretch.begin, Moves::Turn, r.to_deg, turn_deg, late);
            }
        }
        Self {
            rows,
            first_line: 2,
            rig_digest: rig.digest(),
            sense: s.loop_.believed_sense.factor(),
            period_deg: rule.course.policy.period_deg(),
            tolerance_deg: s.loop_.tolerance_deg,
            cable_limit_deg: s.drive.winding_limit_deg,
        }
    }
}

/// Reads the file of a sheet. `file` is the name that messages show.
///
/// # Errors
/// [`InputError`] for the first fault, with its line: an unknown or missing column, a number out of its range, a time
/// before that of the row above, a reading that the turn or the cable of its row contradicts, a row of another rig.
pub fn read_sheet(text: &str, file: &str) -> Result<RunSheet, InputError> {
    let table = Table::read(text, file, &SHEET_COLUMNS, "row")?;
    let mut places = [0; SHEET_COLUMNS.len()];
    for (place, name) in places.iter_mut().zip(SHEET_COLUMNS) {
        if name != "time_local" {
            *place = table.needed(name)?;
        }
    }
    let mut sheet: Option<RunSheet> = None;
    for row in table.rows() {
        let row = row?;
        let fields = Fields { row: &row, places };
        let read = fields.sheet()?;
        let Some(sheet) = &mut sheet else {
            sheet = Some(read);
            continue;
        };
        if sheet.rows.len() == MOST_ROWS {
            return Err(row.broken(format!("too many rows. Give at most {MOST_ROWS}")));
        }
        fields.follows(sheet, &read)?;
        sheet.rows.extend(read.rows);
    }
    sheet.ok_or_else(|| table.no_rows())
}

/// The fields of a row by the names of their columns.
struct Fields<'a> {
    row: &'a TableRow<'a>,
    places: [usize; SHEET_COLUMNS.len()],
}

impl Fields<'_> {
    fn text(&self, name: &str) -> &str {
        let column = SHEET_COLUMNS.iter().position(|c| *c == name);
        column.map_or("", |c| self.row.text(self.places[c]))
    }

    fn fault(&self, name: &str, problem: String) -> InputError {
        self.row.fault(name, self.text(name), problem)
    }

    fn number(&self, name: &'static str, low: f64, high: f64) -> Result<f64, InputError> {
        let column = SHEET_COLUMNS.iter().position(|c| *c == name);
        let found = self
            .row
            .number(column.map(|c| self.places[c]), name, low, high)?;
        found.ok_or_else(|| self.fault(name, "must not be empty".to_owned()))
    }

    /// A sheet of this row alone.
    fn sheet(&self) -> Result<RunSheet, InputError> {
        let angle = |name| self.number(name, -MOST_ANGLE_DEG, MOST_ANGLE_DEG);
        let one_of = |name, allowed: &[f64]| {
            let found = self.number(name, -MOST_ANGLE_DEG, MOST_ANGLE_DEG)?;
            let known = allowed.contains(&found);
            let names: Vec<String> = allowed.iter().map(f64::to_string).collect();
            let problem = || format!("must be {}", names.join(" or "));
            known
                .then_some(found)
                .ok_or_else(|| self.fault(name, problem()))
        };
        let at = Moment::read(self.text("time")).ok_or_else(|| {
            self.fault(
                "time",
                "must be a universal time such as 2026-10-14T19:40:00Z".to_owned(),
            )
        })?;
        let moves = self.text("moves").parse().map_err(|_| {
            let names: Vec<&str> = Moves::VARIANTS.iter().map(Into::into).collect();
            self.fault("moves", format!("must be {}", names.join(" or ")))
        })?;
        let target = self.text("target");
        if target.is_empty() || !is_printable_line(target) {
            return Err(self.fault(
                "target",
                "must be a name without control characters".to_owned(),
            ));
        }
        let digest = self.text("rig_digest");
        if digest.is_empty() || !digest.bytes().all(|b| b.is_ascii_hexdigit()) {
            let problem = "must be the digest of a rig. Make the sheet again by sky night --sheet";
            return Err(self.fault("rig_digest", problem.to_owned()));
        }
        Ok(RunSheet {
            rows: vec![SheetRow {
                at,
                moves,
                target: target.to_owned(),
                position_angle_deg: angle("position_angle_deg")?,
                reading_deg: angle("reading_deg")?,
                turn_deg: angle("turn_deg")?,
                cable_deg: angle("cable_deg")?,
                zero_point_deg: angle("zero_point_deg")?,
                flats: self.number("flats", 1.0, 1e6)? as usize,
                watch: self.text("watch").to_owned(),
            }],
            first_line: self.row.line,
            rig_digest: digest.to_owned(),
            sense: one_of("sense", &[1.0, -1.0])?,
            period_deg: one_of("period_deg", &[360.0, 180.0, 90.0])?,
            tolerance_deg: self.number("tolerance_deg", 0.0, TURN_DEG)?,
            cable_limit_deg: self.number("cable_limit_deg", 0.0, MOST_ANGLE_DEG)?,
        })
    }

    /// Whether this row goes on where the rows above end.
    fn follows(&self, sheet: &RunSheet, this: &RunSheet) -> Result<(), InputError> {
        let (Some(last), Some(row)) = (sheet.rows.last(), this.rows.first()) else {
            return Ok(());
        };
        let cure = "Correct the row, or make the sheet again by sky night --sheet";
        let fixed: [(&str, bool); 5] = [
            ("rig_digest", this.rig_digest == sheet.rig_digest),
            ("sense", this.sense == sheet.sense),
            ("period_deg", this.period_deg == sheet.period_deg),
            ("tolerance_deg", this.tolerance_deg == sheet.tolerance_deg),
            (
                "cable_limit_deg",
                this.cable_limit_deg == sheet.cable_limit_deg,
            ),
        ];
        if let Some((name, _)) = fixed.iter().find(|(_, same)| !same) {
            let problem = "is not that of the rows above: the row belongs to the sheet of another rig. Keep each night in its file";
            return Err(self.fault(name, problem.to_owned()));
        }
        if row.at.since_s(last.at) < 0.0 {
            return Err(self.fault(
                "time",
                "goes back in time. Sort the rows by time".to_owned(),
            ));
        }
        let from_deg = last.reading_deg;
        if (from_deg + row.turn_deg - row.reading_deg).abs() > ROUNDED_DEG {
            return Err(self.fault(
                "turn_deg",
                format!(
                    "does not lead from {from_deg}°, the reading above, to {}°. {cure}",
                    row.reading_deg
                ),
            ));
        }
        let shown_deg = row.zero_point_deg + this.sense * row.reading_deg - row.position_angle_deg;
        let off_deg = residual_finite(shown_deg, this.period_deg).abs();
        if row.turn_deg != 0.0 && off_deg > FAR_DEG {
            return Err(self.fault(
                "position_angle_deg",
                format!(
                    "is {off_deg:.1}° from what {}°, the reading of this row, frames. {cure}",
                    row.reading_deg
                ),
            ));
        }
        let park_deg = last.reading_deg - last.cable_deg;
        if (row.reading_deg - row.cable_deg - park_deg).abs() > ROUNDED_DEG {
            return Err(self.fault(
                "cable_deg",
                format!(
                    "does not fit {}°, the reading of this row: by the rows above the parking reading is {park_deg:.2}°. {cure}",
                    row.reading_deg
                ),
            ));
        }
        Ok(())
    }
}
