//! The frames of a night against its run sheet -> text and JSON.

use serde::Serialize;

use crate::document::{Block, Column, Document, Line, Table};
use halfturn_engine::wording::{angle, counted, degrees};
use halfturn_sky::night::{Beside, Morning, RunSheet};
use halfturn_sky::time::Moment;

/// Most files to name in a sentence.
const NAMED: usize = 4;

/// A drift that moves the field by less than this share of the tolerance in the night needs no cure.
const SLOW: f64 = 0.2;

/// The sheet, and the frames beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Against {
    /// The sheet.
    pub sheet: RunSheet,
    /// The frames beside it.
    pub morning: Morning,
}

impl Against {
    /// Whether every frame stood within the tolerance of its angle, and the cable within its limit.
    #[must_use]
    pub fn holds(&self) -> bool {
        let inside = |b: &Beside| !self.is_off(b) && !self.overwinds(b);
        self.morning.zero_point.is_some() && self.morning.frames.iter().all(inside)
    }

    fn is_off(&self, b: &Beside) -> bool {
        b.angle_off_deg.abs() > self.sheet.tolerance_deg
    }

    fn overwinds(&self, b: &Beside) -> bool {
        self.sheet.cable_limit_deg > 0.0 && b.cable_deg.abs() > self.sheet.cable_limit_deg
    }
}

/// The morning for a reader: the answer, what to change, every frame, the flats.
pub(super) fn against_document(against: &Against, out: &mut Document) {
    let Against { sheet, morning } = against;
    let frames = &morning.frames;
    let folder = folder(frames);
    let off = frames.iter().filter(|b| against.is_off(b)).count();
    out.add(Block::Lead(
        format!(
            "{} of {} stand within {} of their position angle.",
            frames.len() - off,
            counted(frames.len(), "frame"),
            angle(sheet.tolerance_deg)
        )
        .into(),
    ));
    if let Some(zero) = &morning.zero_point {
        let spread = zero
            .spread_deg
            .map_or_else(String::new, |s| format!(" ± {s:.2}"));
        let drift = zero
            .drift_deg_per_h
            .map_or_else(String::new, |(slope, half)| {
                format!(" It drifts by {slope:+.3} ± {half:.3}° an hour (95 %).")
            });
        out.para(format!(
            "Zero point: {:+.2}{spread}° from the planned one{} (mean and standard deviation).{drift}",
            zero.off_deg,
            if zero.jumps.is_empty() { "" } else { " since the last jump" }
        ));
    }
    let changes = changes(against, folder);
    out.add(Block::Heading(
        "change",
        "Change for the next night".to_owned(),
    ));
    match changes.is_empty() {
        true => out.para("Nothing: readings, angles and zero point are as planned."),
        false => out.add(Block::Items(changes)),
    }
    out.add(Block::Heading("frames", "Frames".to_owned()));
    if !folder.is_empty() {
        out.para(format!("In {folder}:"));
    }
    out.add(Block::Table(table(against, folder)));
    if !morning.outside.is_empty() {
        out.para(format!(
            "Not in the sheet, and not compared: {}.",
            some(morning.outside.iter().map(|s| s.file.as_str()))
        ));
    }
    out.add(Block::Heading("flats", "Flats".to_owned()));
    let set = |set: &halfturn_engine::advise::FlatSet| {
        let files = some(set.targets.iter().map(|file| &file[folder.len()..]));
        Line::new(format!("at reading {}: {files}", angle(set.drive_deg)))
    };
    out.add(Block::Items(morning.flats.iter().map(set).collect()));
}

/// The folder that all frames are in, with its slash; else nothing.
fn folder(frames: &[Beside]) -> &str {
    let first = frames.first().map_or("", |b| b.seen.file.as_str());
    let folder = &first[..first.rfind(['/', '\\']).map_or(0, |i| i + 1)];
    let all = frames.iter().all(|b| b.seen.file.starts_with(folder));
    if all { folder } else { "" }
}

