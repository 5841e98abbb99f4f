//! Results as tables of plain text.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, Table};

use crate::advise::{Advice, RuleComparison, RuleReport, Setting, Verdict};
use crate::plant::Travel;
use crate::run::{Figures, TraceRow};
use crate::scenario::Scenario;
use crate::summary::{Difference, Distribution, PairSummary, Rate};
use crate::wording::{degrees, duration, grouped, percent};

/// Most targets that a table on the screen shows.
const MOST_ROWS: usize = 40;

/// A table with these columns.
pub(super) fn table(header: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(comfy_table::presets::NOTHING);
    table.set_header(header.iter().copied());
    table
}

/// The table as lines without blanks at their ends; the columns in `left` are aligned to the left.
pub(super) fn lines(mut table: Table, left: &[usize]) -> String {
    for (i, column) in table.column_iter_mut().enumerate() {
        column.set_cell_alignment(if left.contains(&i) {
            CellAlignment::Left
        } else {
            CellAlignment::Right
        });
        column.set_padding((0, 2));
    }
    let mut out = String::new();
    for line in table.to_string().lines() {
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

/// The rules side by side: one column for each.
#[must_use]
pub fn batch_table(compared: &RuleComparison) -> String {
    let rules = &compared.rules;
    let mut header = vec![""];
    let names: Vec<String> = rules.iter().map(|r| r.summary.rule.to_string()).collect();
    header.extend(names.iter().map(String::as_str));
    let mut table = table(&header);
    let mut add = |name: &str, value: &dyn Fn(&RuleReport) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(rules.iter().map(value)));
    };
    add("symmetry", &|r| r.summary.symmetry.to_string());
    add("settled", &|r| rate(r.summary.settled));
    add("ping-pong", &|r| rate(r.summary.ping_pong));
    add("unsettled", &|r| rate(r.summary.unsettled));
    add("unsolved", &|r| rate(r.summary.unsolved));
    add("refused", &|r| rate(r.summary.refused));
    add("settle time, mean [s]", &|r| {
        mean(&r.summary.settle_time_s, 1)
    });
    add("  half below [s]", &|r| {
        number(r.summary.settle_time_s.p50, 1)
    });
    add("  90 % below [s]", &|r| {
        number(r.summary.settle_time_s.p90, 1)
    });
    add("  99 % below [s]", &|r| {
        number(r.summary.settle_time_s.p99, 1)
    });
    add("solves, mean", &|r| mean(&r.summary.solves, 2));
    add("long swings, mean", &|r| mean(&r.summary.long_swings, 2));
    add("travel, mean [deg]", &|r| mean(&r.summary.travel_deg, 1));
    add("winding, 99 % below [deg]", &|r| {
        number(r.summary.winding_deg.p99, 1)
    });
    add("outside the arc, mean [deg]", &|r| {
        mean(&r.summary.outside_arc_deg, 2)
    });
    add("in keep-outs, mean [deg]", &|r| {
        mean(&r.summary.keep_out_deg, 2)
    });
    add("true error, mean [deg]", &|r| {
        mean(&r.summary.true_error_deg, 4)
    });
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

/// The verdicts before and after, and what to change.
#[must_use]
pub fn advice_table(advice: &Advice) -> String {
    let s = advice.rig.settings();
    let mut out = format!(
        "{}: {}, {} runs each, tolerance {} deg\n\n",
        s.name,
        match advice.before.targets.len() {
            1 => "1 target".to_owned(),
            n => format!("{} targets", grouped(n as u64)),
        },
        grouped(advice.request.batch.trials),
        degrees(s.loop_.tolerance_deg),
    );
    let _ = writeln!(out, "NOW: {}\n", headline(&advice.before));
    out.push_str(&setting_table(&advice.before));
    out.push('\n');
    out.push_str(&reasons(&advice.before));
    let _ = writeln!(out, "\nADVISED: {}\n", headline(&advice.after));
    out.push_str(&change(advice));
    out.push('\n');
    out.push_str(&setting_table(&advice.after));
    let reasons = reasons(&advice.after);
    if !reasons.is_empty() {
        out.push('\n');
        out.push_str(&reasons);
    }
    out
}

fn headline(setting: &Setting) -> String {
    let policy = &setting.policy;
    let total = setting.targets.len();
    let verdicts = [Verdict::WillHunt, Verdict::AtRisk, Verdict::OutOfReach]
        .into_iter()
        .filter(|v| setting.count(*v) > 0)
        .map(|v| format!("{} {v}", grouped(setting.count(v) as u64)))
        .collect::<Vec<_>>()
        .join(", ");
    let verdicts = if verdicts.is_empty() {
        "every target is safe".to_owned()
    } else {
        format!("{verdicts} of {}", grouped(total as u64))
    };
    format!(
        "{}, arc from {} deg: {verdicts}; {} to frame all of them once",
        policy.rule,
        degrees(policy.arc_start_deg),
        duration(setting.total_time_s())
    )
}

fn change(advice: &Advice) -> String {
    let choice = &advice.choice;
    if choice.no_seam {
        return "A full circle of endless travel has no seam: its start does not matter.\n"
            .to_owned();
    }
    if choice.kept_present {
        return "A start with a wider margin was tried, but the runs there end worse: keep the present one.\n".to_owned();
    }
    let mut out = format!(
        "  [wrap]\n  arc_start_deg = {}   # was {}\n\nNo target is nearer to the seam than {} deg (was {} deg).\n",
        degrees(choice.start_deg),
        degrees(advice.before.policy.arc_start_deg),
        degrees(choice.margin_deg),
        degrees(choice.present_margin_deg),
    );
    if !choice.clear_of_keep_outs {
        out.push_str("No start of the arc keeps it clear of the keep-out sectors.\n");
    }
    if !choice.within_stops {
        out.push_str("No start of the arc fits it between the stops.\n");
    }
    out
}

/// The rows to show: in the order of the list, or the worst of a long list.
fn shown_rows(setting: &Setting) -> Vec<usize> {
    let mut rows: Vec<usize> = (0..setting.targets.len()).collect();
    if rows.len() > MOST_ROWS {
        let key = |i: &usize| {
            let t = &setting.targets[*i];
            t.hunting.rate + t.refused.rate
        };
        rows.sort_by(|a, b| key(b).total_cmp(&key(a)));
        rows.truncate(MOST_ROWS);
    }
    rows
}

fn setting_table(setting: &Setting) -> String {
    let mut table = table(&[
        "target",
        "PA deg",
        "drive deg",
        "to seam deg",
        "settled",
        "ping-pong",
        "expected",
        "verdict",
    ]);
    let rows = shown_rows(setting);
    for i in &rows {
        let t = &setting.targets[*i];
        table.add_row([
            t.name.clone(),
            degrees(t.position_angle_deg),
            degrees(t.drive_deg),
            t.seam_distance_deg
                .map_or_else(|| "no seam".to_owned(), degrees),
            percent(t.summary.settled.rate),
            percent(t.summary.ping_pong.rate),
            duration(t.expected_time_s),
            t.verdict.to_string(),
        ]);
    }
    let mut out = lines(table, &[0, 7]);
    if rows.len() < setting.targets.len() {
        let _ = writeln!(
            out,
            "… the worst {} of {}; targets.csv in the report has all",
            rows.len(),
            grouped(setting.targets.len() as u64)
        );
    }
    out
}

/// Why targets are not safe, a line each; targets with the same reason share a line.
fn reasons(setting: &Setting) -> String {
    let mut lines: Vec<(Vec<&str>, &str)> = Vec::new();
    for i in shown_rows(setting) {
        let t = &setting.targets[i];
        if t.verdict == Verdict::Safe {
            continue;
        }
        match lines.iter_mut().find(|(_, reason)| *reason == t.reason) {
            Some((names, _)) => names.push(&t.name),
            None => lines.push((vec![&t.name], &t.reason)),
        }
    }
    lines
        .iter()
        .fold(String::new(), |mut out, (names, reason)| {
            let who = match names.as_slice() {
                [name] => (*name).to_owned(),
                [first, rest @ ..] => format!("{first} and {} more", rest.len()),
                [] => String::new(),
            };
            let _ = writeln!(out, "{who}: {reason}");
            out
        })
}
