//! The session for a human reader.

use std::fmt::Write as _;

use super::Verdict;
use crate::document::Screen;
use crate::loops::trace_document;
use crate::table::{lines, table};
use halfturn_engine::judge::FailingExample;
use halfturn_engine::wording::{degrees, grouped};

/// The session as tables; `elapsed_s` is what it took.
#[must_use]
pub fn judge_table(verdict: &Verdict, elapsed_s: f64) -> String {
    let session = &verdict.session;
    let played = session.judged.len();
    let mut out = format!(
        "judged: {}\nrig: {}, seed {}, {} scenarios in {:.1} s ({:.0} a second)\n\n",
        verdict.command.join(" "),
        verdict.rig,
        verdict.seed,
        grouped(played as u64),
        elapsed_s,
        played as f64 / elapsed_s.max(1e-9),
    );
    let mut families = table(&["family", "scenarios", "failed"]);
    for (family, (all, failed)) in session.by_family() {
        families.add_row([family.to_string(), all.to_string(), failed.to_string()]);
    }
    out.push_str(&lines(families, &[0]));
    let broken = session.by_property();
    if !broken.is_empty() {
        out.push('\n');
        let mut properties = table(&["property", "failed", "first in", "what happened there"]);
        for (property, (count, first)) in &broken {
            let judged = &session.judged[*first];
            let detail = judged.failures.iter().find(|f| f.property == *property);
            properties.add_row([
                property.to_string(),
                count.to_string(),
                format!("{} {}", first + 1, judged.case.family),
                detail.map_or_else(String::new, |f| f.detail.clone()),
            ]);
        }
        out.push_str(&lines(properties, &[0, 2, 3]));
        out.push('\n');
        for property in broken.keys() {
            let _ = writeln!(out, "{property}: {}", property.why());
        }
    }
    for (i, example) in verdict.examples.iter().enumerate() {
        // One scenario often shows two failures.
        let shown = verdict.examples[..i]
            .iter()
            .find(|e| e.case == example.case);
        match shown {
            Some(first) => {
                let (this, that) = (example.property, first.property);
                let _ = writeln!(out, "\n--- {this}: the same scenario as for {that}");
            }
            None => {
                out.push('\n');
                out.push_str(&example_table(example));
            }
        }
    }
    let _ = writeln!(
        out,
        "\n{}: {} of {} scenarios failed{}",
        if session.passed() { "PASS" } else { "FAIL" },
        grouped(session.failed() as u64),
        grouped(played as u64),
        if session.left_out > 0 {
            format!(", {} not played", grouped(session.left_out as u64))
        } else {
            String::new()
        }
    );
    if let Some(why) = &session.ended {
        let _ = writeln!(out, "the session ended early: {why}");
    }
    out
}

/// The simplest failing scenario found for a property, move by move.
#[must_use]
pub fn example_table(example: &FailingExample) -> String {
    let case = &example.case;
    let mut out = format!(
        "--- {}: scenario {}, family {}",
        example.property,
        example.number + 1,
        case.family
    );
    if example.reproduced && example.tries > 1 {
        let _ = writeln!(out, ", made simpler in {} tries", example.tries);
    } else if example.reproduced {
        out.push('\n');
    } else {
        out.push_str(
            ", as it was; played alone with the controller begun anew it does not fail, so that it depends on what went before\n",
        );
    }
    for failure in &example.played.failures {
        let _ = writeln!(out, "{}: {}", failure.property, failure.detail);
    }
    if let Ok(scenario) = case.scenario() {
        let brief = scenario.brief();
        let _ = writeln!(
            out,
            "told: zero point {} deg, sense {}, symmetry {}, band {} deg, start {} deg, at most {} solves",
            degrees(brief.zero_point_deg),
            brief.sense,
            brief.symmetry,
            degrees(brief.band_deg),
            degrees(brief.reading_deg),
            brief.max_solves
        );
        let _ = writeln!(out, "true: {}", truth(example));
        let rows = example.played.trace.rows();
        let played = trace_document("", &scenario, &example.played.figures, rows);
        out.push_str(&played.text(Screen::default()));
    }
    out
}

/// What the rig has that the controller does not know.
fn truth(example: &FailingExample) -> String {
    let case = &example.case;
    let (d, s) = (&case.rig.drive, &case.rig.solve);
    let mut parts = Vec::new();
    let mut say = |there: bool, text: String| {
        if there {
            parts.push(text);
        }
    };
    let deg = degrees;
    let zero = case.zero_error_deg;
    say(zero != 0.0, format!("zero point off by {} deg", deg(zero)));
    say(case.wrong_sense(), "sense reversed".to_owned());
    say(d.step_deg != 0.0, format!("step {} deg", deg(d.step_deg)));
    say(
        d.backlash_deg != 0.0,
        format!("play {} deg", deg(d.backlash_deg)),
    );
    let seating = d.repeatability_deg;
    say(seating != 0.0, format!("seating {} deg", deg(seating)));
    say(d.gain_error != 0.0, format!("gain error {}", d.gain_error));
    for p in &d.periodic {
        say(
            true,
            format!(
                "periodic {} deg, {} a turn, phase {} deg",
                deg(p.amplitude_deg),
                p.cycles,
                deg(p.phase_deg)
            ),
        );
    }
    say(
        s.noise_deg != 0.0,
        format!("noise {} deg", deg(s.noise_deg)),
    );
    say(s.bias_deg != 0.0, format!("bias {} deg", deg(s.bias_deg)));
    let failing = &case.failing_attempts;
    say(
        !failing.is_empty(),
        format!("{} attempts fail", failing.len()),
    );
    if let Some(n) = case.flip_after_solves {
        say(
            true,
            format!("the zero point turns by 180 deg after solve {n}"),
        );
    }
    for k in &case.rig.keep_out {
        say(
            true,
            format!("keep-out from {} to {} deg", deg(k.from_deg), deg(k.to_deg)),
        );
    }
    if parts.is_empty() {
        "as told, without any error".to_owned()
    } else {
        parts.join(", ")
    }
}