/// The files, or the first of them and how many more.
fn some<'a>(files: impl Iterator<Item = &'a str> + Clone) -> String {
    let count = files.clone().count();
    let named: Vec<&str> = files.take(NAMED).collect();
    match count - named.len() {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

/// The frames of which something holds: "3 frames do (a, b, c)"; `None` if there are none.
fn those(
    frames: &[Beside],
    folder: &str,
    holds: impl Fn(&Beside) -> bool,
) -> Option<(String, String)> {
    let held = frames.iter().filter(|b| holds(b));
    let files: Vec<&str> = held.map(|b| &b.seen.file[folder.len()..]).collect();
    let names = some(files.iter().copied());
    (!files.is_empty()).then(|| (counted(files.len(), "frame"), names))
}

fn changes(against: &Against, folder: &str) -> Vec<Line> {
    let Against { sheet, morning } = against;
    let frames = &morning.frames;
    let mut out: Vec<String> = Vec::new();
    let mut add = |found: Option<(String, String)>, text: &dyn Fn(&str, &str) -> String| {
        out.extend(found.map(|(count, files)| text(&count, &files)));
    };
    add(
        those(frames, folder, |b| against.overwinds(b)),
        &|count, files| {
            format!(
                "The cable was wound beyond its {} ({count}: {files}). Unwind before the next turn, and find which move took the other way round.",
                angle(sheet.cable_limit_deg)
            )
        },
    );
    add(
        those(frames, folder, |b| against.is_off(b)),
        &|count, files| {
            format!(
                "{count} off the angle by more than the tolerance ({files}): begin the loop again at such a target, or look whether it hunted."
            )
        },
    );
    add(those(frames, folder, Beside::other_way), &|count, files| {
        format!(
            "{count} framed the other way round than planned ({files}): the rotator folded. Take flats at the readings below, and ask advise about the seam."
        )
    });
    add(those(frames, folder, |b| b.other_side), &|count, files| {
        format!(
            "{count} on the other side of the pier than planned ({files}): plan with the --flip-after and --flip of your mount."
        )
    });
    let Some(zero) = &morning.zero_point else {
        out.push(format!(
            "The readings fit the sense {} and not {}: set drive.sense and loop.believed_sense to it, and plan again.",
            -sheet.sense, sheet.sense
        ));
        return out.into_iter().map(Line::from).collect();
    };
    for (i, size_deg) in &zero.jumps {
        let (before, after) = (&frames[i - 1].seen, &frames[*i].seen);
        out.push(format!(
            "The zero point jumped by {size_deg:+.2}° between {} and {} ({} to {}): something slipped. Tighten the camera in its holder.",
            &before.file[folder.len()..], &after.file[folder.len()..], before.at.clock(), after.at.clock()
        ));
    }
    let hours = match (frames.first(), frames.last()) {
        (Some(a), Some(b)) => b.seen.at.since_s(a.seen.at) / 3600.0,
        _ => 0.0,
    };
    if let Some((slope, half)) = zero.drift_deg_per_h
        && slope.abs() > half
        && (slope * hours).abs() > SLOW * sheet.tolerance_deg
    {
        out.push(format!(
            "The zero point drifted by {:+.2}° over the night: the camera creeps in its holder, or a cable pulls at it. Begin the loop again during long targets.",
            slope * hours
        ));
    }
    let spread_deg = zero.spread_deg.unwrap_or(f64::INFINITY);
    let error_deg = spread_deg / libm::sqrt(frames.len() as f64);
    if zero.end_deg.abs() > (2.0 * error_deg).max(0.1 * sheet.tolerance_deg) {
        out.push(format!(
            "Add {:+.2}° to drive.zero_point_deg, and to the zero point of your control program: so it was at the end. Its spread, for drive.zero_point_sigma_deg, was {}°.",
            zero.end_deg,
            degrees(spread_deg)
        ));
    }
    out.into_iter().map(Line::from).collect()
}

fn table(against: &Against, folder: &str) -> Table {
    let group = |column: Column, group| Column { group, ..column };
    let number = |name: &str| Column::numbers(name, "(°)");
    let mut table = Table::new(
        "",
        vec![
            Column::words("file"),
            Column::words("UT"),
            Column::words("target"),
            group(number("planned"), "reading"),
            group(number("seen"), "reading"),
            group(number("off"), "reading"),
            group(number("wanted"), "position angle"),
            group(number("seen"), "position angle"),
            group(number("off"), "position angle"),
            number("zero point off"),
            number("cable"),
            Column::words(""),
        ],
    );
    for b in &against.morning.frames {
        let row = &against.sheet.rows[b.row];
        let marks = [
            (against.is_off(b), "off its angle"),
            (b.other_way(), "the other way round"),
            (b.other_side, "other side of the pier"),
            (against.overwinds(b), "cable wound too far"),
        ];
        let marks = marks
            .iter()
            .filter(|(holds, _)| *holds)
            .map(|(_, words)| *words);
        table.row([
            b.seen.file[folder.len()..].to_owned(),
            b.seen.at.clock(),
            row.target.clone(),
            format!("{:.2}", row.reading_deg),
            format!("{:.2}", b.seen.reading_deg),
            format!("{:+.2}", b.reading_off_deg),
            degrees(row.position_angle_deg),
            format!("{:.2}", b.seen.position_angle_deg),
            format!("{:+.2}", b.angle_off_deg),
            format!("{:+.2}", b.zero_off_deg),
            format!("{:+.1}", b.cable_deg),
            marks.collect::<Vec<_>>().join(", "),
        ]);
    }
    table
}

/// The frames of a night beside its run sheet.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct AgainstSheet<'a> {
    /// Digest of the rig of the sheet.
    rig_digest: &'a str,
    /// Whether every frame stood within the tolerance of its angle, and the cable within its limit.
    holds: bool,
    /// Mean zero point less the planned one, since the last jump \[deg\]; `None` if the sense is wrong.
    zero_point_off_deg: Option<f64>,
    /// The same at the last frame, with the drift if it is certain \[deg\].
    zero_point_end_deg: Option<f64>,
    /// Its standard deviation \[deg\]; `None` for one frame.
    zero_point_spread_deg: Option<f64>,
    /// Its drift \[deg/h\]; `None` with a jump, and with fewer than three moments.
    drift_deg_per_h: Option<f64>,
    /// Half the width of the 95 % interval of the drift \[deg/h\].
    drift_half_width_deg_per_h: Option<f64>,
    /// The frames in the order of time.
    frames: Vec<BesideRow<'a>>,
    /// Files of frames that no row of the sheet can hold.
    outside: Vec<&'a str>,
}

/// A frame beside its row.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct BesideRow<'a> {
    /// The file as the user named it.
    file: &'a str,
    /// When its exposure began.
    time: Moment,
    /// Name of the target in the sheet.
    target: &'a str,
    /// Planned reading \[deg\].
    planned_reading_deg: f64,
    /// Reading \[deg\].
    reading_deg: f64,
    /// Reading less the planned one \[deg\].
    reading_off_deg: f64,
    /// Wanted position angle \[deg\].
    wanted_position_angle_deg: f64,
    /// Position angle \[deg\].
    position_angle_deg: f64,
    /// Position angle less the wanted one, where equal framings are one \[deg\].
    angle_off_deg: f64,
    /// Zero point less the planned one, where half a turn is none \[deg\].
    zero_point_off_deg: f64,
    /// Whether the mount stood on the other side of its pier than planned.
    other_side: bool,
    /// Distance of the reading from the parking reading \[deg\].
    cable_deg: f64,
    /// Whether its zero point jumped since the frame before.
    after_jump: bool,
}

