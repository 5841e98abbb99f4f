//! How often the intervals of `fit` hold the truth, over simulated logs of nine designs.
//!
//! `cargo run --release --example fit_coverage -- [LOGS] [SEED]`. A figure counts where `fit` prints it. It fails where
//! a coverage lies outside 93 to 97 % by more than chance explains once in 10 000.

#![expect(clippy::print_stdout, reason = "its output is a table")]

use std::process::ExitCode;

use halfturn::fit::{DiagnosisKind, Estimate, Log, PlanStep, fit, nearest_turn, rehearse};
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
  { cycles = 3, amplitude_deg = 0, phase_deg = 100.0 },
]
solve.noise_deg = 0.02
solve.outlier_rate = 0
solve.outlier_deg = 2.0
loop.believed_sense = -1
";

/// How the moves of a log go.
#[derive(Clone, Copy)]
enum Way {
    /// To places drawn from 0 to this reading \[deg\].
    Random(f64),
    /// Once up and once down over the turn.
    Sweep,
}

/// A kind of log: its name, what its rig has otherwise, its moves, how many of them are solved twice, and the slip
/// of the zero point halfway \[deg\].
struct Design {
    name: &'static str,
    changes: &'static [&'static str],
    way: Way,
    moves: usize,
    twice: usize,
    slip_deg: f64,
}

const PLAIN: Design = Design {
    name: "",
    changes: &[],
    way: Way::Random(360.0),
    moves: 120,
    twice: 40,
    slip_deg: 0.0,
};

const DESIGNS: [Design; 9] = [
    Design {
        name: "whole turn, 3 % outliers",
        changes: &["solve.outlier_rate=0.03"],
        ..PLAIN
    },
    Design {
        name: "three cycles a turn beside",
        changes: &["drive.periodic.2.amplitude_deg=0.15"],
        ..PLAIN
    },
    Design {
        name: "eleven cycles a turn beside",
        changes: &[
            "drive.periodic.2.amplitude_deg=0.12",
            "drive.periodic.2.cycles=11",
        ],
        ..PLAIN
    },
    Design {
        name: "2.6 cycles a turn beside",
        changes: &[
            "drive.periodic.2.amplitude_deg=0.12",
            "drive.periodic.2.cycles=2.6",
        ],
        ..PLAIN
    },
    Design {
        name: "weak periodic errors",
        changes: &[
            "drive.periodic.0.amplitude_deg=0.012",
            "drive.periodic.1.amplitude_deg=0.004",
        ],
        ..PLAIN
    },
    Design {
        name: "14 moves",
        moves: 14,
        twice: 6,
        ..PLAIN
    },
    Design {
        name: "half a turn",
        way: Way::Random(180.0),
        ..PLAIN
    },
    Design {
        name: "sweep up and down, 72 stops",
        way: Way::Sweep,
        moves: 72,
        twice: 72,
        ..PLAIN
    },
    Design {
        name: "zero point slips by 0.6°",
        slip_deg: 0.6,
        ..PLAIN
    },
];

impl Design {
    fn rig(&self) -> Rig {
        let changes: Vec<String> = self.changes.iter().map(|s| (*s).to_owned()).collect();
        read(RIG, "example", &changes).expect("the rig is valid")
    }

    fn log(&self, rig: &Rig, seed: u64, index: u64) -> Log {
        let mut rng = stream(seed, index);
        let half = self.moves / 2;
        let steps: Vec<PlanStep> = (0..self.moves)
            .map(|i| PlanStep {
                to_deg: match self.way {
                    Way::Random(most) => rng.random_range(0.0..most),
                    Way::Sweep => {
                        let up = if i < half { i } else { self.moves - 1 - i };
                        360.0 * up as f64 / half as f64 + rng.random_range(-1.0..1.0)
                    }
                },
                solves: if i < self.twice { 2 } else { 1 },
            })
            .collect();
        let mut log = rehearse(rig, &steps, &mut rng);
        let from = log.rows.len() / 2;
        for angle in log.rows[from..]
            .iter_mut()
            .flat_map(|r| &mut r.position_angle_deg)
        {
            *angle = (*angle + self.slip_deg).rem_euclid(360.0);
        }
        log
    }
}

#[derive(Default)]
struct Tally {
    name: &'static str,
    printed: u32,
    held: u32,
    errors: Vec<f64>,
    ses: Vec<f64>,
}

