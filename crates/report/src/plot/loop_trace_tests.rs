//! Loops over time: what is named, and that no input breaks the picture.

use super::super::canvas::tests::check;
use super::*;
use halfturn_engine::rig::{DEMO_RIG, read};
use halfturn_engine::run::{Trace, run};
use halfturn_engine::sample::stream;
use halfturn_engine::scenario::{Policy, Scenario};

fn setting() -> TraceSetting {
    TraceSetting {
        title: "demo rig, target 0°".to_owned(),
        arc_from_deg: 0.0,
        arc_to_deg: 180.0,
        band_deg: 0.0,
        endless: true,
        stops_deg: None,
        period_deg: 180.0,
        drive_deg: 0.0,
        tolerance_deg: 0.3,
        outcome: "settled".to_owned(),
    }
}

#[test]
fn a_simulated_run_shows_seam_target_and_swings() -> Result<(), Box<dyn std::error::Error>> {
    let set = ["loop.tolerance_deg=0.1", "drive.backlash_deg=0.0"].map(String::from);
    let rig = read(DEMO_RIG, "demo", &set)?;
    let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
    let simulated = |index| {
        let mut trace = Trace::default();
        let mut controller = scenario.controller();
        let figures = run(
            &scenario,
            &mut controller,
            &mut stream(1, index),
            &mut trace,
        );
        figures.hunting().then_some(trace)
    };
    let trace = (0..100).find_map(simulated).ok_or("no hunting")?;
    let texts = check(&loop_trace(trace.rows(), &setting()));
    for wanted in [
        "seam 0°",
        "seam 180°",
        "target 0°",
        "target 180°",
        "1",
        "time (s)",
    ] {
        assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
    }
    Ok(())
}

#[test]
fn extremes_are_drawn() {
    let texts = check(&loop_trace(&[], &setting()));
    assert!(texts.contains(&"the loop made no move".to_owned()));
    let bad = TraceSetting {
        title: "&<".repeat(300),
        arc_from_deg: f64::NAN,
        arc_to_deg: f64::INFINITY,
        band_deg: f64::NAN,
        period_deg: 1e-300,
        drive_deg: 1e300,
        tolerance_deg: 0.0,
        outcome: String::new(),
        stops_deg: Some((f64::NAN, 1e300)),
        endless: true,
    };
    let row = TraceRow {
        end_s: f64::NAN,
        via_deg: Some(f64::INFINITY),
        long_swing: true,
        refused: true,
        failed_attempts: 3,
        ..TraceRow::default()
    };
    check(&loop_trace(std::slice::from_ref(&row), &bad));
    check(&loop_trace(&vec![row; 2000], &setting()));
    check(&loop_trace(&vec![TraceRow::default(); 2000], &bad));
}
