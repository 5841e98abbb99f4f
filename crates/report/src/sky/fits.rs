//! The angles of FITS headers.

use std::fmt::Write as _;

use crate::document::{Block, Column, Document, Table};
use halfturn_sky::fits::Orientation;

/// A file and how its image lies on the sky.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedImage {
    /// The file as the user named it.
    pub file: String,
    /// How its image lies.
    pub orientation: Orientation,
    /// The reading of the drive, as written in the header; `None` if no log is wanted.
    pub reading: Option<String>,
    /// When the image was taken: the text, and the same in seconds since 1970; `None` if the header does not say.
    pub time: Option<(String, f64)>,
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
}

/// The angles for a reader.
#[must_use]
pub fn fits_document(frames: &Frames) -> Document {
    let mut out = Document::new();
    if frames.images.is_empty() {
        out.para("No file has a position angle.");
        return out;
    }
    let mut table = Table::new(
        "",
        vec![
            Column::words("file"),
            Column::numbers("PA", "(°)"),
            Column::words("mirrored"),
            Column::numbers("skew", "(°)"),
            Column::numbers("scale", "(arcsec/px)"),
            Column::words("frame"),
        ],
    );
    for image in &frames.images {
        let o = &image.orientation;
        let equinox = o
            .frame
            .equinox
            .map_or_else(String::new, |y| format!(" {y}"));
        table.row([
            image.file.clone(),
            format!("{:.4}", o.position_angle_deg),
            if o.mirrored { "yes" } else { "no" }.to_owned(),
            format!("{:+.4}", o.skew_deg),
            format!("{:.4} x {:.4}", o.scale_x_arcsec, o.scale_y_arcsec),
            format!("{}{equinox}", o.frame.name),
        ]);
    }
    out.para("Position angle: where the second pixel coordinate grows, at the reference pixel.");
    out.add(Block::Table(table));
    out
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
