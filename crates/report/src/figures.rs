//! The figures of the rules side by side, from runs or solved, for terminal, page and pictures.

use halfturn_engine::advise::RuleComparison;
use halfturn_engine::sample::Batch;
use halfturn_engine::summary::{Distribution, PairSummary, PairedDifference, PolicySummary, Rate};
use halfturn_engine::verdict::{Limits, TargetState, Verdict};
use halfturn_engine::wording::{grouped, percent};

use crate::document::{Block, Column, Document, Line, Span, Table};

/// A figure of a rule, and the number of decimals if it comes from runs.
enum Figure {
    /// A share of the runs.
    Rate(fn(&PolicySummary) -> Rate),
    /// The mean of a distribution.
    Mean(fn(&PolicySummary) -> &Distribution, usize),
    /// A quantile of the settle time over all runs, and the ends of its interval.
    Quantile(fn(&Distribution) -> [Option<f64>; 3]),
    /// A value that only runs give.
    OfRuns(fn(&PolicySummary) -> Option<f64>, usize),
    /// A value of the loop without a limit of solves, which only a solution gives.
    LongRun(fn(&halfturn_engine::exact::LongRun) -> f64),
}

/// Stands for a time by which too few runs settle, however long they take.
pub(crate) const NEVER: &str = "never";

/// Stands for an unknown value.
pub(crate) const UNKNOWN: &str = "–";

/// The figures in the order of the rows.
const FIGURES: &[(&str, Figure)] = &[
    ("settle", Figure::Rate(|p| p.settled)),
    ("hunt", Figure::Rate(|p| p.hunting)),
    ("run out of solves", Figure::Rate(|p| p.unsettled)),
    ("find no solution", Figure::Rate(|p| p.unsolved)),
    ("are refused at a stop", Figure::Rate(|p| p.refused)),
    (
        "settle time, mean (s)",
        Figure::Mean(|p| &p.settle_time_s, 1),
    ),
    (
        "half of all runs settle within (s)",
        Figure::Quantile(|d| [d.p50, d.p50_low, d.p50_high]),
    ),
    (
        "90 % within (s)",
        Figure::Quantile(|d| [d.p90, d.p90_low, d.p90_high]),
    ),
    (
        "99 % within (s)",
        Figure::Quantile(|d| [d.p99, d.p99_low, d.p99_high]),
    ),
    ("solves, mean", Figure::Mean(|p| &p.solves, 2)),
    ("long swings, mean", Figure::Mean(|p| &p.long_swings, 2)),
    ("travel, mean (°)", Figure::Mean(|p| &p.travel_deg, 1)),
    (
        "winding, 99 % below (°)",
        Figure::OfRuns(|p| p.winding_deg.p99, 1),
    ),
    (
        "outside the arc, mean (°)",
        Figure::Mean(|p| &p.outside_arc_deg, 2),
    ),
    (
        "in keep-outs, mean (°)",
        Figure::Mean(|p| &p.keep_out_deg, 2),
    ),
    (
        "true error, mean (°)",
        Figure::Mean(|p| &p.true_error_deg, 4),
    ),
    (
        "never end without a limit of solves",
        Figure::LongRun(|l| l.never_ends),
    ),
    (
        "solves without a limit, mean",
        Figure::LongRun(|l| l.mean_solves),
    ),
    ("persistence", Figure::LongRun(|l| l.persistence)),
];

/// Number of rows that stay even if they are zero for all rules.
const ALWAYS: usize = 2;

/// One column for each rule: its verdict, the fault that decides it, and its figures. Leaves out a row that is zero
/// for all rules.
pub(crate) fn rules_table(rules: &[(&PolicySummary, &Verdict)]) -> Table {
    let mut columns = vec![Column::words("")];
    columns.extend(
        rules
            .iter()
            .map(|(p, _)| Column::numbers(p.rule.to_string(), "")),
    );
    let mut table = Table::new("", columns);
    let mut add = |name: &str, cell: &dyn Fn(&PolicySummary, &Verdict) -> Line| {
        let cells = rules.iter().map(|(p, v)| cell(p, v));
        table.row(std::iter::once(name.into()).chain(cells));
    };
    add("verdict", &|_, v| Span::State(v.state).into());
    add("decided by", &|_, v| match v.decides() {
        Some(f) => format!("{} {}", f.fault.words(), percent(f.rate.rate)).into(),
        None => UNKNOWN.into(),
    });
    add("camera angles that frame the same", &|p, _| {
        p.symmetry.to_string().into()
    });
    if rules.iter().any(|(p, _)| p.exact.is_some()) {
        add("method", &|p, _| p.method.into());
    }
    for (i, (name, figure)) in FIGURES.iter().enumerate() {
        let said = |p: &PolicySummary| match figure {
            Figure::Rate(of) => of(p).rate > 0.0,
            Figure::Mean(of, _) => of(p).mean.is_some_and(|mean| mean != 0.0),
            Figure::OfRuns(of, _) => of(p).is_some_and(|value| value != 0.0),
            Figure::Quantile(_) => true,
            Figure::LongRun(_) => long_run(p).is_some(),
        };
        if i < ALWAYS || rules.iter().any(|(p, _)| said(p)) {
            add(name, &|p, _| cell(p, figure));
        }
    }
    table
}

