//! A wrap rule under test in Rust, without any crate: all test vectors that fail are named, and the judge is one more.
//!
//! halfturn vectors > wrap-vectors.csv; then rustc --test examples/tests/wrap.rs && ./wrap

use std::collections::HashMap;
use std::process::Command;

fn setting(name: &str, otherwise: &str) -> String {
    std::env::var(name).unwrap_or_else(|_| otherwise.to_owned())
}

/// Your function stands here. This one is the hysteresis band.
fn command(correction: bool, wanted: f64, start: f64, period: f64, band: f64, endless: bool) -> f64 {
    let centre = start + period / 2.0;
    let wanted = match endless {
        true => centre + 180.0 - (180.0 - (wanted - centre)).rem_euclid(360.0),
        false => wanted,
    };
    let band = if correction { band } else { 0.0 };
    if (start - band..start + period + band).contains(&wanted) {
        return wanted;
    }
    let folded = start + (wanted - start).rem_euclid(period);
    if folded < start + period { folded } else { start }
}

#[test]
fn vectors() {
    let text = std::fs::read_to_string(setting("WRAP_VECTORS", "wrap-vectors.csv")).unwrap();
    let mut lines = text.lines().map(|line| line.split(','));
    let names: Vec<&str> = lines.next().unwrap().collect();
    let rows = lines.map(|line| names.iter().copied().zip(line).collect::<HashMap<_, _>>());
    let (mut played, mut wrong) = (0, Vec::new());
    for row in rows.filter(|row| row["rule"] == "hysteresis-band") {
        let number = |key: &str| row[key].parse::<f64>().unwrap();
        let (wanted, start, period) = (number("wanted_deg"), number("arc_start_deg"), number("period_deg"));
        let (correction, endless) = (row["correction"] == "true", row["travel"] == "endless");
        let got = command(correction, wanted, start, period, number("band_deg"), endless);
        let mut off = (got - number("command_deg")).abs();
        if row["edge"] == "true" {
            off = off.min((off - period).abs()); // the other of two equivalent angles
        }
        played += 1;
        if off > 1e-9 {
            wrong.push(row["id"].to_owned());
        }
    }
    assert!(played > 2000 && wrong.is_empty(), "{played} vectors, wrong: {wrong:?}");
}

#[test]
fn judge() {
    let judge = ["judge", "--rule", "hysteresis-band", "--scenarios", "300", "--"];
    let controller = setting("CONTROLLER", "target/debug/examples/judged_correct");
    let halfturn = setting("HALFTURN", "halfturn");
    let done = Command::new(halfturn).args(judge).arg(controller).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stdout));
}
