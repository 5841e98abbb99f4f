//! The panels of a mosaic.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::report::json::{FORMAT, VERSION};
use crate::report::table::{lines, table};
use crate::sky::{Mosaic, Panel};
use crate::wording::{degrees, limit};

/// What is left of the overlap on the sphere, as shares of a side; `None` where there are no neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlaps {
    /// With every panel at its angle.
    pub least: Option<f64>,
    /// With every panel off by up to the tolerance.
    pub turned: Option<f64>,
    /// That tolerance \[deg\].
    pub tolerance_deg: f64,
}

/// The result of `sky panels`.
#[must_use]
pub fn panels_json(panels: &[Panel], overlaps: Overlaps) -> Value {
    let list: Vec<Value> = panels
        .iter()
        .map(|p| {
            json!({
                "name": p.name,
                "column": p.column,
                "row": p.row,
                "ra_deg": p.place.ra_deg,
                "dec_deg": p.place.dec_deg,
                "position_angle_deg": p.position_angle_deg,
            })
        })
        .collect();
    json!({
        "format": FORMAT,
        "version": VERSION,
        "panels": list,
        "least_overlap": overlaps.least,
        "tolerance_deg": overlaps.tolerance_deg,
        "least_overlap_turned": overlaps.turned,
    })
}

/// The panels as a targets file.
#[must_use]
pub fn panels_csv(panels: &[Panel]) -> String {
    let mut out = "name,position_angle_deg,ra_deg,dec_deg\n".to_owned();
    for p in panels {
        let _ = writeln!(
            out,
            "\"{}\",{:.6},{:.6},{:.6}",
            p.name.replace('"', "\"\""),
            p.position_angle_deg,
            p.place.ra_deg,
            p.place.dec_deg
        );
    }
    out
}

/// The panels on the screen.
#[must_use]
pub fn panels_table(mosaic: &Mosaic, panels: &[Panel], overlaps: Overlaps) -> String {
    let mut table = table(&["panel", "RA", "Dec", "PA"]);
    for p in panels {
        table.add_row([
            p.name.clone(),
            format!("{:.4}", p.place.ra_deg),
            format!("{:+.4}", p.place.dec_deg),
            format!("{:.3}", p.position_angle_deg),
        ]);
    }
    let mut out = format!(
        "{} columns x {} rows of {} x {} deg, overlap {}, up axis at {} deg in the middle\nangles in degrees; the frame of \
        the centre's own coordinates; rows from the top, columns from the left\n\n",
        mosaic.columns,
        mosaic.rows,
        degrees(mosaic.width_deg),
        degrees(mosaic.height_deg),
        limit(mosaic.overlap),
        degrees(mosaic.position_angle_deg),
    );
    out.push_str(&lines(table, &[0]));
    if let (Some(least), Some(turned)) = (overlaps.least, overlaps.turned) {
        let left = if turned < 0.0 {
            format!("a gap of {} of a side", limit(-turned))
        } else {
            limit(turned)
        };
        let _ = writeln!(
            out,
            "\nsmallest overlap of neighbours on the sphere {}; with panels off by {} deg either way, at worst {left}",
            limit(least),
            degrees(overlaps.tolerance_deg),
        );
    }
    out
}
