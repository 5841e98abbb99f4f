//! Results as tables of plain text.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr as _;

use halfturn_engine::advise::RuleComparison;
use halfturn_engine::plant::Travel;
use halfturn_engine::run::{Figures, TraceRow};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::summary::{Difference, Distribution, PairSummary, PolicySummary, Rate};
use halfturn_engine::verdict::Verdict;
use halfturn_engine::wording::{degrees, duration, percent};

/// Rows of cells below a header.
pub(super) struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    pub(super) fn add_row<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        self.rows.push(cells.into_iter().map(Into::into).collect());
    }
}

/// A table with these columns.
pub(super) fn table(header: &[&str]) -> Table {
    Table {
        rows: vec![header.iter().map(|&name| name.to_owned()).collect()],
    }
}

/// The table as lines without blanks at their ends; the columns in `left` are aligned to the left.
pub(super) fn lines(table: Table, left: &[usize]) -> String {
    let rows = table.rows;
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.width()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in &rows {
        let mut line = String::new();
        for (i, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let gap = " ".repeat(width - cell.width());
            let cell = cell.as_str();
            let (before, after) = if left.contains(&i) {
                ("", gap.as_str())
            } else {
                (gap.as_str(), "")
            };
            line.extend([before, cell, after, "  "]);
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// One loop, move by move.
#[must_use]
pub fn trace_table(scenario: &Scenario, figures: &Figures, rows: &[TraceRow]) -> String {
    let mut table = table(&[
        "#",
        "start s",
        "wanted",
        "command",
        "folded",
        "reading",
        "solved PA",
        "residual",
        "end s",
        "",
    ]);
    let tolerance_deg = scenario.brief().tolerance_deg;
    for (i, row) in rows.iter().enumerate() {
        let angle = |a: Option<f64>| a.map_or_else(|| "-".to_owned(), |a| format!("{a:.3}"));
        table.add_row([
            (i + 1).to_string(),
            format!("{:.1}", row.start_s),
            angle(row.wanted_deg),
            angle(row.command_deg),
            if row.folded { "fold" } else { "" }.to_owned(),
            format!("{:.3}", row.reading_deg),
            angle(row.solved.map(|s| s.position_angle_deg)),
            row.solved
                .map_or_else(|| "-".to_owned(), |s| format!("{:+.3}", s.residual_deg)),
            format!("{:.1}", row.end_s),
            remark(row, tolerance_deg),
        ]);
    }
    let brief = scenario.brief();
    let mut out = format!(
        "target {} deg, drive angle {} deg, arc {} to {} deg{}, tolerance {} deg\nangles in degrees\n\n",
        degrees(brief.target_deg),
        degrees(scenario.drive_angle_deg()),
        degrees(brief.arc_start_deg),
        degrees(brief.arc_start_deg + brief.arc_width_deg),
        match brief.travel {
            Travel::Endless => String::new(),
            Travel::Stops { lo_deg, hi_deg } =>
                format!(", stops {} and {} deg", degrees(lo_deg), degrees(hi_deg)),
        },
        degrees(tolerance_deg),
    );
    out.push_str(&lines(table, &[4, 9]));
    let _ = writeln!(
        out,
        "\n{} after {} and {}; {} and {:.1} deg of travel{}",
        figures.outcome,
        counted(figures.solves, "solve"),
        duration(figures.elapsed_s),
        counted(figures.long_swings, "long swing"),
        figures.travel_deg,
        figures
            .true_error_deg
            .map_or_else(String::new, |e| format!(", true error {} deg", degrees(e))),
    );
    out
}

fn remark(row: &TraceRow, tolerance_deg: f64) -> String {
    let mut parts = Vec::new();
    if row.refused {
        parts.push("refused: outside the stops".to_owned());
    }
    if row.command_deg.is_none() {
        parts.push("confirming".to_owned());
    } else if !row.refused && row.reading_deg == row.from_deg {
        parts.push("no move".to_owned());
    }
    if row.long_swing {
        parts.push(format!(
            "LONG SWING of {:.1}",
            (row.reading_deg - row.from_deg).abs()
        ));
    }
    if row.failed_attempts > 0 {
        parts.push(counted(row.failed_attempts, "failed attempt"));
    }
    if row
        .solved
        .is_some_and(|s| s.residual_deg.abs() <= tolerance_deg)
    {
        parts.push("within tolerance".to_owned());
    }
    parts.join(", ")
}

fn counted(n: u32, thing: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{n} {thing}{plural}")
}

/// A figure of a rule, and the decimals that runs give it.
#[derive(Debug)]
pub(super) enum Figure {
    /// A share.
    Rate(fn(&PolicySummary) -> Rate),
    /// The mean of a distribution.
    Mean(fn(&PolicySummary) -> &Distribution, usize),
    /// A quantile of the settle time over all runs, and the ends of its interval.
    Quantile(fn(&PolicySummary) -> [Option<f64>; 3], usize),
    /// A word.
    /// A value that only runs know.
    OfRuns(fn(&PolicySummary) -> Option<f64>, usize),
}

/// Stands for a time by which too few runs have settled, however long they take.
pub(super) const NEVER: &str = "never";

/// The figures of a rule, in the order of the rows.
pub(super) const FIGURES: &[(&str, Figure)] = &[
    ("settled", Figure::Rate(|p| p.settled)),
    ("ping-pong", Figure::Rate(|p| p.ping_pong)),
    ("unsettled", Figure::Rate(|p| p.unsettled)),
    ("unsolved", Figure::Rate(|p| p.unsolved)),
    ("refused", Figure::Rate(|p| p.refused)),
    (
        "settle time of the settled, mean [s]",
        Figure::Mean(|p| &p.settle_time_s, 1),
    ),
    (
        "  half of all runs within [s]",
        Figure::Quantile(
            |p| {
                let d = &p.settle_time_s;
                [d.p50, d.p50_low, d.p50_high]
            },
            1,
        ),
    ),
    (
        "  90 % within [s]",
        Figure::Quantile(
            |p| {
                let d = &p.settle_time_s;
                [d.p90, d.p90_low, d.p90_high]
            },
            1,
        ),
    ),
    (
        "  99 % within [s]",
        Figure::Quantile(
            |p| {
                let d = &p.settle_time_s;
                [d.p99, d.p99_low, d.p99_high]
            },
            1,
        ),
    ),
    ("solves, mean", Figure::Mean(|p| &p.solves, 2)),
    ("long swings, mean", Figure::Mean(|p| &p.long_swings, 2)),
    ("travel, mean [deg]", Figure::Mean(|p| &p.travel_deg, 1)),
    (
        "winding, 99 % below [deg]",
        Figure::OfRuns(|p| p.winding_deg.p99, 1),
    ),
    (
        "outside the arc, mean [deg]",
        Figure::Mean(|p| &p.outside_arc_deg, 2),
    ),
    (
        "in keep-outs, mean [deg]",
        Figure::Mean(|p| &p.keep_out_deg, 2),
    ),
    (
        "true error, mean [deg]",
        Figure::Mean(|p| &p.true_error_deg, 4),
    ),
];

/// The verdict under each rule, and the fault that decides it, with its share.
pub(super) fn add_verdicts<'a>(
    table: &mut Table,
    verdicts: impl Iterator<Item = &'a Verdict> + Clone,
) {
    let mut add = |name: &str, cell: fn(&Verdict) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(verdicts.clone().map(cell)));
    };
    add("verdict", |v| v.state.to_string());
    add("decided by", |v| match v.decides() {
        Some(f) => format!("{} {}", f.fault, percent(f.rate.rate)),
        None => "-".to_owned(),
    });
}

