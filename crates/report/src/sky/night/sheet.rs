//! The run sheet of a night: as a table to keep, and as a page to print.

use std::collections::BTreeMap;

use super::text::remarks;
use super::{NightHead, clock};
use crate::document::{Block, Column, Document, Line, Pictures, Span, Table};
use crate::page::to_print;
use halfturn_engine::wording::{angle, capital, degrees};
use halfturn_sky::night::{Moves, NightPlan, RunSheet, SHEET_COLUMNS};
use halfturn_sky::pointing::Twilight;

/// How far flats may be from their frames: the default of `advise` \[deg\].
const FLATS_DEG: f64 = 1.0;

/// The sheet under the rig's own rule, else under the first of the rules; `None` without rules.
#[must_use]
pub fn run_sheet(head: &NightHead<'_>, plan: &NightPlan) -> Option<RunSheet> {
    let rule = plan.shown()?;
    let watch = |stretch: &_, rotation: &_| remarks(head, plan, stretch, rotation);
    Some(RunSheet::of(head.rig, plan, rule, FLATS_DEG, watch))
}

/// The file of a sheet.
#[must_use]
pub fn sheet_csv(head: &NightHead<'_>, sheet: &RunSheet) -> String {
    let mut out = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail.
    let mut write = |row: [String; SHEET_COLUMNS.len()]| {
        let local = |i: usize| head.local.is_some() || SHEET_COLUMNS[i] != "time_local";
        let kept = row.into_iter().enumerate().filter(|(i, _)| local(*i));
        let _ = out.write_record(kept.map(|(_, field)| field));
    };
    write(SHEET_COLUMNS.map(str::to_owned));
    for row in &sheet.rows {
        let number = |x: f64| format!("{x:.3}");
        write([
            row.at.iso(),
            head.local.map_or_else(String::new, |l| l.iso(row.at)),
            row.moves.to_string(),
            row.target.clone(),
            row.position_angle_deg.to_string(),
            number(row.reading_deg),
            number(row.turn_deg),
            number(row.cable_deg),
            number(row.zero_point_deg),
            row.flats.to_string(),
            row.watch.clone(),
            sheet.sense.to_string(),
            sheet.period_deg.to_string(),
            sheet.tolerance_deg.to_string(),
            sheet.cable_limit_deg.to_string(),
            sheet.rig_digest.clone(),
        ]);
    }
    let bytes = out.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The sheet as a page to print.
#[must_use]
pub fn sheet_page(head: &NightHead<'_>, plan: &NightPlan, sheet: &RunSheet) -> String {
    let title = format!(
        "Run sheet: {}, night of {}",
        head.rig.settings().name,
        head.date.date()
    );
    let named = match head.site_name {
        "" => String::new(),
        name => format!("{name}. "),
    };
    let local = head.local.map_or_else(String::new, |l| {
        format!(" Local time is universal time {}.", l.offset())
    });
    let rule = plan
        .shown()
        .map_or_else(String::new, |r| r.course.policy.rule.to_string());
    let about = format!("{named}Rule {rule}, rig {}.{local}", &sheet.rig_digest[..8]);
    to_print(&title, &about, &document(head, sheet), &Pictures::new())
}

/// Each set of flats with the readings and targets that share it.
fn flats(sheet: &RunSheet) -> Vec<Line> {
    let mut sets: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    for (i, row) in sheet.rows.iter().enumerate() {
        // The last row of a target on one side of the pier.
        let next = sheet.rows.get(i + 1);
        if next.is_none_or(|n| matches!(n.moves, Moves::Slew | Moves::Flip)) {
            let readings = sets.entry(row.flats).or_default();
            let reading = format!("{:.2}° ({})", row.reading_deg, row.target);
            if !readings.contains(&reading) {
                readings.push(reading);
            }
        }
    }
    let set = |(number, readings): (&usize, &Vec<String>)| {
        Line::new(format!(
            "☐ set {number}, at reading {}",
            readings.join(", ")
        ))
    };
    sets.iter().map(set).collect()
}

fn document(head: &NightHead<'_>, sheet: &RunSheet) -> Document {
    let mut out = Document::new();
    let dark = head
        .dark
        .all()
        .find(|(kind, _)| *kind == Twilight::Astronomical);
    if let Some((_, (dusk, dawn))) = dark {
        out.para(format!(
            "Dark from {} to {} universal time.",
            clock(dusk),
            clock(dawn)
        ));
    }
    let limit = match sheet.cable_limit_deg {
        limit_deg if limit_deg > 0.0 => format!(
            " The cable allows {} either way from the parking reading.",
            angle(limit_deg)
        ),
        _ => String::new(),
    };
    out.para(format!(
        "The tolerance is {}. A reading that differs from its row by more than the loop corrects is a reason to stop and look.{limit}",
        angle(sheet.tolerance_deg)
    ));
    out.add(Block::Caution(
        "Before the first turn".to_owned(),
        [
            "Turn by hand through the whole way of the readings below, with the load mounted, and watch the cables.",
            "Watch the first flip beside the mount, with a hand at the switch.",
            "Never point at the Sun.",
        ]
        .map(Line::from)
        .to_vec(),
    ));
    let local = head.local;
    let mut columns = vec![Column::words("done"), Column::words("UT")];
    columns.extend(local.map(|_| Column::words("local")));
    columns.extend([
        Column::words("moves"),
        Column::words("target"),
        Column::numbers("PA", "(°)"),
        Column::numbers("turn", "(°)"),
        Column::numbers("reading", "(°)"),
        Column::numbers("cable", "(°)"),
        Column::numbers("flats", "set"),
    ]);
    let watched = sheet.rows.iter().any(|row| !row.watch.is_empty());
    columns.extend(watched.then(|| Column::words("watch")));
    columns.push(Column::words("reading seen"));
    let mut table = Table::new("", columns);
    for row in &sheet.rows {
        let mut cells: Vec<Line> = vec!["☐".into(), row.at.clock().into()];
        cells.extend(local.map(|l| l.clock(row.at).into()));
        let turn = match row.moves {
            Moves::Turn => format!("{:+.2}", row.turn_deg),
            _ => String::new(),
        };
        cells.extend([
            row.moves.to_string().into(),
            Span::Name(row.target.clone()).into(),
            degrees(row.position_angle_deg).into(),
            turn.into(),
            format!("{:.2}", row.reading_deg).into(),
            format!("{:+.1}", row.cable_deg).into(),
            row.flats.to_string().into(),
        ]);
        cells.extend(watched.then(|| capital(&row.watch).into()));
        cells.push("".into());
        table.row(cells);
    }
    out.add(Block::Table(table));
    out.add(Block::Note(
        "PA: position angle, from north through east. Cable: distance of the reading from the parking reading.".into(),
    ));
    out.add(Block::Heading("flats", "Flats".to_owned()));
    out.add(Block::Items(flats(sheet)));
    out
}
