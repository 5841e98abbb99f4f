//! A correct controller for `halfturn judge`, in Rust: the first move folds into the arc, a correction folds only
//! beyond the band. Run: halfturn judge -- target/debug/examples/judged_correct

use std::io::Write;

use serde_json::{Value, json};

fn number(event: &Value, key: &str) -> f64 {
    event[key].as_f64().unwrap_or(f64::NAN)
}

/// Into `(-period/2, +period/2]`.
fn residual(angle: f64, period: f64) -> f64 {
    period / 2.0 - (period / 2.0 - angle).rem_euclid(period)
}

fn command(told: &Value, mut wanted: f64, band: f64) -> Value {
    let start = number(told, "arc_start_deg");
    let width = number(told, "arc_width_deg");
    if told["travel"] == "endless" {
        let centre = start + width / 2.0; // whole turns do not matter
        wanted = centre + residual(wanted - centre, 360.0);
    }
    if !(start - band..start + width + band).contains(&wanted) {
        wanted = start + (wanted - start).rem_euclid(width);
    }
    json!({ "do": "move", "drive_deg": wanted })
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let (mut told, mut reading, mut solves) = (Value::Null, 0.0, 0.0);
    for line in std::io::stdin().lines() {
        let event: Value = serde_json::from_str(&line?)?;
        let answer = match event["event"].as_str() {
            Some("begin") => {
                (told, reading, solves) = (event.clone(), number(&event, "reading_deg"), 0.0);
                let off = number(&told, "target_deg") - number(&told, "zero_point_deg");
                command(&told, number(&told, "sense") * off, 0.0)
            }
            Some("moved") => {
                reading = number(&event, "reading_deg");
                json!({ "do": "solve" })
            }
            Some("solve-failed") => json!({ "do": "solve" }),
            Some("solved") => {
                solves += 1.0;
                let off = number(&told, "target_deg") - number(&event, "position_angle_deg");
                let error = residual(off, 360.0 / number(&told, "symmetry"));
                if error.abs() <= number(&told, "tolerance_deg") {
                    json!({ "do": "done" })
                } else if solves >= number(&told, "max_solves") {
                    json!({ "do": "give-up", "why": "no solves left" })
                } else {
                    let wanted = reading + number(&told, "sense") * error;
                    command(&told, wanted, number(&told, "band_deg"))
                }
            }
            Some("refused") => json!({ "do": "give-up", "why": event["why"] }),
            _ => break, // the end
        };
        writeln!(std::io::stdout(), "{answer}")?;
    }
    Ok(())
}
