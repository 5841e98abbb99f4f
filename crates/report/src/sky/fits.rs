//! The angles of FITS headers.

use std::fmt::Write as _;

use super::morning::{Against, against_document};
use crate::document::{Block, Column, Document, Line, Table};
use halfturn_engine::angle::{TURN_DEG, residual_finite};
use halfturn_engine::fit::date_s;
use halfturn_engine::rig::escape_controls;
use halfturn_engine::wording::grouped;
use halfturn_sky::fits::{FitsError, Image, Orientation};

/// A file and how its image lies on the sky.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedImage {
    /// The file as the user named it.
    pub file: String,
    /// How its image lies.
    pub orientation: Orientation,
    /// The reading of the drive, as written in the header; `None` if it is not known which key holds it.
    pub reading: Option<String>,
    /// What the header says of its target; `None` if it says nothing.
    pub object: Option<String>,
    /// When the image was taken: the text, and the same in seconds since 1970; `None` if the header does not say.
    pub time: Option<(String, f64)>,
}

impl NamedImage {
    /// What an image tells, with the reading in this key of its header.
    ///
    /// # Errors
    /// [`FitsError`] if the key holds no reading, or a key has two values.
    pub fn of(file: String, image: &Image, reading_key: Option<&str>) -> Result<Self, FitsError> {
        Ok(Self {
            file,
            orientation: image.orientation,
            reading: reading_key.map(|key| reading(image, key)).transpose()?,
            object: image.text("OBJECT")?.map(str::to_owned),
            time: time(image)?,
        })
    }

    /// The reading as a number \[deg\].
    #[must_use]
    pub fn reading_deg(&self) -> Option<f64> {
        self.reading.as_ref()?.parse().ok()
    }

    /// Position angle less reading, in `(-180, 180]` \[deg\].
    #[must_use]
    pub fn difference_deg(&self) -> Option<f64> {
        let off = |reading_deg| self.orientation.position_angle_deg - reading_deg;
        Some(residual_finite(off(self.reading_deg()?), TURN_DEG))
    }
}

/// The reading as written, since `fit` looks at its decimals.
fn reading(image: &Image, key: &str) -> Result<String, FitsError> {
    let fault = |value: Option<&str>, allowed: &str| FitsError::Key {
        key: key.to_owned(),
        value: value.map(str::to_owned),
        allowed: allowed.to_owned(),
    };
    let text = image.text(key)?.ok_or_else(|| {
        fault(
            None,
            "is missing from the header, but should hold the reading",
        )
    })?;
    let written = text.replace(['D', 'd'], "E");
    let number = written.parse::<f64>().ok();
    number
        .filter(|a| a.abs() <= halfturn_engine::angle::MOST_ANGLE_DEG)
        .map(|_| written)
        .ok_or_else(|| {
            fault(
                Some(text),
                "must be a number of degrees from -360000 to 360000",
            )
        })
}

/// The start of the exposure, where `fit` can read it.
fn time(image: &Image) -> Result<Option<(String, f64)>, FitsError> {
    let Some(date) = image.text("DATE-OBS")? else {
        return Ok(None);
    };
    let text = match image.text("TIME-OBS")? {
        Some(time) if !date.contains('T') => format!("{date}T{time}"),
        _ => date.to_owned(),
    };
    Ok(date_s(&text).map(|seconds| (text, seconds)))
}

/// A file that gives no position angle.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Refusal {
    /// The file as the user named it.
    pub file: String,
    /// Why.
    pub why: String,
}

/// The results for the files, each list in their order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Frames {
    /// Files that give a position angle.
    pub images: Vec<NamedImage>,
    /// Files that give none.
    pub refused: Vec<Refusal>,
    /// Files of folders that are no FITS files by their names.
    pub skipped: Vec<Refusal>,
    /// The key that holds the readings.
    pub reading_key: Option<String>,
    /// The frames beside a run sheet.
    pub against: Option<Against>,
}

