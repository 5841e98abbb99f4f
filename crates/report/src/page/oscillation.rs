//! The oscillation: the worst target's loop, move by move, now and under the advised arc.

use maud::{Markup, html};

use super::picture::{Pictures, figure};
use super::words::{angle, maybe, number, share, time, turned, whole_units};
use super::{Made, script};
use halfturn_engine::advise::{Advice, Example};
use halfturn_engine::rig::Difference;
use halfturn_engine::run::{Outcome, TraceRow};

/// Rows of the trace that are shown.
const ROWS: usize = 12;

pub(super) fn section(advice: &Advice, pictures: &Pictures, made: &Made) -> Markup {
    let shown = advice.shown();
    let before = &advice.example_before;
    let changed = !advice.changes.is_empty();
    html! {
        section id="loop" {
            h2 {
                @if before.figures.ping_pong() { "The oscillation" } @else { "One run, move by move" }
                @if changed { ", before and after" }
            }
            p {
                "The target that fares worst under the present settings is " strong { (shown.name) }
                ". " (whole_units(&shown.reason))
            }
            (script::player(advice))
            (figure(pictures.loop_before.as_ref(), &html! { (seen(advice)) " " (replay(before, made, "")) }))
            (table(before))
            @if changed {
                (figure(pictures.loop_after.as_ref(), &html! {
                    (afterwards(advice)) " "
                    (replay(&advice.example_after, made, &settings(advice)))
                }))
                @if pictures.loop_after.is_none() { p { (afterwards(advice)) } }
            }
        }
    }
}

/// What the picture of the present loop shows.
fn seen(advice: &Advice) -> String {
    let example = &advice.example_before;
    let figures = &example.figures;
    let run = format!(
        "Run number {} (counted from 0) of {} under the present settings",
        number(usize::try_from(example.trial).unwrap_or(usize::MAX)),
        number(usize::try_from(advice.request.batch.trials).unwrap_or(usize::MAX)),
    );
    if !figures.ping_pong() {
        let swings = match (figures.long_swings, figures.outcome) {
            (0, Outcome::Refused) => "",
            (0, _) => " No correction swings to the other end of the arc.",
            _ => " It swings to the other end of the arc once, so it does not ping-pong.",
        };
        return format!("{run}.{swings} {}", ending(example));
    }
    let ping_pong = advice.shown().summary.ping_pong.rate;
    let rig = advice.rig.settings();
    // A loop that answers with the wrong sign, or with too much, makes its errors itself.
    let own_making = rig.loop_.believed_sense != rig.drive.sense || rig.loop_.correction > 1.0;
    let why = if own_making {
        "Its corrections themselves enlarge the error, so it comes back after each swing"
    } else {
        "But the errors at the two ends of the arc differ, so each swing re-creates the error it came to remove"
    };
    format!(
        "{run}: the first one that ping-pongs, as {} of them do. A correction that leaves the arc is sent to the other end, {} away, \
         because that frames the same field. {why}{}. {}",
        share(ping_pong),
        angle(example.scenario.brief().arc_width_deg),
        residuals(example),
        ending(example)
    )
}

/// The residuals after the first two long swings.
fn residuals(example: &Example) -> String {
    let after: Vec<f64> = example
        .trace
        .rows()
        .iter()
        .filter(|row| row.long_swing)
        .filter_map(|row| Some(row.solved?.residual_deg))
        .take(2)
        .collect();
    let tolerance = angle(example.scenario.brief().tolerance_deg);
    match after.as_slice() {
        [first, second] => format!(
            ": {} after the first swing, {} after the second, against a tolerance of {tolerance}",
            signed(*first),
            signed(*second)
        ),
        _ => String::new(),
    }
}

fn signed(angle_deg: f64) -> String {
    let sign = if angle_deg > 0.0 { "+" } else { "" };
    format!("{sign}{}", angle(angle_deg)).replace('-', "\u{2212}")
}

/// A number with a minus of its own, and a zero without one.
fn signed_number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if zero {
        text.replace('-', "")
    } else {
        text.replace('-', "\u{2212}")
    }
}

/// How the run ends, as a sentence.
fn ending(example: &Example) -> String {
    let figures = &example.figures;
    let solves = match figures.solves {
        0 => "no good solve".to_owned(),
        1 => "1 solve".to_owned(),
        n => format!("{n} solves"),
    };
    let what = match figures.outcome {
        Outcome::Settled => format!("settles after {solves}"),
        Outcome::Unsettled => format!("gives up after {solves}"),
        Outcome::Unsolved => format!(
            "ends without a solution, after {solves} and {} failed attempts",
            figures.failed_attempts
        ),
        Outcome::Refused if figures.solves == 0 => {
            return "Its first command lies outside the stops and is refused: nothing moves, and nothing is solved.".to_owned();
        }
        Outcome::Refused => format!("ends after {solves} on a command outside the stops"),
        Outcome::GaveUp | Outcome::Faulty => format!("ends after {solves}"),
    };
    format!(
        "It {what}, {}, and {} of turning.",
        time(figures.elapsed_s),
        turned(figures.travel_deg)
    )
}