fn cell(p: &PolicySummary, figure: &Figure) -> Line {
    let solved = p.exact.is_some();
    match figure {
        Figure::Rate(of) if solved => bounded_rate(of(p)).into(),
        Figure::Rate(of) => rate(of(p)),
        Figure::Mean(of, decimals) => {
            let d = of(p);
            bounded([d.mean, d.mean_low, d.mean_high], *decimals, solved)
        }
        Figure::Quantile(of) => match of(&p.settle_time_s) {
            [None, ..] => NEVER.into(),
            // The JSON has the intervals of runs; here the value is enough.
            [value, ..] if !solved => number(value, 1).into(),
            values => bounded(values, 1, solved),
        },
        Figure::OfRuns(of, decimals) => number(of(p), *decimals).into(),
        Figure::LongRun(of) => long_run(p)
            .map_or_else(|| UNKNOWN.to_owned(), |l| certain(of(l)))
            .into(),
    }
}

fn long_run(p: &PolicySummary) -> Option<&halfturn_engine::exact::LongRun> {
    p.exact.as_ref()?.long_run.as_ref()
}

/// The state, and the share of runs with the fault that decides it.
pub(crate) fn verdict_cell(verdict: &Verdict) -> Line {
    let state = Line::from(Span::State(verdict.state));
    match verdict.decides() {
        Some(f) if verdict.state == TargetState::AtRisk => {
            state.text(format!(": {} {}", f.fault.words(), percent(f.rate.rate)))
        }
        Some(f) => state.text(format!(" {}", percent(f.rate.rate))),
        None => state,
    }
}

/// A share of runs with its interval.
pub(crate) fn rate(r: Rate) -> Line {
    Line::new(percent(r.rate)).with(Span::Range(percent(r.low), percent(r.high)))
}

/// A value with its interval, or with its error bound if it was solved.
fn bounded([value, low, high]: [Option<f64>; 3], decimals: usize, solved: bool) -> Line {
    match (value, low, high) {
        _ if solved => with_bound(value, low, high).into(),
        (Some(value), Some(low), Some(high)) => {
            let text = |x: f64| format!("{x:.decimals$}");
            Line::new(text(value)).with(Span::Range(text(low), text(high)))
        }
        _ => number(value, decimals).into(),
    }
}

fn number(x: Option<f64>, decimals: usize) -> String {
    x.map_or_else(|| UNKNOWN.to_owned(), |x| format!("{x:.decimals$}"))
}

/// A solved rate with its error bound.
pub(crate) fn bounded_rate(r: Rate) -> String {
    with_bound(Some(r.rate), Some(r.low), Some(r.high))
}

/// A solved figure with its error bound.
fn with_bound(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> String {
    let Some(value) = value else {
        return UNKNOWN.to_owned();
    };
    let bound = match (low, high) {
        (Some(low), Some(high)) => (high - value).max(value - low),
        _ => 0.0,
    };
    if bound == 0.0 {
        return certain(value);
    }
    format!("{} ±{bound:.0e}", digits(value, bound))
}

fn certain(value: f64) -> String {
    digits(value, 1e-6 * value.abs())
}

/// A number with about as many digits as its error allows, six at most.
fn digits(x: f64, error: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return x.to_string();
    }
    if x.abs() < error {
        return "0".to_owned();
    }
    let leading = libm::log10(x.abs()).floor();
    let digits = (leading - libm::log10(error.max(1e-300)).floor()).clamp(0.0, 5.0);
    if !(-4.0..6.0).contains(&leading) {
        return format!("{x:.*e}", digits as usize);
    }
    format!("{x:.*}", (digits - leading).max(0.0) as usize)
}

