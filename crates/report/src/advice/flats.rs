//! The flats of the night.

use halfturn_engine::advise::Advice;
use halfturn_engine::wording::{angle, counted, degrees, grouped};

use super::words::some_of;
use crate::document::{Block, Column, Document, Table};

/// Most sets to list.
const ROWS: usize = 60;

/// Most targets to name in a row.
const NAMED: usize = 6;

pub(super) fn add(advice: &Advice, out: &mut Document) {
    let flats = &advice.flats;
    let mut table = Table::new(
        "",
        vec![
            Column::numbers("Set", ""),
            Column::numbers("Drive angle", "(°)"),
            Column::words("Targets"),
        ],
    );
    for (i, set) in flats.sets.iter().take(ROWS).enumerate() {
        let names = some_of(&set.targets, NAMED);
        table.row([(i + 1).to_string(), degrees(set.drive_deg), names]);
    }
    let mut blocks = vec![
        Block::Para(
            format!(
                "The night has {}. {} of flats cover them, each within {} of its targets. The shadows of the camera's side turn with it, so a flat belongs to its drive angle.",
                counted(flats.angles, "drive angle"),
                counted(flats.sets.len(), "set"),
                angle(flats.within_deg)
            )
            .into(),
        ),
        Block::Table(table),
    ];
    let more = flats.sets.len().saturating_sub(ROWS);
    if more > 0 {
        blocks.push(Block::Note(
            format!("and {} more", grouped(more as u64)).into(),
        ));
    }
    out.add(Block::folded("flats", "Flats", blocks));
}
