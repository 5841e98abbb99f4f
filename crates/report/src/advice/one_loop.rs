//! The worst target's loop, move by move, now and with the advised settings.

use halfturn_engine::advise::{Advice, TraceExample};
use halfturn_engine::run::Outcome;
use halfturn_engine::wording::{angle, counted, duration, grouped};

use super::provenance::Provenance;
use crate::document::{Block, Document, Line, Span};
use crate::loops::moves;
use crate::page::player;

/// Most rows of the loop to show.
const ROWS: usize = 12;

pub(super) fn add(advice: &Advice, made: &Provenance, out: &mut Document) {
    let shown = advice.shown();
    let before = &advice.example_before;
    let tolerance_deg = before.scenario.brief().tolerance_deg;
    let mut blocks = vec![
        Block::Para(seen(advice).into()),
        Block::OnPage(player(advice).into_string()),
        Block::Figure(
            "loop-before",
            "The loop with the present settings.".to_owned(),
        ),
    ];
    let mut details = vec![
        Block::Table(moves(before.trace.rows(), tolerance_deg, ROWS)),
        Block::Para(replay(before, made, "")),
    ];
    if !advice.changes.is_empty() {
        let after = &advice.example_after;
        let ends = format!("With the advised settings the same run {}.", ending(after));
        blocks.push(Block::Para(ends.into()));
        details.push(Block::Figure(
            "loop-after",
            "The same run with the advised settings.".to_owned(),
        ));
        details.push(Block::Para(replay(after, made, &settings(advice))));
    }
    blocks.push(Block::folded("moves", "Moves and solves", details));
    let title = format!("One loop: {}", shown.name);
    out.add(Block::open("loop", title, blocks));
}

/// What the present loop shows, in a sentence.
fn seen(advice: &Advice) -> String {
    let example = &advice.example_before;
    let figures = &example.figures;
    let run = format!(
        "Run {} of {}",
        grouped(example.trial),
        grouped(advice.request.batch.trials)
    );
    if !figures.hunting() {
        return format!("{run} {}.", ending(example));
    }
    let rig = advice.rig.settings();
    // A loop that answers with the wrong sign, or too strongly, makes its own errors.
    let own_making = rig.loop_.believed_sense != rig.drive.sense || rig.loop_.correction > 1.0;
    let why = if own_making {
        "Its corrections themselves enlarge the error, so it comes back after each swing"
    } else {
        "The errors at the two ends of the arc differ, so each swing brings back the error that it came to remove"
    };
    format!(
        "{run} is the first one that hunts. A correction that leaves the arc is sent to the other end, {} away, \
         because that frames the same field. {why}{}. The run {}.",
        angle(example.scenario.brief().arc_width_deg),
        residuals(example),
        ending(example)
    )
}

/// The residuals after the first two long swings.
fn residuals(example: &TraceExample) -> String {
    let rows = example.trace.rows().iter().filter(|row| row.long_swing);
    let after: Vec<f64> = rows
        .filter_map(|row| Some(row.solved?.residual_deg))
        .take(2)
        .collect();
    let signed = |deg: f64| format!("{}{}", if deg > 0.0 { "+" } else { "" }, angle(deg));
    match after.as_slice() {
        [first, second] => format!(
            ": {} after the first swing, {} after the second, with a tolerance of {}",
            signed(*first),
            signed(*second),
            angle(example.scenario.brief().tolerance_deg)
        ),
        _ => String::new(),
    }
}

/// How a run ends, to stand after "the run".
fn ending(example: &TraceExample) -> String {
    let figures = &example.figures;
    let solves = match figures.solves {
        0 => "no good solve".to_owned(),
        n => counted(n as usize, "solve"),
    };
    let what = match figures.outcome {
        Outcome::Settled => format!("settles after {solves}"),
        Outcome::Unsettled => format!("gives up after {solves}"),
        Outcome::Unsolved => format!(
            "ends without a solution, after {solves} and {}",
            counted(figures.failed_attempts as usize, "failed attempt")
        ),
        Outcome::Refused if figures.solves == 0 => {
            return "ends at once: its first command lies outside the stops and is refused"
                .to_owned();
        }
        Outcome::Refused => format!("ends after {solves} on a command outside the stops"),
        Outcome::GaveUp | Outcome::Faulty => format!("ends after {solves}"),
    };
    format!(
        "{what}, {} and {} of turning",
        duration(figures.elapsed_s),
        angle(figures.travel_deg.round())
    )
}

/// The changed keys as options of the command line.
fn settings(advice: &Advice) -> String {
    let one = |c: &halfturn_engine::rig::KeyDifference| {
        let value = match &c.to {
            Some(toml::Value::String(text)) => text.clone(),
            Some(other) => other.to_string(),
            None => return String::new(),
        };
        format!(" --set {}={value}", c.key)
    };
    advice.changes.iter().map(one).collect()
}

/// The command that shows a run.
fn replay(example: &TraceExample, made: &Provenance, settings: &str) -> Line {
    Line::new("See it again: ").with(Span::Code(format!(
        "{}{settings} --target {} --trial {}",
        made.trace_command,
        example.scenario.brief().target_deg,
        example.trial
    )))
}
