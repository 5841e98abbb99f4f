//! The result of `fit` for a reader.

use crate::document::{Block, Column, Document, Line, Table};
use crate::figures::UNKNOWN;
use halfturn_engine::fit::{Diagnosis, DiagnosisKind, Estimate, Fit};
use halfturn_engine::rig::Sense;
use halfturn_engine::wording::in_a_turn;

/// Estimates with their intervals, and the findings.
#[must_use]
pub fn fit_document(name: &str, fit: &Fit) -> Document {
    let used = fit.rows.iter().filter(|r| r.used).count();
    let mut out = Document::new();
    out.para(format!(
        "{name}: {} rows, {} solved, {used} used",
        fit.row_count,
        fit.rows.len()
    ));
    say(&mut out, fit, "What happened:", false);
    let sense = match fit.sense {
        Sense::Same => "1: the position angle grows with the reading",
        Sense::Reversed => "-1: the position angle falls as the reading grows",
    };
    let sure = if fit.sense_identifiable {
        ""
    } else {
        " (a guess: the log does not show it)"
    };
    out.para(format!("sense {sense}{sure}"));
    let mut table = Table::new(
        "",
        vec![
            Column::words(""),
            Column::numbers("estimate", ""),
            Column::numbers("std. error", ""),
            Column::numbers("95 % from", ""),
            Column::numbers("to", ""),
            Column::words("unit"),
            Column::words(""),
        ],
    );
    let p = &fit.parameters;
    let mut row = |label: &str, e: &Estimate, unit: &str| {
        let decimals = decimals(e);
        // A parameter that the log does not tell has no figure.
        let known = |x: Option<f64>| {
            let x = x.filter(|_| e.identifiable);
            x.map_or_else(|| UNKNOWN.to_owned(), |x| format!("{x:.decimals$}"))
        };
        table.row([
            label.to_owned(),
            known(Some(e.value)),
            // An error that shows as 0 is none.
            known(e.se.filter(|se| *se > 1e-7)),
            known(e.low),
            known(e.high),
            unit.to_owned(),
            if e.identifiable {
                ""
            } else {
                "the log does not show it"
            }
            .to_owned(),
        ]);
    };
    row("zero point", &p.zero_point_deg, "°");
    row("gain error", &p.gain_error, "");
    row("backlash", &p.backlash_deg, "°");
    for h in &fit.periodic {
        row(
            &format!("periodic error, {}", in_a_turn(h.cycles)),
            &h.amplitude_deg,
            "°",
        );
        row("  its phase", &h.phase_deg, "°");
    }
    row("repeatability, 1 sigma", &p.repeatability_deg, "°");
    row("solve noise, 1 sigma", &p.noise_deg, "°");
    row("outliers", &p.outlier_rate, "share");
    row("step", &p.step_deg, "°");
    out.add(Block::Table(table));
    if p.zero_point_deg.identifiable {
        out.para(format!(
            "If the log is from your rig, give your control program this zero point too: {:.2$}°, sense {}. The advice holds only where both use the same.",
            p.zero_point_deg.value,
            fit.sense.factor(),
            decimals(&p.zero_point_deg),
        ));
    }
    if fit.diagnoses.is_empty() {
        out.para("The log shows nothing wrong.");
    }
    say(&mut out, fit, "What the log does not show:", true);
    out
}

/// Adds the findings about what the log does not show, or the others.
fn say(out: &mut Document, fit: &Fit, heading: &str, missing: bool) {
    let found = findings(fit).into_iter();
    let found = found.filter(|d| (d.kind == DiagnosisKind::NotIdentifiable) == missing);
    let lines = found.map(|d| {
        let kind = serde_json::to_value(d.kind).expect("a kind is a name");
        let kind = kind.as_str().expect("a kind is a name").to_owned();
        let row = d.rows().map_or_else(String::new, |r| format!(", {r}"));
        let same = fit.diagnoses.iter().filter(|o| o.evidence == d.evidence);
        let parameters: Vec<&str> = same.filter_map(|o| o.parameter).collect();
        let parameter = match parameters.as_slice() {
            [] => String::new(),
            names => format!(" ({})", names.join(", ")),
        };
        Line::new(format!("{kind}{parameter}{row}: {}.", d.evidence))
    });
    let lines: Vec<Line> = lines.collect();
    if !lines.is_empty() {
        out.para(heading);
        out.add(Block::Items(lines));
    }
}

/// The findings, those with the same words once.
pub(super) fn findings(fit: &Fit) -> Vec<&Diagnosis> {
    let mut found: Vec<&Diagnosis> = Vec::new();
    for d in &fit.diagnoses {
        if !found.iter().any(|o| o.evidence == d.evidence) {
            found.push(d);
        }
    }
    found
}

/// Decimals that show two digits of the standard error, or of a quarter of the interval where there is none.
pub(super) fn decimals(e: &Estimate) -> usize {
    let quarter = 0.5 * e.half_width();
    let se = e.se.filter(|se| *se > 0.0).unwrap_or(quarter);
    // A step is exact: four decimals do.
    let se = if se > 1e-7 && se.is_finite() {
        se
    } else {
        1e-3
    };
    (1.0 - libm::log10(se).floor()).clamp(0.0, 8.0) as usize
}