impl<'a> AgainstSheet<'a> {
    pub(super) fn of(against: &'a Against) -> Self {
        let Against { sheet, morning } = against;
        let zero = morning.zero_point.as_ref();
        let jumped = |i: usize| zero.is_some_and(|z| z.jumps.iter().any(|jump| jump.0 == i));
        let drift = zero.and_then(|z| z.drift_deg_per_h);
        let row = |(i, b): (usize, &'a Beside)| {
            let planned = &sheet.rows[b.row];
            BesideRow {
                file: &b.seen.file,
                time: b.seen.at,
                target: &planned.target,
                planned_reading_deg: planned.reading_deg,
                reading_deg: b.seen.reading_deg,
                reading_off_deg: b.reading_off_deg,
                wanted_position_angle_deg: planned.position_angle_deg,
                position_angle_deg: b.seen.position_angle_deg,
                angle_off_deg: b.angle_off_deg,
                zero_point_off_deg: b.zero_off_deg,
                other_side: b.other_side,
                cable_deg: b.cable_deg,
                after_jump: jumped(i),
            }
        };
        Self {
            rig_digest: &sheet.rig_digest,
            holds: against.holds(),
            zero_point_off_deg: zero.map(|z| z.off_deg),
            zero_point_end_deg: zero.map(|z| z.end_deg),
            zero_point_spread_deg: zero.and_then(|z| z.spread_deg),
            drift_deg_per_h: drift.map(|d| d.0),
            drift_half_width_deg_per_h: drift.map(|d| d.1),
            frames: morning.frames.iter().enumerate().map(row).collect(),
            outside: morning.outside.iter().map(|s| s.file.as_str()).collect(),
        }
    }
}