impl Tally {
    fn take(&mut self, found: &Estimate, truth: f64) {
        if !found.identifiable {
            return;
        }
        let (low, high) = (
            found.low.unwrap_or(f64::NAN),
            found.high.unwrap_or(f64::NAN),
        );
        self.printed += 1;
        self.held += u32::from(low <= truth && truth <= high);
        self.errors.push(found.value - truth);
        self.ses.extend(found.se);
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default| {
        arguments
            .next()
            .and_then(|a| a.parse().ok())
            .unwrap_or(default)
    };
    let (logs, seed) = (number(300_u64), number(1));
    let mut fine = true;
    for (k, design) in (1000 * seed..).zip(&DESIGNS) {
        fine &= tabled(design, logs, k);
    }
    if fine {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// Prints the table of one design. Returns whether every coverage is as it should be.
fn tabled(design: &Design, logs: u64, seed: u64) -> bool {
    let rig = design.rig();
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
        "amplitude 3",
        "phase 3",
    ];
    let mut tallies = names.map(|name| Tally {
        name,
        ..Tally::default()
    });
    let mut kinds: Vec<(DiagnosisKind, u32)> = Vec::new();
    for index in 0..logs {
        let log = design.log(&rig, seed, index);
        let found = fit(&log, s).expect("there are enough rows");
        let mut seen: Vec<DiagnosisKind> = found.diagnoses.iter().map(|d| d.kind).collect();
        seen.dedup();
        for kind in seen {
            match kinds.iter_mut().find(|(k, _)| *k == kind) {
                Some((_, count)) => *count += 1,
                None => kinds.push((kind, 1)),
            }
        }
        let p = &found.parameters;
        let on_turn = |e: &Estimate, truth| nearest_turn(truth, e.value);
        let zero = s.drive.zero_point_deg + design.slip_deg;
        let mut pairs = vec![
            (p.zero_point_deg, on_turn(&p.zero_point_deg, zero)),
            (p.gain_error, s.drive.gain_error),
            (p.backlash_deg, s.drive.backlash_deg),
            (p.repeatability_deg, s.drive.repeatability_deg),
            (p.noise_deg, s.solve.noise_deg),
            (p.outlier_rate, s.solve.outlier_rate),
        ];
        for h in found.periodic.iter().take(3) {
            let truth = s.drive.periodic.iter();
            let truth = truth.copied().find(|t| t.cycles == f64::from(h.cycles));
            let (amplitude, phase) =
                truth.map_or((0.0, f64::NAN), |t| (t.amplitude_deg, t.phase_deg));
            pairs.push((h.amplitude_deg, amplitude));
            pairs.push((h.phase_deg, on_turn(&h.phase_deg, phase)));
        }
        for (tally, (estimate, truth)) in tallies.iter_mut().zip(pairs) {
            tally.take(&estimate, truth);
        }
    }
    println!("\n{} ({logs} logs)", design.name);
    println!(
        "{:<14} {:>8} {:>9} {:>11} {:>11} {:>9}",
        "", "printed", "coverage", "mean se", "sd", "bias / sd"
    );
    let mut fine = true;
    for t in tallies.iter().filter(|t| t.printed > 0) {
        let n = f64::from(t.printed);
        let bias = mean(&t.errors);
        let sd = (t.errors.iter().map(|e| (e - bias).powi(2)).sum::<f64>() / n).sqrt();
        let coverage = f64::from(t.held) / n;
        // Beyond 93 to 97 % by chance once in 10 000.
        let slack = 3.72 * (0.95 * 0.05 / n).sqrt() + 0.5 / n;
        // A rate of 0 is the end of its range, and every interval holds it.
        let bound = t.name == "outlier rate" && s.solve.outlier_rate == 0.0;
        let good = coverage > 0.93 - slack && (coverage < 0.97 + slack || bound);
        fine &= good;
        println!(
            "{:<14} {:>7.0}% {:>8.1}% {:>11.3e} {sd:>11.3e} {:>9.3}{}",
            t.name,
            100.0 * n / logs as f64,
            100.0 * coverage,
            mean(&t.ses),
            bias / sd,
            if good { "" } else { "  *" }
        );
    }
    println!("logs with findings: {kinds:?}");
    fine
}
