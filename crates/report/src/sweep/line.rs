//! A row of a sweep as a line of the table.

use halfturn_engine::summary::{PolicySummary, Rate};
use halfturn_engine::sweep::{Grid, SweepRow};

/// A column of figures: its name and its value in a row.
type Column = (&'static str, fn(&PolicySummary) -> String);

/// The columns after the cell, the varied values and the target. `docs/files.md` explains each.
const FIGURES: &[Column] = &[
    ("rule", |s| s.rule.to_string()),
    ("symmetry", |s| s.symmetry.to_string()),
    ("trials", |s| s.trials.to_string()),
    ("settled_rate", |s| s.settled.rate.to_string()),
    ("settled_low", |s| s.settled.low.to_string()),
    ("settled_high", |s| s.settled.high.to_string()),
    ("hunting_rate", |s| s.hunting.rate.to_string()),
    ("hunting_low", |s| s.hunting.low.to_string()),
    ("hunting_high", |s| s.hunting.high.to_string()),
    ("unsettled_rate", |s| s.unsettled.rate.to_string()),
    ("unsettled_low", |s| s.unsettled.low.to_string()),
    ("unsettled_high", |s| s.unsettled.high.to_string()),
    ("unsolved_rate", |s| s.unsolved.rate.to_string()),
    ("unsolved_low", |s| s.unsolved.low.to_string()),
    ("unsolved_high", |s| s.unsolved.high.to_string()),
    ("refused_rate", |s| s.refused.rate.to_string()),
    ("refused_low", |s| s.refused.low.to_string()),
    ("refused_high", |s| s.refused.high.to_string()),
    ("settle_time_mean_s", |s| given(s.settle_time_s.mean)),
    ("settle_time_p50_s", |s| given(s.settle_time_s.p50)),
    ("settle_time_p90_s", |s| given(s.settle_time_s.p90)),
    ("settle_time_p99_s", |s| given(s.settle_time_s.p99)),
    ("solves_mean", |s| given(s.solves.mean)),
    ("long_swings_mean", |s| given(s.long_swings.mean)),
    ("travel_mean_deg", |s| given(s.travel_deg.mean)),
    ("true_error_mean_deg", |s| given(s.true_error_deg.mean)),
    ("outside_arc_mean_deg", |s| given(s.outside_arc_deg.mean)),
    ("keep_out_mean_deg", |s| given(s.keep_out_deg.mean)),
];

/// Places, after the varied values, of the fields that are read back.
const RULE: usize = 1;
const PING_PONG: usize = 7;

/// A number in the fewest digits that read back as the same number; empty for `None`.
fn given(value: Option<f64>) -> String {
    value.map_or_else(String::new, |v| v.to_string())
}

/// The names of the columns of figures.
pub(super) fn figures<'a>() -> impl Iterator<Item = &'a str> {
    FIGURES.iter().map(|(name, _)| *name)
}

/// The names of the columns of a sweep.
pub(super) fn columns(grid: &Grid) -> String {
    let axes = grid.axes().iter().map(|a| a.name());
    let names: Vec<&str> = std::iter::once("cell")
        .chain(axes)
        .chain(["target_deg"])
        .chain(figures())
        .collect();
    names.join(",")
}

/// The lines of a cell.
#[must_use]
pub fn lines(rows: &[SweepRow]) -> String {
    let mut out = String::new();
    for row in rows {
        let values = row.values.iter().chain([&row.target_deg]);
        let fields: Vec<String> = std::iter::once(row.cell.to_string())
            .chain(values.map(f64::to_string))
            .chain(FIGURES.iter().map(|(_, figure)| figure(&row.summary)))
            .collect();
        // No field needs quotes: numbers, and names of rules.
        out.push_str(&fields.join(","));
        out.push('\n');
    }
    out
}

/// The fields that are read back from a line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Read<'a> {
    pub(super) cell: u64,
    pub(super) values: Vec<f64>,
    pub(super) rule: &'a str,
    pub(super) hunting: Rate,
}

/// Reads a line of a sweep with this number of axes; `None` if it is no such line.
pub(super) fn read(line: &str, axes: usize) -> Option<Read<'_>> {
    let fields: Vec<&str> = line.split(',').collect();
    if fields.len() != 2 + axes + FIGURES.len() {
        return None;
    }
    let number = |i: usize| {
        let value = fields.get(i)?.parse::<f64>().ok()?;
        value.is_finite().then_some(value)
    };
    let rate = axes + PING_PONG + 1;
    Some(Read {
        cell: fields[0].parse().ok()?,
        values: (1..=axes).map(number).collect::<Option<_>>()?,
        rule: fields[axes + RULE + 1],
        hunting: Rate {
            rate: number(rate)?,
            low: number(rate + 1)?,
            high: number(rate + 2)?,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::rig::{Rig, RigSettings, Rule};
    use halfturn_engine::scenario::Policy;
    use halfturn_engine::sweep::Axis;
    use halfturn_engine::tally::Tally;

    #[test]
    fn a_line_has_every_column_and_reads_back() {
        let rig = Rig::new(RigSettings::default()).unwrap_or_else(|e| panic!("{e}"));
        let axis = |g: &str| Axis::read(g, &rig).unwrap_or_else(|e| panic!("{e}"));
        let axes = vec![axis("target=0:1:2"), axis("drive.park_deg=0.1:0.3:3")];
        let grid = Grid::new(axes).unwrap_or_else(|e| panic!("{e}"));
        let policy = Policy::with_rule(&rig, Rule::FoldOnce);
        let tally = Tally {
            trials: 3,
            hunting: 1,
            unsolved: 3,
            ..Tally::default()
        };
        let summary = PolicySummary::of(policy, &tally);
        let row = SweepRow {
            cell: 4,
            values: grid.values(4),
            target_deg: 1.0,
            summary: summary.clone(),
        };
        let text = lines(&[row]);
        let line = text.trim_end();
        assert!(line.starts_with("4,1,0.2,1,fold-once,2,3,0,0,"), "{line}");
        let columns = columns(&grid);
        assert!(columns.starts_with("cell,target,drive.park_deg,target_deg,rule,symmetry"));
        assert_eq!(columns.split(',').count(), line.split(',').count());
        let expected = Read {
            cell: 4,
            values: vec![1.0, 0.2],
            rule: "fold-once",
            hunting: summary.hunting,
        };
        assert_eq!(read(line, 2), Some(expected));
        // Without a settled run it has no settle time.
        let place = columns.split(',').position(|c| c == "settle_time_mean_s");
        assert_eq!(place.and_then(|i| line.split(',').nth(i)), Some(""));
        assert_eq!(read(line, 1), None);
        assert_eq!(read(&line[..line.len() - 3], 3), None);
    }
}
