//! The panels of a mosaic as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::panels::Overlaps;
use crate::result::{Format, Version, as_json};
use halfturn_engine::verdict::{FaultShare, TargetState};
use halfturn_sky::{JudgedPanel, Panel};

/// The panels of a mosaic.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct PanelsResult<'a> {
    /// Version of the format.
    format: Format<2>,
    /// Version of the program.
    version: Version,
    /// The panels.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    panels: Vec<PanelOfMosaic<'a>>,
    /// Smallest overlap of neighbours, as a share of a side; `None` for one panel or if it cannot be computed.
    least_overlap: Option<f64>,
    /// Tolerance of the rig \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    tolerance_deg: f64,
    /// Smallest overlap with panels off by the tolerance; a gap below 0.
    least_overlap_turned: Option<f64>,
    /// Smallest overlap with each panel at its own angle; only with `--common-angle` and neighbours.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    least_overlap_apart: Option<f64>,
}

/// One panel.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct PanelOfMosaic<'a> {
    /// Its name.
    name: &'a str,
    /// Column, from the left.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    column: u32,
    /// Row, from the top.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    row: u32,
    /// Right ascension of its middle, ICRS \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    ra_deg: f64,
    /// Declination of its middle, ICRS \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    dec_deg: f64,
    /// Position angle of the up axis \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    position_angle_deg: f64,
    /// Drive angle of the first move \[deg\]; `None` without a rig.
    drive_deg: Option<f64>,
    /// Distance from the nearer end of the arc \[deg\]; `None` without a rig or a seam.
    seam_distance_deg: Option<f64>,
    /// The worst state that holds; `None` without a rig.
    verdict: Option<TargetState>,
    /// Every fault with its share and its limit, worst first; `None` without a rig.
    #[cfg_attr(feature = "schema", schemars(length(equal = 7)))]
    faults: Option<&'a [FaultShare]>,
}

impl<'a> PanelOfMosaic<'a> {
    fn of(p: &'a Panel, judged: Option<&'a JudgedPanel>) -> Self {
        Self {
            name: &p.name,
            column: p.column,
            row: p.row,
            ra_deg: p.place.ra_deg,
            dec_deg: p.place.dec_deg,
            position_angle_deg: p.position_angle_deg,
            drive_deg: judged.map(|p| p.drive_deg),
            seam_distance_deg: judged.and_then(|p| p.seam_distance_deg),
            verdict: judged.map(|p| p.verdict.state),
            faults: judged.map(|p| &p.verdict.faults[..]),
        }
    }
}

/// The result of `sky panels`. `judged` is `None` without a rig.
#[must_use]
pub fn panels_json(panels: &[Panel], overlaps: Overlaps, judged: Option<&[JudgedPanel]>) -> Value {
    let panels = panels.iter().enumerate();
    let panel = |(i, p)| PanelOfMosaic::of(p, judged.and_then(|all| all.get(i)));
    as_json(&PanelsResult {
        format: Format,
        version: Version,
        panels: panels.map(panel).collect(),
        least_overlap: overlaps.least,
        tolerance_deg: overlaps.tolerance_deg,
        least_overlap_turned: overlaps.turned,
        least_overlap_apart: overlaps.apart,
    })
}
