//! Rigs that the tests share.

use halfturn_engine::rig::{Rig, read};
use halfturn_engine::run::{Figures, Trace, TraceRow, run};
use halfturn_engine::sample::{Batch, Unattended, run_batch, stream};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::tally::Tally;

/// A rig without any error: the park is 90 deg, the arc a half circle from 0.
const PERFECT: &[&str] = &[
    "drive.step_deg=0",
    "drive.backlash_deg=0",
    "drive.repeatability_deg=0",
    "drive.zero_point_sigma_deg=0",
    "solve.noise_deg=0",
];

/// The perfect rig with some keys set.
pub(crate) fn perfect(changes: &[&str]) -> Rig {
    let overrides: Vec<String> = PERFECT
        .iter()
        .chain(changes)
        .map(|s| (*s).to_owned())
        .collect();
    read("", "test", &overrides).unwrap_or_else(|e| panic!("{e}"))
}

/// One run, written down.
pub(crate) fn traced(rig: &Rig, target_deg: f64) -> (Figures, Vec<TraceRow>) {
    let scenario = Scenario::new(rig, Policy::of(rig), target_deg);
    let mut trace = Trace::default();
    let figures = run(
        &scenario,
        &mut scenario.controller(),
        &mut stream(1, 0),
        &mut trace,
    );
    (figures, trace.rows().to_vec())
}

/// Many runs.
pub(crate) fn tallied(rig: &Rig, target_deg: f64, trials: u64, seed: u64) -> Tally {
    let scenario = Scenario::new(rig, Policy::of(rig), target_deg);
    run_batch(&scenario, Batch { trials, seed }, &Unattended)
}

/// Whether a count agrees with a probability at a critical value of `z` standard deviations.
pub(crate) fn agrees(count: u64, trials: u64, probability: f64, z: f64) -> bool {
    let n = trials as f64;
    let sd = (n * probability * (1.0 - probability)).sqrt();
    (count as f64 - n * probability).abs() <= z * sd + 0.5
}
