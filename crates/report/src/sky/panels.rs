//! The panels of a mosaic.

use std::fmt::Write as _;

use crate::document::{Block, Column, Document, Line, Table};
use crate::figures::{UNKNOWN, verdict_cell};
use crate::plot::{PanelFrame, PanelMap, Picture, panel_map, panel_map_reach};
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{angle, joined, limit};
use halfturn_sky::{JudgedPanel, Mosaic, Panel};

/// Smallest overlap of neighbours on the sphere, as a share of a side; `None` without neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlaps {
    /// With every panel at its exact angle.
    pub least: Option<f64>,
    /// With every panel off by up to the tolerance.
    pub turned: Option<f64>,
    /// That tolerance \[deg\].
    pub tolerance_deg: f64,
    /// Where all panels share one angle: with each at its own. `None` elsewhere and without neighbours.
    pub apart: Option<f64>,
}

/// The panels as a targets file, each with these minutes.
#[must_use]
pub fn panels_csv(panels: &[Panel], minutes: Option<f64>) -> String {
    let head = minutes.map_or("", |_| ",minutes");
    let minutes = minutes.map_or_else(String::new, |m| format!(",{m}"));
    let mut out = format!("name,position_angle_deg,ra_deg,dec_deg{head}\n");
    for p in panels {
        let _ = writeln!(
            out,
            "\"{}\",{:.6},{:.6},{:.6}{minutes}",
            p.name.replace('"', "\"\""),
            p.position_angle_deg,
            p.place.ra_deg,
            p.place.dec_deg
        );
    }
    out
}

/// The panels for a reader.
#[must_use]
pub fn panels_document(
    mosaic: &Mosaic,
    panels: &[Panel],
    overlaps: Overlaps,
    judged: Option<&[JudgedPanel]>,
) -> Document {
    let mut columns = vec![
        Column::words("panel"),
        Column::numbers("RA", "(°)"),
        Column::numbers("Dec", "(°)"),
        Column::numbers("PA", "(°)"),
    ];
    if judged.is_some() {
        columns.extend([
            Column::numbers("drive angle", "(°)"),
            Column::numbers("to the seam", "(°)"),
            Column::words("verdict"),
        ]);
    }
    let mut table = Table::new("", columns);
    for (i, p) in panels.iter().enumerate() {
        let mut cells: Vec<Line> = vec![
            p.name.clone().into(),
            format!("{:.4}", p.place.ra_deg).into(),
            format!("{:+.4}", p.place.dec_deg).into(),
            format!("{:.3}", p.position_angle_deg).into(),
        ];
        if let Some(panel) = judged.and_then(|all| all.get(i)) {
            let seam = panel.seam_distance_deg;
            cells.extend([
                format!("{:.2}", panel.drive_deg).into(),
                seam.map_or_else(|| UNKNOWN.to_owned(), |d| format!("{d:.2}"))
                    .into(),
                verdict_cell(&panel.verdict),
            ]);
        }
        table.row(cells);
    }
    let mut out = Document::new();
    if let Some(judged) = judged {
        let gaps = overlaps.least.is_some_and(|least| least < 0.0);
        let gaps = if gaps { "The panels leave gaps. " } else { "" };
        out.add(Block::Lead(format!("{gaps}{}", standing(judged)).into()));
    }
    out.para(format!(
        "{} columns x {} rows of {} x {}, overlap {}, up axis at {} in the middle. Rows from the top, columns from the left, in the frame of the centre's coordinates.",
        mosaic.columns,
        mosaic.rows,
        angle(mosaic.width_deg),
        angle(mosaic.height_deg),
        limit(mosaic.overlap),
        angle(mosaic.position_angle_deg),
    ));
    out.add(Block::Table(table));
    if let (Some(least), Some(turned)) = (overlaps.least, overlaps.turned) {
        let left = |overlap: f64| match overlap {
            gap if gap < 0.0 => format!("a gap of {} of a side", limit(-gap)),
            _ => limit(overlap),
        };
        out.para(format!(
            "Smallest overlap of neighbours on the sphere: {}. With panels off by {} either way: {}.",
            left(least),
            angle(overlaps.tolerance_deg),
            left(turned),
        ));
        if let Some(apart) = overlaps.apart {
            out.para(format!(
                "This is with one camera angle for all panels. With each panel at its own angle the smallest overlap is {}.",
                limit(apart)
            ));
        }
    }
    out
}

/// How many panels are in which state, worst first.
fn standing(judged: &[JudgedPanel]) -> String {
    let count = |state| judged.iter().filter(|p| p.verdict.state == state).count();
    let unsafe_ = TargetState::ALL
        .iter()
        .copied()
        .filter(|s| *s != TargetState::Safe);
    let states: Vec<String> = unsafe_
        .filter_map(|state| match count(state) {
            0 => None,
            1 => Some(format!("1 {}", state.does())),
            n => Some(format!("{n} {}", state.do_())),
        })
        .collect();
    if states.is_empty() {
        "Every panel is safe on this rig.".to_owned()
    } else {
        format!(
            "Of {} panels {}. advise looks for settings that cure this.",
            judged.len(),
            joined(&states)
        )
    }
}

/// The panels on the sky.
pub fn panels_picture(
    mosaic: &Mosaic,
    panels: &[Panel],
    judged: Option<&[JudgedPanel]>,
) -> Picture {
    let outlines = mosaic.outlines(panels);
    let reach = panel_map_reach(outlines.iter().flatten().copied());
    let lines = mosaic.graticule(reach);
    let frames = panels.iter().zip(outlines).enumerate();
    panel_map(&PanelMap {
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
    })
}
