//! The panels of a mosaic.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::report::files::ReportError;
use crate::report::json::{FORMAT, VERSION};
use crate::report::plot::{PanelFrame, PanelMap, Picture, panel_map, panel_map_reach};
use crate::report::table::{lines, table};
use crate::sky::{Mosaic, Panel, PanelRisk};
use crate::wording::{degrees, limit, percent};

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

/// Share of loops with ping-pong from which a panel hunts: the limit that `advise` has where nobody gives another.
const HUNTS_FROM: f64 = 0.001;

/// The panel hunts.
fn hunts(risk: &PanelRisk) -> bool {
    risk.ping_pong.is_some_and(|share| share > HUNTS_FROM)
}

/// The result of `sky panels`; `risks` where a rig was given.
#[must_use]
pub fn panels_json(panels: &[Panel], overlaps: Overlaps, risks: Option<&[PanelRisk]>) -> Value {
    let list: Vec<Value> = panels
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let risk = risks.and_then(|r| r.get(i));
            json!({
                "name": p.name,
                "column": p.column,
                "row": p.row,
                "ra_deg": p.place.ra_deg,
                "dec_deg": p.place.dec_deg,
                "position_angle_deg": p.position_angle_deg,
                "drive_deg": risk.map(|r| r.drive_deg),
                "seam_distance_deg": risk.and_then(|r| r.seam_distance_deg),
                "ping_pong": risk.and_then(|r| r.ping_pong),
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
pub fn panels_table(
    mosaic: &Mosaic,
    panels: &[Panel],
    overlaps: Overlaps,
    risks: Option<&[PanelRisk]>,
) -> String {
    let mut header = vec!["panel", "RA", "Dec", "PA"];
    if risks.is_some() {
        header.extend(["drive", "seam", "ping-pong", ""]);
    }
    let mut table = table(&header);
    for (i, p) in panels.iter().enumerate() {
        let mut cells = vec![
            p.name.clone(),
            format!("{:.4}", p.place.ra_deg),
            format!("{:+.4}", p.place.dec_deg),
            format!("{:.3}", p.position_angle_deg),
        ];
        if let Some(risk) = risks.and_then(|r| r.get(i)) {
            cells.extend([
                format!("{:.2}", risk.drive_deg),
                risk.seam_distance_deg
                    .map_or_else(|| "-".to_owned(), |d| format!("{d:.2}")),
                risk.ping_pong.map_or_else(|| "-".to_owned(), percent),
                if hunts(risk) { "hunts" } else { "" }.to_owned(),
            ]);
        }
        table.add_row(cells);
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
    out.push_str(&lines(table, &[0, 7]));
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
    if let Some(risks) = risks {
        out.push_str(&standing(risks));
    }
    out
}

/// How many panels hunt.
fn standing(risks: &[PanelRisk]) -> String {
    let advice = "let advise find another start of the arc";
    match risks.iter().filter(|r| hunts(r)).count() {
        0 => "no panel hunts on this rig\n".to_owned(),
        1 => format!("1 panel comes near the seam of this rig and hunts: {advice}\n"),
        n => format!("{n} panels come near the seam of this rig and hunt: {advice}\n"),
    }
}

/// The panels on the sky.
///
/// # Errors
/// [`ReportError::Picture`] when it cannot be drawn.
pub fn panels_picture(
    mosaic: &Mosaic,
    panels: &[Panel],
    risks: Option<&[PanelRisk]>,
) -> Result<Picture, ReportError> {
    let outlines = mosaic.outlines(panels);
    let reach = panel_map_reach(outlines.iter().flatten().copied());
    let lines = mosaic.graticule(reach);
    let frames = panels.iter().zip(outlines).enumerate();
    Ok(panel_map(&PanelMap {
        title: match mosaic.name.as_str() {
            Mosaic::UNNAMED => "Panels of the mosaic".to_owned(),
            name => format!("Panels of {name}"),
        },
        remark: format!(
            "{} x {}, overlap {}",
            mosaic.columns,
            mosaic.rows,
            limit(mosaic.overlap)
        ),
        panels: frames
            .map(|(i, (panel, corners))| PanelFrame {
                label: format!("r{} c{}", panel.row, panel.column),
                corners,
                angle: format!("{:.2}°", panel.position_angle_deg),
                hunts: risks.and_then(|r| r.get(i)).is_some_and(hunts),
            })
            .collect(),
        lines: lines.into_iter().map(|l| (l.name, l.points)).collect(),
    })?)
}
