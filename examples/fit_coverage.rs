//! How often the intervals of `fit` hold the truth, and how far its estimates are off on average, over simulated logs.
//!
//! `cargo run --release --example fit_coverage -- [LOGS] [SEED]`. It fails where a coverage lies outside the limits
//! that the binomial distribution allows with a false alarm once in a thousand for the whole table, or a mean error is
//! above a tenth of the standard error by more than chance explains.

#![expect(clippy::print_stdout, reason = "its output is a table")]

use std::process::ExitCode;

use halfturn::fit::{Estimate, PlanStep, fit, nearest_turn, rehearse};
use halfturn::rig::{Rig, read};
use halfturn::sample::stream;
use rand::RngExt as _;

/// An invented rig: every error is there, none at the end of its range.
const RIG: &str = r"
drive.step_deg = 0.02
drive.backlash_deg = 0.23
drive.repeatability_deg = 0.025
drive.gain_error = 0.0012
drive.zero_point_deg = 359.98
drive.zero_point_sigma_deg = 0
drive.sense = -1
drive.periodic = [
  { cycles = 1, amplitude_deg = 0.12, phase_deg = 40.0 },
  { cycles = 2, amplitude_deg = 0.05, phase_deg = 290.0 },
]
solve.noise_deg = 0.02
solve.outlier_rate = 0.03
solve.outlier_deg = 2.0
loop.believed_sense = -1
";

/// Moves of a log, and how many of them are solved twice.
const MOVES: usize = 120;
const TWICE: usize = 40;

#[derive(Default)]
struct Tally {
    name: &'static str,
    held: u32,
    errors: Vec<f64>,
    ses: Vec<f64>,
}

impl Tally {
    fn take(&mut self, found: &Estimate, truth: f64) {
        let (low, high) = (
            found.low.unwrap_or(f64::NAN),
            found.high.unwrap_or(f64::NAN),
        );
        self.held += u32::from(low <= truth && truth <= high);
        self.errors.push(found.value - truth);
        self.ses.push(found.se.unwrap_or(f64::NAN));
    }
}

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default| {
        arguments
            .next()
            .and_then(|a| a.parse().ok())
            .unwrap_or(default)
    };
    let (logs, seed) = (number(1000_u64), number(1));
    let rig: Rig = read(RIG, "example", &[]).expect("the rig is valid");
    let s = rig.settings();
    let names = [
        "zero point",
        "gain error",
        "backlash",
        "repeatability",
        "noise",
        "outlier rate",
        "amplitude 1",
        "phase 1",
        "amplitude 2",
        "phase 2",
    ];
    let mut tallies = names.map(|name| Tally {
        name,
        ..Tally::default()
    });
    let mut diagnosed = 0;
    for index in 0..logs {
        let mut rng = stream(seed, index);
        let steps: Vec<PlanStep> = (0..MOVES)
            .map(|i| PlanStep {
                to_deg: rng.random_range(0.0..360.0),
                solves: if i < TWICE { 2 } else { 1 },
            })
            .collect();
        let log = rehearse(&rig, &steps, &mut rng);
        let found = fit(&log, s).expect("there are enough rows");
        diagnosed += u32::from(
            found
                .diagnoses
                .iter()
                .any(|d| d.kind != halfturn::fit::DiagnosisKind::Outliers),
        );
        let p = &found.parameters;
        let on_turn = |e: &Estimate, truth| nearest_turn(truth, e.value);
        let zero = on_turn(&p.zero_point_deg, s.drive.zero_point_deg);
        let [h1, h2] = [0, 1].map(|k| &found.periodic[k]);
        let [t1, t2] = [0, 1].map(|k| s.drive.periodic[k]);
        let pairs = [
            (p.zero_point_deg, zero),
            (p.gain_error, s.drive.gain_error),
            (p.backlash_deg, s.drive.backlash_deg),
            (p.repeatability_deg, s.drive.repeatability_deg),
            (p.noise_deg, s.solve.noise_deg),
            (p.outlier_rate, s.solve.outlier_rate),
            (h1.amplitude_deg, t1.amplitude_deg),
            (h1.phase_deg, on_turn(&h1.phase_deg, t1.phase_deg)),
            (h2.amplitude_deg, t2.amplitude_deg),
            (h2.phase_deg, on_turn(&h2.phase_deg, t2.phase_deg)),
        ];
        for (tally, (estimate, truth)) in tallies.iter_mut().zip(pairs) {
            tally.take(&estimate, truth);
        }
    }
    println!(
        "{:<14} {:>9} {:>12} {:>12} {:>10}",
        "", "coverage", "mean se", "sd", "bias / sd"
    );
    let mut fine = true;
    let n = logs as f64;
    for t in &tallies {
        let mean = t.errors.iter().sum::<f64>() / n;
        let sd = (t.errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / n).sqrt();
        let se = t.ses.iter().sum::<f64>() / n;
        let coverage = f64::from(t.held) / n;
        let bias = mean / sd;
        println!(
            "{:<14} {:>8.1}% {se:>12.3e} {sd:>12.3e} {bias:>10.3}",
            t.name,
            100.0 * coverage
        );
        // Two-sided 1e-4 for each of ten: 3.89 deviations.
        let limit = 3.89 * (0.95 * 0.05 / n).sqrt() + 0.5 / n;
        fine &= coverage > 0.95 - limit && bias.abs() < 0.1 + 3.89 / n.sqrt();
    }
    println!("logs with a finding other than outliers: {diagnosed} of {logs}");
    if fine {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
