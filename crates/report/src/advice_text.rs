//! The advice as plain text.

use std::fmt::Write as _;

use super::table::{lines, table};
use halfturn_engine::advise::{Advice, Outcome, RuleOnList, Setting, TargetReport};
use halfturn_engine::verdict::{Fault, State};
use halfturn_engine::wording::{degrees, duration, grouped, percent};

/// Most targets that a table on the screen shows.
const MOST_ROWS: usize = 40;

/// Most reasons on the screen.
const MOST_REASONS: usize = 10;

/// The list as it is, what to set, the list as it is then, and what that rests on.
#[must_use]
pub fn advice_text(advice: &Advice) -> String {
    let s = advice.rig.settings();
    let mut out = format!(
        "{}: {}, tolerance {} deg\n\nNOW: {}\n\n",
        s.name,
        match advice.before.targets.len() {
            1 => "1 target".to_owned(),
            n => format!("{} targets", grouped(n as u64)),
        },
        degrees(s.loop_.tolerance_deg),
        headline(&advice.before)
    );
    out.push_str(&setting_table(&advice.before));
    out.push('\n');
    out.push_str(&reasons(&advice.before));
    let answer = advice.headline();
    match advice.outcome {
        Outcome::Solves | Outcome::Improves => {
            let _ = writeln!(out, "\nADVISED: {answer}\n");
            for line in advice.change_lines().lines() {
                let _ = writeln!(out, "  {line}");
            }
            let _ = writeln!(out, "\nTHEN: {}\n", headline(&advice.after));
            out.push_str(&setting_table(&advice.after));
            out.push('\n');
            out.push_str(&reasons(&advice.after));
        }
        Outcome::NotNeeded | Outcome::NoImprovement => {
            let _ = writeln!(out, "\n{answer}\n{}", advice.still_unsafe());
        }
    }
    let _ = write!(out, "\n{}", settings(advice));
    out.trim_end().to_owned() + "\n"
}

/// What the advice rests on, and every rule on the whole list.
fn settings(advice: &Advice) -> String {
    let mut out = String::from("SETTINGS\n\n");
    for (name, sentence) in [
        ("proof", advice.proof_sentence()),
        ("swing", advice.bound_sentence()),
        ("tolerance", advice.window_sentence()),
        ("targets", advice.repair_sentence()),
        ("band", advice.band_sentence()),
        ("rule", advice.rule_sentence()),
        ("short way", advice.trap_sentence()),
        ("flats", advice.flats_sentence()),
    ] {
        if !sentence.is_empty() {
            let _ = writeln!(out, "{name}: {sentence}");
        }
    }
    out.push_str("\nEvery rule on the whole list, each with the settings that suit it best:\n\n");
    out.push_str(&rules_table(advice));
    out
}

fn rules_table(advice: &Advice) -> String {
    let rules = &advice.on_list;
    let mut header = vec![""];
    let names: Vec<String> = rules
        .iter()
        .map(|r| r.setting.policy.rule.to_string())
        .collect();
    header.extend(names.iter().map(String::as_str));
    let mut table = table(&header);
    let mut add = |name: &str, value: &dyn Fn(&RuleOnList) -> String| {
        table.add_row(std::iter::once(name.to_owned()).chain(rules.iter().map(value)));
    };
    let targets = grouped(advice.before.targets.len() as u64);
    add("arc from [deg]", &|r| degrees(r.setting.arc.start_deg));
    add("tolerance [deg]", &|r| degrees(r.setting.tolerance_deg));
    add("changed keys", &|r| r.changes.len().to_string());
    add("safe targets", &|r| {
        let safe = grouped(r.setting.count(State::Safe) as u64);
        format!("{safe} of {targets}")
    });
    for (name, fault) in [
        ("ping-pong, worst target", Fault::PingPong),
        ("late, worst target", Fault::Late),
    ] {
        add(name, &|r| percent(r.setting.worst_share(fault)));
    }
    add("all targets once", &|r| duration(r.setting.total_time_s()));
    add("meets every limit", &|r| {
        if r.setting.holds() { "yes" } else { "no" }.to_owned()
    });
    lines(table, &[0])
}

fn headline(setting: &Setting) -> String {
    let lost = setting
        .targets
        .iter()
        .filter(|t| t.expected_time_s.is_none());
    let time = duration(setting.total_time_s());
    let frames = match (setting.targets.len(), lost.count()) {
        (n, out) if n == out => String::new(),
        (1, _) => format!("; {time} to frame it"),
        (_, 0) => format!("; {time} to frame all of them once"),
        _ => format!("; {time} to frame those in reach once"),
    };
    let policy = &setting.policy;
    format!(
        "{}, arc from {} deg: {}{frames}",
        policy.rule,
        degrees(policy.arc_start_deg),
        setting.fares()
    )
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
    let some = |fault| rows.iter().any(|t| t.share(fault) > 0.0);
    let (crossed, wound) = (some(Fault::KeepOut), some(Fault::Winding));
    let mut header = vec![
        "target",
        "PA deg",
        "drive deg",
        "to seam deg",
        "settled",
        "ping-pong",
        "late",
    ];
    if crossed {
        header.extend(["in keep-outs", "deg a run"]);
    }
    if wound {
        header.push("wound too far");
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
            percent(t.share(Fault::PingPong)),
            percent(t.share(Fault::Late)),
        ];
        if crossed {
            row.push(percent(t.share(Fault::KeepOut)));
            let inside_deg = t.summary.keep_out_deg.mean;
            row.push(inside_deg.map_or_else(|| "-".to_owned(), degrees));
        }
        if wound {
            row.push(percent(t.share(Fault::Winding)));
        }
        row.push(t.expected_time_s.map_or_else(|| "-".to_owned(), duration));
        row.push(t.verdict.state.to_string());
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
        .filter(|t| !t.verdict.is_safe() || t.settles_wrong);
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
