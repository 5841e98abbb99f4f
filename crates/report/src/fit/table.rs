//! The result of `fit` as text.

use std::fmt::Write as _;

use crate::table::{lines, table};
use halfturn_engine::fit::{Estimate, Fit};
use halfturn_engine::rig::Sense;

/// Estimates with their intervals, and the findings.
#[must_use]
pub fn fit_table(name: &str, fit: &Fit) -> String {
    let used = fit.rows.iter().filter(|r| r.used).count();
    let mut out = format!(
        "{name}: {} rows, {} solved, {used} used\nsense {}{}\n\n",
        fit.row_count,
        fit.rows.len(),
        match fit.sense {
            Sense::Same => "1: the position angle grows with the reading",
            Sense::Reversed => "-1: the position angle falls as the reading grows",
        },
        if fit.sense_identifiable {
            ""
        } else {
            " (the log does not tell)"
        },
    );
    let mut table = table(&["", "estimate", "std. error", "95 % from", "to", "unit", ""]);
    let p = &fit.parameters;
    let mut row = |label: &str, e: &Estimate, unit: &str| {
        let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| digits(x, e.se));
        table.add_row([
            label.to_owned(),
            number(Some(e.value)),
            e.se.map_or_else(|| "-".to_owned(), |se| format!("{se:.2e}")),
            number(e.low),
            number(e.high),
            unit.to_owned(),
            if e.identifiable {
                ""
            } else {
                "not identifiable"
            }
            .to_owned(),
        ]);
    };
    row("zero point", &p.zero_point_deg, "deg");
    row("gain error", &p.gain_error, "");
    row("play", &p.backlash_deg, "deg");
    for h in &fit.periodic {
        row(
            &format!("periodic, {} a turn", h.cycles),
            &h.amplitude_deg,
            "deg",
        );
        row("  its phase", &h.phase_deg, "deg");
    }
    row("seating, 1 sigma", &p.repeatability_deg, "deg");
    row("solve noise, 1 sigma", &p.noise_deg, "deg");
    row("outliers", &p.outlier_rate, "share");
    row("step", &p.step_deg, "deg");
    out.push_str(&lines(table, &[0, 5, 6]));
    if fit.diagnoses.is_empty() {
        out.push_str("\nNothing wrong is found.\n");
    } else {
        out.push_str("\nFindings:\n");
    }
    for d in &fit.diagnoses {
        let kind = serde_json::to_value(d.kind).expect("a kind is a name");
        let kind = kind.as_str().expect("a kind is a name");
        let row = d.row.map_or_else(String::new, |r| format!(", row {r}"));
        let parameter = d.parameter.map_or_else(String::new, |p| format!(" ({p})"));
        let _ = writeln!(out, "- {kind}{parameter}{row}: {}.", d.evidence);
    }
    out
}

/// A number with as many decimals as its standard error makes sense of.
fn digits(x: f64, se: Option<f64>) -> String {
    let se = se.filter(|se| *se > 0.0).unwrap_or(1e-4);
    let decimals = (1.0 - libm::log10(se).floor()).clamp(0.0, 8.0) as usize;
    format!("{x:.decimals$}")
}
