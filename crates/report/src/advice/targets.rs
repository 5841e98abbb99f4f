//! Every target, now and with the advised settings, side by side.

use halfturn_engine::advise::{Advice, Setting, TargetReport};
use halfturn_engine::verdict::TargetState;
use halfturn_engine::wording::{counted, degrees, grouped};

use crate::document::{Block, Column, Document, Line, Span, Table};
use crate::figures::{UNKNOWN, verdict_cell};

/// Most rows of a table; `targets.csv` has all.
const MOST_ROWS: usize = 200;

/// Seconds in a minute.
const MINUTE_S: f64 = 60.0;

pub(super) fn add(advice: &Advice, out: &mut Document) {
    let pairs: Vec<_> = advice
        .before
        .worst_first()
        .into_iter()
        .map(|now| (now, &advice.after.targets[now.number]))
        .collect();
    let safe = |(now, then): &(&TargetReport, &TargetReport)| {
        now.verdict.is_safe() && then.verdict.is_safe()
    };
    let (safe, not): (Vec<_>, Vec<_>) = pairs.into_iter().partition(safe);
    if !not.is_empty() {
        out.add(Block::open(
            "targets",
            "Targets that are not safe",
            table(advice, &not),
        ));
    }
    if !safe.is_empty() {
        let title = format!("{}, safe", counted(safe.len(), "target"));
        out.add(Block::folded("safe", title, table(advice, &safe)));
    }
}

/// One row for each target. A note counts those that are left out.
fn table(advice: &Advice, pairs: &[(&TargetReport, &TargetReport)]) -> Vec<Block> {
    let changed = !advice.changes.is_empty();
    let settings = [
        (&advice.before, if changed { "now" } else { "" }),
        (&advice.after, "advised"),
    ];
    let settings = &settings[..if changed { 2 } else { 1 }];
    let mut columns = vec![
        Column::words("Target"),
        Column::numbers("Position angle", "(°)"),
    ];
    for (setting, group) in settings {
        let of_group = |column| Column { group, ..column };
        columns.push(of_group(Column::words("Verdict")));
        columns.push(of_group(Column::numbers("Drive angle", "(°)")));
        if !setting.arc.no_seam {
            columns.push(of_group(Column::numbers("To the seam", "(°)")));
        }
        columns.push(of_group(Column::numbers("Time", "(min)")));
    }
    let mut table = Table::new("", columns);
    for (now, then) in pairs.iter().take(MOST_ROWS) {
        let mut row = vec![
            Span::Name(now.name.clone()).into(),
            degrees(now.position_angle_deg).into(),
        ];
        for ((setting, _), t) in settings.iter().zip([now, then]) {
            row.extend(cells(setting, t));
        }
        table.row(row);
    }
    let mut blocks = vec![Block::Table(table)];
    let more = pairs.len().saturating_sub(MOST_ROWS);
    if more > 0 {
        let text = format!("{} more stand in targets.csv.", grouped(more as u64));
        blocks.push(Block::Note(text.into()));
    }
    if pairs
        .iter()
        .any(|(now, _)| now.verdict.state != TargetState::Safe)
    {
        blocks.push(Block::Note(
            "Behind a verdict: the share of the runs with the fault that decides it. Time: the mean until the loop ends. The seam is where the two ends of the arc meet.".into(),
        ));
    }
    blocks
}

fn cells(setting: &Setting, t: &TargetReport) -> Vec<Line> {
    let maybe = |value: Option<f64>, text: &dyn Fn(f64) -> String| {
        Line::new(value.map_or_else(|| UNKNOWN.to_owned(), text))
    };
    let mut cells = vec![verdict_cell(&t.verdict), degrees(t.drive_deg).into()];
    if !setting.arc.no_seam {
        cells.push(maybe(t.seam_distance_deg, &degrees));
    }
    cells.push(maybe(t.expected_time_s, &|s| {
        format!("{:.1}", s / MINUTE_S)
    }));
    cells
}
