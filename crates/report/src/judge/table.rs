//! A session for a reader.

use super::Verdict;
use super::margin::margin_document;
use crate::document::{Block, Column, Document, Line, Table};
use crate::loops::trace_document;
use halfturn_engine::judge::{Case, Coverage, FailingExample, Pair, Played};
use halfturn_engine::wording::{angle, grouped};

/// Whether the session passed, and what failed. `elapsed_s` is the time that it took.
#[must_use]
pub fn judge_document(verdict: &Verdict, elapsed_s: f64) -> Document {
    let session = &verdict.session;
    let played = session.judged.len();
    let mut out = Document::new();
    out.para(format!("judged: {}", verdict.command.join(" ")));
    out.para(format!(
        "rig: {}, seed {}, {} scenarios in {elapsed_s:.1} s ({:.0} a second)",
        verdict.rig,
        verdict.seed,
        grouped(played as u64),
        played as f64 / elapsed_s.max(1e-9),
    ));
    let columns = [("scenarios", ""), ("failed", "")];
    let mut families = Table::new("", vec![Column::words("family")]);
    families
        .columns
        .extend(columns.map(|(name, unit)| Column::numbers(name, unit)));
    for (family, (all, failed)) in session.by_family() {
        families.row([family.to_string(), all.to_string(), failed.to_string()]);
    }
    out.add(Block::Table(families));
    let broken = session.by_property();
    if !broken.is_empty() {
        let mut properties = Table::new(
            "",
            vec![
                Column::words("property"),
                Column::numbers("failed", ""),
                Column::words("first in"),
                Column::words("what happened there"),
            ],
        );
        for (property, (count, first)) in &broken {
            let judged = &session.judged[*first];
            let detail = judged.failures.iter().find(|f| f.property == *property);
            properties.row([
                property.to_string(),
                count.to_string(),
                format!("{} {}", first + 1, judged.case.family),
                detail.map_or_else(String::new, |f| f.detail.clone()),
            ]);
        }
        out.add(Block::Table(properties));
        let why = broken.keys().map(|p| (p.to_string(), Line::new(p.why())));
        out.add(Block::Facts(why.collect()));
    }
    for (i, example) in verdict.examples.iter().enumerate() {
        // One scenario often shows two failures.
        let mut earlier = verdict.examples[..i].iter();
        match earlier.find(|e| e.case == example.case) {
            Some(first) => out.add(Block::Heading(
                "",
                format!(
                    "{}: the same scenario as for {}",
                    example.property, first.property
                ),
            )),
            None => out.0.extend(example_document(example).0),
        }
    }
    if let Some(margin) = &verdict.margin {
        out.0.extend(margin_document(margin).0);
    }
    // A single scenario is played for itself.
    if played > 1 {
        out.add(coverage_table(&session.coverage));
    }
    let left_out = match session.left_out {
        0 => String::new(),
        n => format!(", {} not played", grouped(n as u64)),
    };
    out.add(Block::Lead(
        format!(
            "{}: {} of {} scenarios failed{left_out}",
            if session.passed() { "PASS" } else { "FAIL" },
            grouped(session.failed() as u64),
            grouped(played as u64),
        )
        .into(),
    ));
    if let Some(why) = &session.ended {
        out.para(format!("The session ended early: {why}"));
    }
    out
}

/// How many pairs of circumstances the session met.
fn coverage_table(coverage: &Coverage) -> Block {
    let pairs = coverage.pairs();
    let mut table = Table::new(
        "",
        vec![
            Column::words("situations with"),
            Column::numbers("met", ""),
            Column::numbers("of", ""),
            Column::numbers("share", "%"),
            Column::words("first left out"),
        ],
    );
    let all = Coverage::circumstances().map(Some).chain([None]);
    for circumstance in all {
        let of = |p: &&Pair| circumstance.is_none_or(|c| p.circumstances.contains(&c));
        let some: Vec<&Pair> = pairs.iter().filter(of).collect();
        let met = some.iter().filter(|p| p.met).count();
        let left_out = some.iter().find(|p| !p.met);
        table.row([
            circumstance.unwrap_or("all").to_owned(),
            met.to_string(),
            some.len().to_string(),
            format!(
                "{:.0}",
                (100.0 * met as f64 / some.len().max(1) as f64).floor()
            ),
            left_out.map_or_else(String::new, ToString::to_string),
        ]);
    }
    Block::Table(table)
}

