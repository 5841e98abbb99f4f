//! A rig file with the estimates of a fit, and their intervals in comments.

use halfturn_engine::fit::{Estimate, Fit};
use halfturn_engine::rig::{Rig, commented};
use halfturn_engine::wording::in_a_turn;

use super::table::{decimals, findings};

/// The text of the rig that a fit was put into. Every key that the log influenced has a comment above it.
///
/// `log` is the name of the log.
#[must_use]
pub fn fitted_rig(rig: &Rig, fit: &Fit, log: &str) -> String {
    let mut out = format!(
        "# Fitted by halfturn fit from {} ({} rows). The comment above a key says how well the log shows it (95 % intervals).\n",
        one_line(log),
        fit.row_count
    );
    for d in findings(fit) {
        let row = d.rows().map_or_else(String::new, |r| format!("{r}: "));
        out.push_str(&format!("# Finding: {row}{}.\n", one_line(&d.evidence)));
    }
    let mut section = "";
    let text = commented(rig);
    for line in text.lines() {
        if let Some(name) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) {
            section = name;
        }
        let key = line.split_once('=').map_or("", |(key, _)| key.trim());
        for comment in comments(section, key, fit) {
            out.push_str(&format!("# {comment}\n"));
        }
        // Advice for rigs that differ from the fitted one keeps the sigma that was believed.
        if key == "zero_point_sigma_deg"
            && fit.zero_point_sigma_deg() == Some(rig.settings().drive.zero_point_sigma_deg)
        {
            out.push_str(
                "# fitted: the standard error of the zero point. Raise it when you have taken the camera off.\n",
            );
        }
        out.push_str(line);
        out.push('\n');
    }
    out
}

/// The comments of a fit on a key.
fn comments(section: &str, key: &str, fit: &Fit) -> Vec<String> {
    let p = &fit.parameters;
    let told = |e: &Estimate| vec![said(e)];
    match (section, key) {
        ("drive", "sense") if fit.sense_identifiable => vec!["fitted".to_owned()],
        ("drive", "sense") => vec!["the log does not show it".to_owned()],
        ("drive", "zero_point_deg") => told(&p.zero_point_deg),
        ("drive", "gain_error") => told(&p.gain_error),
        ("drive", "backlash_deg") => told(&p.backlash_deg),
        ("drive", "repeatability_deg") => told(&p.repeatability_deg),
        ("drive", "step_deg") => told(&p.step_deg),
        ("drive", "periodic") => fit
            .periodic
            .iter()
            .map(|h| {
                format!(
                    "{}, amplitude: {}. Phase: {}",
                    in_a_turn(h.cycles),
                    said(&h.amplitude_deg),
                    said(&h.phase_deg)
                )
            })
            .collect(),
        ("solve", "noise_deg") => told(&p.noise_deg),
        ("solve", "outlier_rate") => told(&p.outlier_rate),
        ("solve", "outlier_deg") if fit.outlier_deg.is_some() => vec!["fitted".to_owned()],
        _ => Vec::new(),
    }
}

fn said(e: &Estimate) -> String {
    let decimals = decimals(e);
    let between = |low: f64, high: f64| format!("{low:.decimals$} to {high:.decimals$}");
    match (e.low, e.high) {
        (Some(low), Some(high)) if e.identifiable => {
            format!("fitted, from {}", between(low, high))
        }
        (Some(low), Some(high)) => {
            format!("poorly known, from {}", between(low, high))
        }
        _ => "the log does not show it".to_owned(),
    }
}

/// A text on one line, as a comment needs it.
fn one_line(text: &str) -> String {
    halfturn_engine::rig::escape_controls(text)
}
