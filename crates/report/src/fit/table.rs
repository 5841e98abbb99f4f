//! The result of `fit` for a reader.

use crate::document::{Block, Column, Document, Line, Table};
use crate::figures::UNKNOWN;
use halfturn_engine::fit::{Estimate, Fit};
use halfturn_engine::rig::Sense;

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
    let sense = match fit.sense {
        Sense::Same => "1: the position angle grows with the reading",
        Sense::Reversed => "-1: the position angle falls as the reading grows",
    };
    let sure = if fit.sense_identifiable {
        ""
    } else {
        " (the log does not show it)"
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
        let number = |x: Option<f64>| x.map_or_else(|| UNKNOWN.to_owned(), |x| digits(x, e.se));
        // A parameter that the log does not tell has no figure.
        let known = |x: Option<f64>| number(x.filter(|_| e.identifiable));
        let se = e.se.filter(|_| e.identifiable);
        table.row([
            label.to_owned(),
            known(Some(e.value)),
            se.map_or_else(|| UNKNOWN.to_owned(), |se| format!("{se:.2e}")),
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
            &format!("periodic error, {} a turn", h.cycles),
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
    if fit.diagnoses.is_empty() {
        out.para("Nothing wrong was found.");
        return out;
    }
    out.para("Findings:");
    let findings = fit.diagnoses.iter().map(|d| {
        let kind = serde_json::to_value(d.kind).expect("a kind is a name");
        let kind = kind.as_str().expect("a kind is a name").to_owned();
        let row = d.row.map_or_else(String::new, |r| format!(", row {r}"));
        let parameter = d.parameter.map_or_else(String::new, |p| format!(" ({p})"));
        Line::new(format!("{kind}{parameter}{row}: {}.", d.evidence))
    });
    out.add(Block::Items(findings.collect()));
    out
}

/// A number with as many decimals as its standard error justifies.
fn digits(x: f64, se: Option<f64>) -> String {
    let se = se.filter(|se| *se > 0.0).unwrap_or(1e-4);
    let decimals = (1.0 - libm::log10(se).floor()).clamp(0.0, 8.0) as usize;
    format!("{x:.decimals$}")
}