/// The simplest failing scenario found for a property, move by move.
pub(super) fn example_document(example: &FailingExample) -> Document {
    let case = &example.case;
    let found = match (example.reproduced, example.tries) {
        (true, 2..) => format!(", simplified in {} tries", example.tries),
        (true, _) => String::new(),
        (false, _) => ", as it was".to_owned(),
    };
    let mut out = Document::new();
    out.add(Block::Heading(
        "",
        format!(
            "{}: scenario {}, family {}{found}",
            example.property,
            example.number + 1,
            case.family
        ),
    ));
    if !example.reproduced {
        out.para("Played alone, with a fresh controller, it does not fail: it depends on earlier scenarios.");
    }
    for failure in &example.played.failures {
        out.para(format!("{}: {}", failure.property, failure.detail));
    }
    out.0.extend(run_document(case, &example.played).0);
    out
}

/// A run, move by move, with what the controller knows and what is true.
pub(super) fn run_document(case: &Case, played: &Played) -> Document {
    let mut out = Document::new();
    if let Ok(scenario) = case.scenario() {
        let brief = scenario.brief();
        let known = format!(
            "zero point {}, sense {}, symmetry {}, band {}, start {}, at most {} solves",
            angle(brief.zero_point_deg),
            brief.sense,
            brief.symmetry,
            angle(brief.band_deg),
            angle(brief.reading_deg),
            brief.max_solves
        );
        out.para(format!("the controller knows: {known}"));
        let rows = played.trace.rows();
        let about = format!("true: {}", truth(case));
        out.0
            .extend(trace_document(&about, &scenario, &played.figures, rows).0);
    }
    out
}

/// The errors of the rig that the controller does not know.
fn truth(case: &Case) -> String {
    let (d, s) = (&case.rig.drive, &case.rig.solve);
    let mut parts = Vec::new();
    let mut say = |there: bool, text: String| {
        if there {
            parts.push(text);
        }
    };
    let deg = angle;
    let zero = case.zero_error_deg;
    say(zero != 0.0, format!("zero point off by {}", deg(zero)));
    say(case.wrong_sense(), "sense reversed".to_owned());
    say(d.step_deg != 0.0, format!("step {}", deg(d.step_deg)));
    say(
        d.backlash_deg != 0.0,
        format!("backlash {}", deg(d.backlash_deg)),
    );
    let repeatability_error = d.repeatability_deg;
    say(
        repeatability_error != 0.0,
        format!("repeatability {}", deg(repeatability_error)),
    );
    say(d.gain_error != 0.0, format!("gain error {}", d.gain_error));
    for p in &d.periodic {
        say(
            true,
            format!(
                "periodic error {}, {} a turn, phase {}",
                deg(p.amplitude_deg),
                p.cycles,
                deg(p.phase_deg)
            ),
        );
    }
    say(s.noise_deg != 0.0, format!("noise {}", deg(s.noise_deg)));
    say(s.bias_deg != 0.0, format!("bias {}", deg(s.bias_deg)));
    let scripted = &case.solve_errors_deg;
    let most_deg = scripted.iter().fold(0.0_f64, |m, e| m.max(e.abs()));
    say(
        !scripted.is_empty(),
        format!("chosen errors of up to {} in every solve", deg(most_deg)),
    );
    let failing = &case.failing_attempts;
    say(
        !failing.is_empty(),
        format!("{} attempts fail", failing.len()),
    );
    if let Some(n) = case.flip_after_solves {
        say(
            true,
            format!("the zero point turns by 180° after solve {n}"),
        );
    }
    for k in &case.rig.keep_out {
        say(
            true,
            format!("keep-out from {} to {}", deg(k.from_deg), deg(k.to_deg)),
        );
    }
    if parts.is_empty() {
        "without any error".to_owned()
    } else {
        parts.join(", ")
    }
}