/// The rules side by side: one column for each.
#[must_use]
pub fn batch_table(compared: &RuleComparison) -> String {
    let rules = &compared.rules;
    let mut header = vec![""];
    let names: Vec<String> = rules.iter().map(|r| r.summary.rule.to_string()).collect();
    header.extend(names.iter().map(String::as_str));
    let mut table = table(&header);
    add_verdicts(&mut table, rules.iter().map(|r| &r.verdict));
    let mut add = |name: &str, value: &dyn Fn(&PolicySummary) -> String| {
        let cells = rules.iter().map(|r| value(&r.summary));
        table.add_row(std::iter::once(name.to_owned()).chain(cells));
    };
    add("symmetry", &|p| p.symmetry.to_string());
    for (name, figure) in FIGURES {
        add(name, &|p| match figure {
            Figure::Rate(of) => rate(of(p)),
            Figure::Mean(of, decimals) => mean(of(p), *decimals),
            Figure::Quantile(of, decimals) => match of(p)[0] {
                None => NEVER.to_owned(),
                value => number(value, *decimals),
            },
            Figure::OfRuns(of, decimals) => number(of(p), *decimals),
        });
    }
    let mut out = lines(table, &[0]);
    out.push_str("\nbrackets: 95 % intervals (rates: Wilson score; means: normal theory)\n");
    out.push_str(&difference_table(&compared.differences));
    if let Some(intervals) = &compared.until {
        out.push_str(
            "\nping-pong when the sampling stopped, 95 % (exact, for all looks together)\n",
        );
        for (report, i) in rules.iter().zip(intervals) {
            let _ = writeln!(
                out,
                "  {}: {} [{}, {}]",
                report.summary.rule,
                percent(report.summary.ping_pong.rate),
                percent(i.low),
                percent(i.high)
            );
        }
    }
    out
}

