//! One loop, move by move.

use halfturn_engine::plant::Travel;
use halfturn_engine::run::{Figures, TraceRow};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::wording::{angle, duration};

use crate::document::{Block, Column, Document, Table};
use crate::figures::UNKNOWN;

/// A loop with its settings and its end.
#[must_use]
pub fn trace_document(
    about: &str,
    scenario: &Scenario,
    figures: &Figures,
    rows: &[TraceRow],
) -> Document {
    let brief = scenario.brief();
    let stops = match brief.travel {
        Travel::Endless => String::new(),
        Travel::Stops { lo_deg, hi_deg } => {
            format!(", stops {} and {}", angle(lo_deg), angle(hi_deg))
        }
    };
    let mut out = Document::new();
    out.para(about);
    out.para(format!(
        "target {}, drive angle {}, arc {} to {}{stops}, tolerance {}",
        angle(brief.target_deg),
        angle(scenario.drive_angle_deg()),
        angle(brief.arc_start_deg),
        angle(brief.arc_start_deg + brief.arc_width_deg),
        angle(brief.tolerance_deg)
    ));
    out.add(Block::Table(moves(rows, brief.tolerance_deg, rows.len())));
    out.para(ending(figures));
    out
}

/// How a loop ended.
pub(crate) fn ending(figures: &Figures) -> String {
    let off = match figures.true_error_deg {
        Some(error_deg) => format!(", true error {}", angle(error_deg)),
        None => String::new(),
    };
    format!(
        "{} after {} and {}; {} and {} of travel{off}",
        figures.outcome,
        counted(figures.solves, "solve"),
        duration(figures.elapsed_s),
        counted(figures.long_swings, "long swing"),
        angle((10.0 * figures.travel_deg).round() / 10.0)
    )
}

/// The first `most` moves and solves of a loop.
pub(crate) fn moves(rows: &[TraceRow], tolerance_deg: f64, most: usize) -> Table {
    // Enough digits to compare with the tolerance, the same in all rows.
    let decimals = if tolerance_deg < 0.01 { 4 } else { 3 };
    let text = |a: Option<f64>| a.map_or_else(|| UNKNOWN.to_owned(), |a| format!("{a:.decimals$}"));
    let title = match rows.len() {
        n if n > most => format!("The first {most} of {n} rows."),
        _ => String::new(),
    };
    let mut table = Table::new(
        title,
        vec![
            Column::numbers("#", ""),
            Column::numbers("start", "(s)"),
            Column::numbers("wanted", "(°)"),
            Column::numbers("command", "(°)"),
            Column::words(""),
            Column::numbers("reading", "(°)"),
            Column::numbers("solved angle", "(°)"),
            Column::numbers("residual", "(°)"),
            Column::words(""),
        ],
    );
    for (i, row) in rows.iter().enumerate().take(most) {
        let residual = row
            .solved
            .map(|s| format!("{:+.decimals$}", s.residual_deg));
        table.row([
            (i + 1).to_string(),
            format!("{:.1}", row.start_s),
            text(row.wanted_deg),
            text(row.command_deg),
            if row.folded { "fold" } else { "" }.to_owned(),
            text(Some(row.reading_deg)),
            text(row.solved.map(|s| s.position_angle_deg)),
            residual.unwrap_or_else(|| UNKNOWN.to_owned()),
            remark(row, tolerance_deg),
        ]);
    }
    table
}

fn remark(row: &TraceRow, tolerance_deg: f64) -> String {
    let mut parts = Vec::new();
    if row.refused {
        parts.push("refused: outside the stops".to_owned());
    }
    if row.command_deg.is_none() {
        parts.push("solves again to confirm".to_owned());
    } else if !row.refused && row.reading_deg == row.from_deg {
        parts.push("no move".to_owned());
    }
    if row.long_swing {
        let swing_deg = (row.reading_deg - row.from_deg).abs();
        parts.push(format!("LONG SWING of {swing_deg:.1}°"));
    }
    if row.failed_attempts > 0 {
        parts.push(counted(row.failed_attempts, "failed attempt"));
    }
    let within = row
        .solved
        .is_some_and(|s| s.residual_deg.abs() <= tolerance_deg);
    if within {
        parts.push("within tolerance".to_owned());
    }
    parts.join(", ")
}

fn counted(n: u32, thing: &str) -> String {
    halfturn_engine::wording::counted(n as usize, thing)
}