/// The rules at one target, from runs.
#[must_use]
pub fn batch_document(about: &str, compared: &RuleComparison, replays: Vec<Line>) -> Document {
    let mut out = Document(vec![Block::Para(about.into())]);
    let rules: Vec<_> = compared
        .rules
        .iter()
        .map(|r| (&r.summary, &r.verdict))
        .collect();
    out.add(Block::Table(rules_table(&rules)));
    out.add(Block::Note(
        "In brackets: 95 % intervals (shares: Wilson score, means: normal distribution).".into(),
    ));
    differences(&compared.differences, &mut out);
    if let Some(known) = &compared.until {
        out.para("Share of runs that hunt, with 95 % intervals that hold although the runs ended when they were narrow:");
        let items = compared.rules.iter().zip(known).map(|(report, i)| {
            let share = percent(i.rate);
            Line::new(format!("{}: {share}", report.summary.rule))
                .with(Span::Range(percent(i.low), percent(i.high)))
        });
        out.add(Block::Items(items.collect()));
    }
    replays.into_iter().for_each(|line| out.para(line));
    out
}

/// The rules at one target, solved if possible. `batch` says how many runs the others had.
#[must_use]
pub fn solved_document(about: &str, policies: &[PolicySummary], batch: Batch) -> Document {
    let mut out = Document(vec![Block::Para(about.into())]);
    let verdict = |p| Verdict::of(p, &Limits::default());
    let verdicts: Vec<Verdict> = policies.iter().map(verdict).collect();
    let rules: Vec<_> = policies.iter().zip(&verdicts).collect();
    out.add(Block::Table(rules_table(&rules)));
    out.add(Block::Note(
        "±: a grid twice as fine moves the figure by less than this.".into(),
    ));
    if policies.iter().any(|p| p.exact.is_none()) {
        let runs = grouped(batch.trials);
        let text = format!(
            "In brackets: 95 % intervals of {runs} runs, seed {}.",
            batch.seed
        );
        out.add(Block::Note(text.into()));
    }
    out.add(Block::Note(
        "Persistence: the chance that a hunting loop goes on for one more solve, at the worst zero point.".into(),
    ));
    out
}

/// The rules compared with one of them, on the same random numbers.
fn differences(differences: &[PairSummary], out: &mut Document) {
    let Some(first) = differences.first() else {
        return;
    };
    let mut table = Table::new(
        "",
        vec![
            Column::words(format!("difference from {}", first.against)),
            Column::numbers("hunt", "(%)"),
            Column::numbers("time, mean", "(s)"),
            Column::numbers("solves, mean", ""),
            Column::numbers("travel, mean", "(°)"),
            Column::numbers("gain from pairing", ""),
        ],
    );
    for d in differences {
        let cell = |d: &PairedDifference, scale: f64, decimals: usize| match (d.mean, d.low, d.high)
        {
            (Some(mean), Some(low), Some(high)) => {
                let text = |x: f64| format!("{:+.decimals$}", scale * x);
                Line::new(text(mean)).with(Span::Range(text(low), text(high)))
            }
            _ => UNKNOWN.into(),
        };
        let gain = d.elapsed_s.tighter;
        table.row([
            d.rule.to_string().into(),
            cell(&d.hunting, 100.0, 2),
            cell(&d.elapsed_s, 1.0, 1),
            cell(&d.solves, 1.0, 2),
            cell(&d.travel_deg, 1.0, 1),
            gain.map_or_else(|| UNKNOWN.to_owned(), |ratio| format!("{ratio:.2} x"))
                .into(),
        ]);
    }
    out.add(Block::Table(table));
    out.add(Block::Note(
        "Each run uses the same random numbers under every rule. Gain from pairing: how much wider the interval of the time would be from independent runs.".into(),
    ));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_end_where_the_error_begins() {
        assert_eq!(digits(0.151_410_975, 2e-13), "0.151411");
        assert_eq!(digits(113.968_6, 0.2), "114.0");
        assert_eq!(digits(3.214_56e-9, 1e-13), "3.2146e-9");
        assert_eq!(digits(1e-14, 1e-13), "0");
        assert_eq!(digits(0.0, 0.0), "0");
        assert_eq!(digits(f64::INFINITY, 0.0), "inf");
        assert_eq!(digits(165_699.9, 1.0), "165700");
        assert_eq!(with_bound(Some(20.0), Some(20.0), Some(20.0)), "20.0000");
        // The farther end counts.
        assert_eq!(with_bound(Some(0.5), Some(0.4), Some(0.53)), "0.5 ±1e-1");
        assert_eq!(with_bound(None, None, None), UNKNOWN);
    }
}
