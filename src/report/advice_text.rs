//! The advice as plain text.

use std::fmt::Write as _;

use super::table::{lines, table};
use crate::advise::{Advice, Decision, Setting, TargetReport, Verdict};
use crate::wording::{degrees, duration, grouped, percent};

/// Most targets that a table on the screen shows.
const MOST_ROWS: usize = 40;

/// Most reasons on the screen.
const MOST_REASONS: usize = 10;

/// The verdicts now, what to do, and the verdicts then.
#[must_use]
pub fn advice_text(advice: &Advice) -> String {
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
    let sentence = advice.sentence();
    match advice.decision {
        Decision::Cures | Decision::Helps => {
            let _ = writeln!(out, "\nADVISED: {sentence}\n");
            out.push_str(&snippet(advice));
            let _ = writeln!(out, "\nTHEN: {}\n", headline(&advice.after));
            out.push_str(&setting_table(&advice.after));
            out.push('\n');
            out.push_str(&reasons(&advice.after));
        }
        Decision::Spare => {
            let _ = writeln!(out, "\n{sentence}\n");
            out.push_str(&snippet(advice));
        }
        Decision::Fine => {
            let _ = writeln!(out, "\n{sentence}");
        }
        Decision::NoOther | Decision::NoHelp => {
            let _ = writeln!(out, "\n{sentence}\n{}", advice.still_unsafe());
        }
    }
    if !advice.after.all_safe() {
        let _ = writeln!(out, "{}", advice.other_rules());
    }
    out.trim_end().to_owned() + "\n"
}

fn headline(setting: &Setting) -> String {
    let out_of_reach = setting.count(Verdict::OutOfReach);
    let frames = match (setting.targets.len(), out_of_reach) {
        (n, out) if n == out => String::new(),
        (1, _) => format!("; {} to frame it", duration(setting.total_time_s())),
        (_, 0) => format!(
            "; {} to frame all of them once",
            duration(setting.total_time_s())
        ),
        _ => format!(
            "; {} to frame those in reach once",
            duration(setting.total_time_s())
        ),
    };
    let policy = &setting.policy;
    format!(
        "{}, arc from {} deg: {}{frames}",
        policy.rule,
        degrees(policy.arc_start_deg),
        setting.standing()
    )
}

/// The lines for the rig file, and what limits the arc.
fn snippet(advice: &Advice) -> String {
    let choice = &advice.choice;
    let mut out = String::new();
    for line in advice.rig_lines().lines() {
        let _ = writeln!(out, "  {line}");
    }
    if !choice.clear_of_keep_outs {
        out.push_str("\nNo start of the arc keeps it clear of the keep-out sectors.\n");
    }
    if !choice.within_stops {
        out.push_str("\nNo start of the arc fits it between the stops.\n");
    }
    out
}

/// The rows to show: in the order of the list, or the worst of a long list.
fn shown_rows(setting: &Setting) -> Vec<&TargetReport> {
    if setting.targets.len() > MOST_ROWS {
        let mut rows = setting.worst_first();
        rows.truncate(MOST_ROWS);
        rows
    } else {
        setting.targets.iter().collect()
    }
}

fn setting_table(setting: &Setting) -> String {
    let rows = shown_rows(setting);
    let crossed = rows.iter().any(|t| t.keep_out.rate > 0.0);
    let mut header = vec![
        "target",
        "PA deg",
        "drive deg",
        "to seam deg",
        "settled",
        "ping-pong",
    ];
    if crossed {
        header.extend(["in keep-outs", "deg a run"]);
    }
    header.extend(["expected", "verdict"]);
    let last = header.len() - 1;
    let mut table = table(&header);
    for t in &rows {
        let mut row = vec![
            t.name.clone(),
            degrees(t.position_angle_deg),
            degrees(t.drive_deg),
            t.seam_distance_deg
                .map_or_else(|| "no seam".to_owned(), degrees),
            percent(t.summary.settled.rate),
            percent(t.summary.ping_pong.rate),
        ];
        if crossed {
            row.push(percent(t.keep_out.rate));
            row.push(
                t.summary
                    .keep_out_deg
                    .mean
                    .map_or_else(|| "-".to_owned(), degrees),
            );
        }
        row.push(t.expected_time_s.map_or_else(|| "-".to_owned(), duration));
        row.push(t.verdict.to_string());
        table.add_row(row);
    }
    let mut out = lines(table, &[0, last]);
    if rows.len() < setting.targets.len() {
        let _ = writeln!(
            out,
            "the worst {} of {}; targets.csv in the report has all",
            rows.len(),
            grouped(setting.targets.len() as u64)
        );
    }
    out
}

/// Why targets are not safe, a line each, the worst first; targets with the same reason share a line.
/// Of safe targets only those that settle on a wrong angle are spoken of.
fn reasons(setting: &Setting) -> String {
    let mut lines: Vec<(Vec<&str>, &str)> = Vec::new();
    let mut place = std::collections::HashMap::new();
    let worst_first = setting.worst_first();
    let spoken_of = worst_first
        .into_iter()
        .filter(|t| t.verdict != Verdict::Safe || t.settles_wrong);
    for t in spoken_of {
        let at = *place.entry(t.reason.as_str()).or_insert(lines.len());
        match lines.get_mut(at) {
            Some((names, _)) => names.push(&t.name),
            None => lines.push((vec![&t.name], &t.reason)),
        }
    }
    let mut out = String::new();
    for (names, reason) in lines.iter().take(MOST_REASONS) {
        let who = match names.as_slice() {
            [name] => (*name).to_owned(),
            [first, rest @ ..] => format!("{first} and {} more", grouped(rest.len() as u64)),
            [] => String::new(),
        };
        let _ = writeln!(out, "{who}: {reason}");
    }
    let rest = lines.iter().skip(MOST_REASONS);
    let more: usize = rest.map(|(names, _)| names.len()).sum();
    if more > 0 {
        let _ = writeln!(
            out,
            "and {} more; the report has their reasons",
            grouped(more as u64)
        );
    }
    out
}
