//! The panels of a mosaic.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::verdict_words;
use crate::files::ReportError;
use crate::json::VERSION;
use crate::plot::{PanelFrame, PanelMap, Picture, panel_map, panel_map_reach};
use crate::table::{lines, table};
use halfturn_engine::verdict::{Fault, TargetState};
use halfturn_engine::wording::{degrees, limit, percent};
use halfturn_sky::{JudgedPanel, Mosaic, Panel};

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

/// Version of the JSON of `sky panels`.
const PANELS_FORMAT: u32 = 2;

/// The result of `sky panels`; `judged` where a rig was given.
#[must_use]
pub fn panels_json(panels: &[Panel], overlaps: Overlaps, judged: Option<&[JudgedPanel]>) -> Value {
    let list: Vec<Value> = panels
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let judged = judged.and_then(|all| all.get(i));
            json!({
                "name": p.name,
                "column": p.column,
                "row": p.row,
                "ra_deg": p.place.ra_deg,
                "dec_deg": p.place.dec_deg,
                "position_angle_deg": p.position_angle_deg,
                "drive_deg": judged.map(|p| p.drive_deg),
                "seam_distance_deg": judged.and_then(|p| p.seam_distance_deg),
                "verdict": judged.map(|p| p.verdict.state),
                "faults": judged.map(|p| &p.verdict.faults),
            })
        })
        .collect();
    json!({
        "format": PANELS_FORMAT,
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
    judged: Option<&[JudgedPanel]>,
) -> String {
    let mut header = vec!["panel", "RA", "Dec", "PA"];
    if judged.is_some() {
        header.extend(["drive", "seam", "ping-pong", "late", "verdict"]);
    }
    let mut table = table(&header);
    for (i, p) in panels.iter().enumerate() {
        let mut cells = vec![
            p.name.clone(),
            format!("{:.4}", p.place.ra_deg),
            format!("{:+.4}", p.place.dec_deg),
            format!("{:.3}", p.position_angle_deg),
        ];
        if let Some(panel) = judged.and_then(|all| all.get(i)) {
            let share = |fault| {
                let found = panel.verdict.fault(fault);
                found.map_or_else(|| "-".to_owned(), |f| percent(f.rate.rate))
            };
            cells.extend([
                format!("{:.2}", panel.drive_deg),
                panel
                    .seam_distance_deg
                    .map_or_else(|| "-".to_owned(), |d| format!("{d:.2}")),
                share(Fault::PingPong),
                share(Fault::Late),
                verdict_words(&panel.verdict),
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
    out.push_str(&lines(table, &[0, 8]));
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
    if let Some(judged) = judged {
        out.push_str(&standing(judged));
    }
    out
}

/// How many panels are in which state, the worst first.
fn standing(judged: &[JudgedPanel]) -> String {
    let count = |state| judged.iter().filter(|p| p.verdict.state == state).count();
    let unsafe_ = TargetState::ALL
        .into_iter()
        .filter(|s| *s != TargetState::Safe);
    let states: Vec<String> = unsafe_
        .filter_map(|state| match count(state) {
            0 => None,
            1 => Some(format!("1 {}", state.does())),
            n => Some(format!("{n} {}", state.do_())),
        })
        .collect();
    if states.is_empty() {
        "every panel is safe on this rig\n".to_owned()
    } else {
        format!(
            "of {} panels {}: advise looks for settings that cure this\n",
            judged.len(),
            states.join(", ")
        )
    }
}

/// The panels on the sky.
///
/// # Errors
/// [`ReportError::Picture`] when it cannot be drawn.
pub fn panels_picture(
    mosaic: &Mosaic,
    panels: &[Panel],
    judged: Option<&[JudgedPanel]>,
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
                state: judged.and_then(|all| all.get(i)).map(|p| p.verdict.state),
            })
            .collect(),
        lines: lines.into_iter().map(|l| (l.name, l.points)).collect(),
    })?)
}
