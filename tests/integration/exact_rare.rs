//! Rare events: the exact method against runs that are conditioned never to settle.
//!
//! Plain runs would have to be 1e15 to see one in a billion to three digits. Here every solve is drawn given that it is
//! rejected, and the run carries the product of the probabilities of that: the mean of the products is the
//! probability to be unsettled (conditional Monte Carlo; Asmussen & Glynn 2007, Stochastic Simulation, chapter V.4). The
//! drive and the rule are the simulator's, the loop and the draws are written here.

use halfturn_engine::angle::residual;
use halfturn_engine::exact::{Precision, solve};
use halfturn_engine::plant::{PlannedMove, Plant, Shaft};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::stream;
use halfturn_engine::scenario::{Policy, Scenario};
use rand::{Rng, RngExt};
use statrs::distribution::{ContinuousCDF, Normal};

use crate::binary::sized;
use crate::rigs::perfect;

/// Conditioned runs of each rig.
const RUNS: u64 = 100_000;

/// Two-sided error probability 6e-7 for each of the rigs.
const DEVIATIONS: f64 = 5.0;

/// A loop of one rig at one target.
struct Conditioned {
    plant: Plant,
    policy: Policy,
    target_deg: f64,
    tolerance_deg: f64,
    solves: u32,
    zero_sigma_deg: f64,
    repeatability_error_deg: f64,
    noise_deg: f64,
}

impl Conditioned {
    fn of(rig: &Rig, target_deg: f64) -> Self {
        let s = rig.settings();
        Self {
            plant: Plant::new(rig),
            policy: Policy::of(rig),
            target_deg,
            tolerance_deg: s.loop_.tolerance_deg,
            solves: s.loop_.max_solves,
            zero_sigma_deg: s.drive.zero_point_sigma_deg,
            repeatability_error_deg: s.drive.repeatability_deg,
            noise_deg: s.solve.noise_deg,
        }
    }

    /// Product of the probabilities of rejection of one run.
    fn weight(&self, rng: &mut impl Rng) -> f64 {
        let normal = Normal::standard();
        let draw = |rng: &mut dyn FnMut() -> f64| normal.inverse_cdf(rng());
        let mut uniform = || rng.random::<f64>().max(1e-300);
        let zero_deg = self.zero_sigma_deg * draw(&mut uniform);
        let wrap = self.policy.wrap(self.plant.travel());
        let period_deg = self.policy.period_deg();
        let mut shaft = Shaft::at(90.0);
        let mut command = wrap.first(self.target_deg);
        let mut weight = 1.0;
        for _ in 0..self.solves {
            let plan = self.plant.plan(shaft.reading_deg, command.drive_deg);
            assert!(matches!(plan, PlannedMove::Move { .. }), "{plan:?}");
            self.plant.carry_out(&mut shaft, &plan, 0.0);
            // RepeatabilityError and noise are one error here; no solve is repeated without a move.
            let sigma_deg = self.repeatability_error_deg.hypot(self.noise_deg);
            let angle_deg = self.plant.position_angle_deg(&shaft, zero_deg, 0.0);
            let mean_deg = residual(self.target_deg - angle_deg, period_deg).unwrap_or(f64::NAN);
            // The residual is mean - error: too low, or too high.
            let low = beyond((self.tolerance_deg + mean_deg) / sigma_deg);
            let high = beyond((self.tolerance_deg - mean_deg) / sigma_deg);
            weight *= low + high;
            let share = uniform() * (low + high);
            let error_deg = if share < high {
                mean_deg
                    - self.tolerance_deg
                    - sigma_deg * excess(share / high, (self.tolerance_deg - mean_deg) / sigma_deg)
            } else {
                mean_deg
                    + self.tolerance_deg
                    + sigma_deg
                        * excess(
                            (share - high) / low,
                            (self.tolerance_deg + mean_deg) / sigma_deg,
                        )
            };
            command = wrap.correction(shaft.reading_deg + mean_deg - error_deg);
        }
        weight
    }
}

fn beyond(z: f64) -> f64 {
    0.5 * statrs::function::erf::erfc(z / std::f64::consts::SQRT_2)
}

/// How far a normal deviate exceeds `z`, given that it does, at the share `u` of its distribution from above: by
/// bisection, which keeps its digits far out in the tail.
fn excess(u: f64, z: f64) -> f64 {
    let all = beyond(z);
    let (mut low, mut high) = (0.0, 45.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if beyond(z + middle) > u * all {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Shows (exact): hangs of 1e-7 to 4e-12 have the right probability. Source: conditional Monte Carlo: Asmussen & Glynn
/// 2007, V.4.
#[test]
fn conditioned_runs_find_the_same_small_probabilities() {
    let rigs: [(&str, f64, &[&str]); 4] = [
        // Noise alone keeps a run going.
        (
            "noise",
            60.0,
            &[
                "solve.noise_deg=0.05",
                "loop.tolerance_deg=0.2",
                "loop.max_solves=5",
                "drive.zero_point_sigma_deg=0.3",
            ],
        ),
        // On a lattice, with backlash taken up in either direction.
        (
            "lattice",
            60.0,
            &[
                "solve.noise_deg=0.04",
                "drive.repeatability_deg=0.03",
                "drive.step_deg=0.02",
                "drive.backlash_deg=0.1",
                "loop.tolerance_deg=0.19",
                "loop.max_solves=6",
                "drive.zero_point_sigma_deg=0.2",
            ],
        ),
        // A hunting loop beside the seam, nearly but not quite cured by its tolerance.
        (
            "seam",
            0.0,
            &[
                "solve.noise_deg=0.03",
                "drive.step_deg=0.02",
                "loop.tolerance_deg=0.42",
                "loop.max_solves=4",
                "drive.zero_point_sigma_deg=0.5",
                "drive.periodic=[{ cycles = 1, amplitude_deg = 0.15, phase_deg = 90.0 }]",
            ],
        ),
        (
            "seam without steps",
            0.0,
            &[
                "solve.noise_deg=0.03",
                "loop.tolerance_deg=0.47",
                "loop.max_solves=4",
                "drive.zero_point_sigma_deg=0.5",
                "drive.periodic=[{ cycles = 1, amplitude_deg = 0.15, phase_deg = 90.0 }]",
            ],
        ),
    ];
    let some = rigs.into_iter().enumerate().step_by(sized(2, 1));
    for (number, (name, target_deg, settings)) in some {
        let rig = perfect(settings);
        let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
        let exact = solve(&scenario, Precision::FULL).unwrap_or_else(|e| panic!("{e}"));
        let conditioned = Conditioned::of(&rig, target_deg);
        let (mut sum, mut squares) = (0.0, 0.0);
        for run in 0..RUNS {
            let weight = conditioned.weight(&mut stream(number as u64, run));
            sum += weight;
            squares += weight * weight;
        }
        let n = RUNS as f64;
        let mean = sum / n;
        let error = ((squares / n - mean * mean) / n).sqrt();
        let found = exact.unsettled;
        assert!(
            (1e-14..1e-3).contains(&found.value),
            "{name}: {:e}",
            found.value
        );
        let off = (found.value - mean).abs();
        assert!(
            off <= DEVIATIONS * error + 1e-3 * found.value,
            "{name}: exact {:e}, conditioned runs {mean:e} ± {error:e}",
            found.value
        );
        assert!(error < 0.1 * mean, "{name}: too few runs to tell");
    }
}