/// What the picture of the advised loop shows.
fn afterwards(advice: &Advice) -> String {
    let example = &advice.example_after;
    let swings = example.figures.long_swings;
    let why = match (example.figures.outcome == Outcome::Settled, swings) {
        (true, 0) if example.figures.solves == 1 => {
            " Here the first move already lands within the tolerance."
        }
        (true, 0) => " Here no correction is sent to the other end.",
        (_, 2..) => " It still swings.",
        _ => "",
    };
    format!(
        "The same run with the same random numbers (zero point, seating, noise) and the advised settings. {}{why}",
        ending(example)
    )
}

/// The changes as options of a command.
fn settings(advice: &Advice) -> String {
    let one = |c: &Difference| {
        let value = match c.to.as_ref() {
            Some(toml::Value::String(text)) => text.clone(),
            Some(value) => value.to_string(),
            None => String::new(),
        };
        format!(" --set {}={value}", c.key)
    };
    advice.changes.iter().map(one).collect()
}

/// The command that shows this run.
fn replay(example: &Example, made: &Made, setting: &str) -> Markup {
    html! {
        "To see it again: " code {
            (made.trace_command) (setting) " --target " (example.scenario.brief().target_deg) " --trial " (example.trial)
        }
    }
}

fn table(example: &Example) -> Markup {
    let rows = example.trace.rows();
    let more = rows.len().saturating_sub(ROWS);
    // Digits enough to compare with the tolerance, the same in all rows.
    let decimals = match example.scenario.brief().tolerance_deg {
        t if t >= 0.1 => 2,
        t if t >= 0.01 => 3,
        _ => 4,
    };
    let column = |v: f64| signed_number(v, decimals);
    let number_cell = |value: Option<f64>| html! { td { (maybe(value, column)) } };
    html! {
        div.scroll role="region" aria-label="Moves and solves" tabindex="0" {
            table {
                caption {
                    span {
                        strong { "Moves and solves of this run." }
                        @if more > 0 {
                            " The first " (ROWS) " of " (rows.len()) " rows."
                        }
                        " Wanted is where the loop would go by itself; the wrap rule makes it the command. "
                        "The residual is target minus solved, to the nearest framing that counts as the same."
                    }
                }
                thead {
                    tr {
                        th scope="col" { "Time" small { "s" } }
                        th scope="col" { "Wanted" small { "deg" } }
                        th scope="col" { "Command" small { "deg" } }
                        th scope="col" { "Folded" }
                        th scope="col" { "Reading after" small { "deg" } }
                        th scope="col" { "Solved position angle" small { "deg" } }
                        th scope="col" { "Residual" small { "deg" } }
                        th.text scope="col" { "What follows" }
                    }
                }
                tbody {
                    @for (i, row) in rows.iter().take(ROWS).enumerate() {
                        tr {
                            th scope="row" { (format!("{:.1}", row.start_s)) }
                            (number_cell(row.wanted_deg))
                            (number_cell(row.command_deg))
                            td { @if row.folded { "yes" } @else { "no" } }
                            (number_cell(Some(row.reading_deg)))
                            (number_cell(row.solved.map(|s| s.position_angle_deg)))
                            (number_cell(row.solved.map(|s| s.residual_deg)))
                            td.text { (follows(row, rows.get(i + 1), example)) }
                        }
                    }
                }
            }
        }
    }
}

/// What the controller does after a row.
fn follows(row: &TraceRow, next: Option<&TraceRow>, example: &Example) -> &'static str {
    match (next, example.figures.outcome) {
        _ if row.refused => "refused: outside the stops",
        (None, Outcome::Settled) => "within the tolerance: done",
        (None, Outcome::Unsettled) => "no solves left: gives up",
        (None, Outcome::Unsolved) => "too many failed solves: ends",
        (None, _) => "ends",
        (Some(next), _) if next.refused => "too far off: next command is refused",
        (Some(next), _) if next.long_swing => "too far off: swings to the other end",
        (Some(next), _) if next.command_deg.is_none() => {
            "within the tolerance: solves again to confirm"
        }
        (Some(_), _) => "too far off: corrects nearby",
    }
}
