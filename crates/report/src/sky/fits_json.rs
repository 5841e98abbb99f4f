//! The angles of FITS headers as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::fits::{Frames, NamedImage, Refusal};
use super::morning::AgainstSheet;
use crate::result::{Format, Version, as_json};

/// The angles of FITS headers.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct FitsResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// The files that give a position angle.
    images: Vec<ImageOnSky<'a>>,
    /// The files that give none.
    refused: &'a [Refusal],
    /// Files of folders that are no FITS files by their names.
    skipped: &'a [Refusal],
    /// Header key of the readings; `None` if it is not known.
    reading_key: Option<&'a str>,
    /// The frames beside a run sheet; `None` without one.
    against: Option<AgainstSheet<'a>>,
}

/// How an image lies on the sky.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct ImageOnSky<'a> {
    /// The file as the user named it.
    file: &'a str,
    /// Position angle of the direction in which the second pixel coordinate grows \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    position_angle_deg: f64,
    /// Reading of the drive \[deg\]; `None` if it is not known which key holds it.
    reading_deg: Option<f64>,
    /// Position angle less reading, in `(-180, 180]` \[deg\]; `None` without a reading.
    difference_deg: Option<f64>,
    /// Whether it is a mirror image of the sky.
    mirrored: bool,
    /// Angle between the coordinates, minus 90 \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    skew_deg: f64,
    /// Length of a pixel along the first coordinate \[arcsec\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    scale_x_arcsec: f64,
    /// Length of a pixel along the second coordinate \[arcsec\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    scale_y_arcsec: f64,
    /// The frame of north and east.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["ICRS", "FK5", "FK4", "FK4-NO-E", "GAPPT"])))]
    frame: &'static str,
    /// Equinox \[year\]; `None` if the frame has none.
    equinox: Option<f64>,
}

impl<'a> ImageOnSky<'a> {
    fn of(image: &'a NamedImage) -> Self {
        let o = &image.orientation;
        Self {
            file: &image.file,
            position_angle_deg: o.position_angle_deg,
            reading_deg: image.reading_deg(),
            difference_deg: image.difference_deg(),
            mirrored: o.mirrored,
            skew_deg: o.skew_deg,
            scale_x_arcsec: o.scale_x_arcsec,
            scale_y_arcsec: o.scale_y_arcsec,
            frame: o.frame.name,
            equinox: o.frame.equinox,
        }
    }
}

/// The result of `sky fits`.
#[must_use]
pub fn fits_json(frames: &Frames) -> Value {
    as_json(&FitsResult {
        format: Format,
        version: Version,
        images: frames.images.iter().map(ImageOnSky::of).collect(),
        refused: &frames.refused,
        skipped: &frames.skipped,
        reading_key: frames.reading_key.as_deref(),
        against: frames.against.as_ref().map(AgainstSheet::of),
    })
}