impl Frames {
    /// Adds a file that gives no position angle.
    pub fn refuse(&mut self, file: String, why: &impl ToString) {
        self.refused.push(Refusal {
            file,
            // It may quote a card, which may hold anything.
            why: escape_controls(&why.to_string()),
        });
    }
}

/// Most skipped files to show.
const SHOWN: usize = 20;

/// The angles for a reader.
#[must_use]
pub fn fits_document(frames: &Frames) -> Document {
    let mut out = Document::new();
    if let Some(against) = &frames.against {
        against_document(against, &mut out);
    } else if frames.images.is_empty() {
        out.para("No file has a position angle.");
    } else {
        images(frames, &mut out);
    }
    if !frames.skipped.is_empty() {
        let some = frames.skipped.iter().take(SHOWN);
        let mut lines: Vec<Line> = some
            .map(|s| format!("{}: skipped: {}", s.file, s.why).into())
            .collect();
        if frames.skipped.len() > SHOWN {
            let more = frames.skipped.len() - SHOWN;
            lines.push(format!("{} more; the JSON has all", grouped(more as u64)).into());
        }
        out.add(Block::Items(lines));
    }
    out
}

fn images(frames: &Frames, out: &mut Document) {
    let readings = frames.reading_key.is_some();
    let mut columns = vec![Column::words("file")];
    if readings {
        columns.push(Column::numbers("reading", "(°)"));
    }
    columns.push(Column::numbers("PA", "(°)"));
    if readings {
        columns.push(Column::numbers("PA - reading", "(°)"));
    }
    columns.extend([
        Column::words("mirrored"),
        Column::numbers("skew", "(°)"),
        Column::numbers("scale", "(arcsec/px)"),
        Column::words("frame"),
    ]);
    let mut table = Table::new("", columns);
    for image in &frames.images {
        let o = &image.orientation;
        let equinox = o
            .frame
            .equinox
            .map_or_else(String::new, |y| format!(" {y}"));
        let mut cells = vec![image.file.clone()];
        if readings {
            cells.push(image.reading.clone().unwrap_or_default());
        }
        cells.push(format!("{:.4}", o.position_angle_deg));
        if readings {
            let difference = image.difference_deg();
            cells.push(difference.map_or_else(String::new, |d| format!("{d:+.4}")));
        }
        cells.extend([
            if o.mirrored { "yes" } else { "no" }.to_owned(),
            format!("{:+.4}", o.skew_deg),
            format!("{:.4} x {:.4}", o.scale_x_arcsec, o.scale_y_arcsec),
            format!("{}{equinox}", o.frame.name),
        ]);
        table.row(cells);
    }
    out.para("Position angle: where the second pixel coordinate grows, at the reference pixel.");
    out.add(Block::Table(table));
    match &frames.reading_key {
        Some(key) => out.add(Block::Note(
            format!("Reading: the key {key}. Where the difference stays the same, it is the zero point. Where the sum stays, the sense is -1. A flip adds half a turn.").into(),
        )),
        None => out.add(Block::Note("For readings, name their key: --reading-key KEY.".into())),
    }
}

/// A log for `fit`: by time if every image has one, else in the order of the files and without times.
#[must_use]
pub fn fits_log(frames: &Frames) -> String {
    let mut images: Vec<&NamedImage> = frames.images.iter().collect();
    let timed = images.iter().all(|image| image.time.is_some());
    if timed {
        let seconds = |image: &NamedImage| image.time.as_ref().map_or(0.0, |t| t.1);
        images.sort_by(|a, b| seconds(a).total_cmp(&seconds(b)));
    }
    let mut out = if timed { "time," } else { "" }.to_owned();
    out.push_str("reading_deg,position_angle_deg\n");
    for image in images {
        if let (true, Some((time, _))) = (timed, &image.time) {
            let _ = write!(out, "{time},");
        }
        let reading = image.reading.as_deref().unwrap_or_default();
        let _ = writeln!(out, "{reading},{:.6}", image.orientation.position_angle_deg);
    }
    out
}