/// The rules against one of them, on the same luck.
fn difference_table(differences: &[PairSummary]) -> String {
    let Some(first) = differences.first() else {
        return String::new();
    };
    let title = format!("less {}", first.against);
    let mut table = table(&[
        &title,
        "ping-pong [%]",
        "elapsed, mean [s]",
        "solves, mean",
        "travel, mean [deg]",
        "narrower",
    ]);
    for d in differences {
        let cell = |d: &Difference, scale: f64, decimals: usize| match (d.mean, d.low, d.high) {
            (Some(mean), Some(low), Some(high)) => format!(
                "{:+.decimals$} [{:+.decimals$}, {:+.decimals$}]",
                scale * mean,
                scale * low,
                scale * high
            ),
            _ => "-".to_owned(),
        };
        table.add_row([
            d.rule.to_string(),
            cell(&d.ping_pong, 100.0, 2),
            cell(&d.elapsed_s, 1.0, 1),
            cell(&d.solves, 1.0, 2),
            cell(&d.travel_deg, 1.0, 1),
            d.elapsed_s
                .tighter
                .map_or_else(|| "-".to_owned(), |ratio| format!("{ratio:.2} x")),
        ]);
    }
    format!(
        "\n{}\neach run meets the same luck under every rule; narrower: how much wider the interval of the elapsed time would be\nfrom independent runs\n",
        lines(table, &[0])
    )
}

fn rate(r: Rate) -> String {
    format!(
        "{} [{}, {}]",
        percent(r.rate),
        percent(r.low),
        percent(r.high)
    )
}

fn number(x: Option<f64>, decimals: usize) -> String {
    x.map_or_else(|| "-".to_owned(), |x| format!("{x:.decimals$}"))
}

fn mean(d: &Distribution, decimals: usize) -> String {
    match (d.mean, d.mean_low, d.mean_high) {
        (Some(mean), Some(low), Some(high)) => {
            format!("{mean:.decimals$} [{low:.decimals$}, {high:.decimals$}]")
        }
        (mean, ..) => number(mean, decimals),
    }
}
