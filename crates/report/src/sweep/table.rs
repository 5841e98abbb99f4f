//! A sweep in a few lines.

use super::gathered::Gathered;
use super::head::Head;
use crate::document::{Block, Column, Document, Table};
use crate::figures::UNKNOWN;
use halfturn_engine::wording::{degrees, grouped, percent};

/// The rules side by side: the cells in which each hunts least and most.
#[must_use]
pub fn sweep_document(about: &str, head: &Head, gathered: &Gathered) -> Document {
    let names: Vec<&str> = head
        .asked_all("vary")
        .filter_map(|vary| vary.split_once('=').map(|(name, _)| name))
        .collect();
    let at = format!("at {}", names.join(", "));
    let mut table = Table::new(
        "",
        vec![
            Column::words("hunting"),
            Column::numbers("cells with any", ""),
            Column::numbers("least", ""),
            Column::numbers(&at, ""),
            Column::numbers("most", ""),
            Column::numbers(&at, ""),
        ],
    );
    let rate = |extreme: &Option<(f64, Vec<f64>)>| {
        let rate = extreme.as_ref().map(|(rate, _)| percent(*rate));
        rate.unwrap_or_else(|| UNKNOWN.to_owned())
    };
    let place = |extreme: &Option<(f64, Vec<f64>)>| {
        let values = extreme.as_ref().map(|(_, values)| values.as_slice());
        let shown: Vec<String> = values
            .unwrap_or_default()
            .iter()
            .map(|v| degrees(*v))
            .collect();
        shown.join(", ")
    };
    for (rule, found) in gathered.rules().iter().zip(gathered.extremes()) {
        table.row([
            rule.clone(),
            format!(
                "{} of {}",
                grouped(found.with_hunting),
                grouped(found.cells)
            ),
            rate(&found.least),
            place(&found.least),
            rate(&found.greatest),
            place(&found.greatest),
        ]);
    }
    Document(vec![
        Block::Para(about.into()),
        Block::Table(table),
        Block::Note("Where several cells are equal, the first is named.".into()),
    ])
}
