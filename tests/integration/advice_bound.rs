//! The swing residual bound against simulated residuals.

use halfturn_engine::advise::SwingBound;
use halfturn_engine::rig::Rig;
use halfturn_engine::run::{Trace, run};
use halfturn_engine::sample::stream;
use halfturn_engine::scenario::{Policy, Scenario};

use crate::rigs::perfect;
use crate::twelve::twelve;

/// Tail probability of the bound; large enough that an excess is seen in few runs.
const TAIL: f64 = 0.01;

const RUNS: u64 = 3000;

/// Solves after which a run is not looked at further.
const DEEP: usize = 8;

/// Rounding of an angle of some hundred degrees \[deg\].
const ROUNDING_DEG: f64 = 1e-9;

/// Residuals after long swings, by the number of the solve before the swing.
fn after_swings(rig: &Rig, drive_deg: f64, seed: u64) -> Vec<Vec<f64>> {
    let s = rig.settings();
    let target_deg = s.drive.zero_point_deg + s.loop_.believed_sense.factor() * drive_deg;
    let rig = rig
        .with(|s| s.loop_.max_solves = DEEP as u32 + 1)
        .unwrap_or_else(|e| panic!("{e}"));
    let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
    let mut found = vec![Vec::new(); DEEP];
    for trial in 0..RUNS {
        let mut trace = Trace::default();
        run(
            &scenario,
            &mut scenario.controller(),
            &mut stream(seed, trial),
            &mut trace,
        );
        for (k, row) in trace.rows().iter().skip(1).take(DEEP).enumerate() {
            if let (true, Some(solved)) = (row.long_swing, row.solved) {
                found[k].push(solved.residual_deg.abs());
            }
        }
    }
    found
}

/// Largest count that a binomial number of mean `RUNS * TAIL` = 30 reaches but with a probability of 1e-7: the
/// Poisson distribution of mean 30 has 5e-8 above 63 (from the exact sum). About 290 counts are held against it, so the
/// test fails by chance with less than 3e-5.
const MOST: usize = 63;

/// Shows (advice 1): at any one solve R is exceeded with at most the tail probability. Source: none: internal
/// consistency (twelve rigs, runs; exact Poisson limits).
#[test]
fn simulated_residuals_exceed_the_bound_no_more_often_than_stated() {
    let mut swings = 0;
    for case in twelve() {
        let policy = Policy::of(&case.rig);
        let bound = SwingBound::of(&case.rig, policy, TAIL);
        for beside_deg in [0.0, -0.3, 0.3] {
            let drive_deg = policy.arc_start_deg + beside_deg;
            let found = after_swings(&case.rig, drive_deg, 4711);
            for (k, residuals) in found.iter().enumerate() {
                let beyond = residuals
                    .iter()
                    .filter(|r| **r > bound.residual_deg + ROUNDING_DEG)
                    .count();
                assert!(
                    beyond <= MOST,
                    "{}: {beyond} of {RUNS} at solve {k} beyond {bound:?}",
                    case.name
                );
                swings += residuals.len();
            }
        }
    }
    assert!(swings > 20_000, "{swings} swings tested nothing");
}

/// Of `RUNS` at most 60 on average, of which the Poisson distribution exceeds 103 with 2e-7.
/// Shows (advice 1): a target as far from the seam as it needs swings at its first correction in at most twice the
/// tail. Source: none: internal consistency.
#[test]
fn a_target_at_the_margin_does_not_swing_more_often_than_stated() {
    for case in twelve() {
        let policy = Policy::of(&case.rig);
        let bound = SwingBound::of(&case.rig, policy, TAIL);
        for drive_deg in [bound.seam_distance_deg, -bound.seam_distance_deg] {
            let found = after_swings(&case.rig, policy.arc_start_deg + drive_deg, 31);
            let swings = found[0].len();
            assert!(swings <= 103, "{}: {swings} at {drive_deg}", case.name);
        }
    }
    // Half as far is not far enough where the zero point leads: 0.5 * 1.29 deg of a sigma of 0.5 deg is 1.3 sigma.
    let rig = perfect(&["drive.zero_point_sigma_deg=0.5", "loop.tolerance_deg=0.05"]);
    let seam_distance_deg = SwingBound::of(&rig, Policy::of(&rig), TAIL).seam_distance_deg;
    let swings = after_swings(&rig, 0.5 * seam_distance_deg, 31)[0].len();
    assert!(swings > 200, "{swings}");
}

/// Shows (advice 1): R is reached: with one error alone it is at most twice the quantile that is seen. Source: none:
/// internal consistency.
#[test]
fn the_bound_is_not_much_wider_than_what_is_seen() {
    let zero = "drive.zero_point_sigma_deg=0.5";
    let table: [(&str, &[&str], f64); 6] = [
        (
            "backlash",
            &["drive.backlash_deg=0.2", "loop.tolerance_deg=0.05"],
            1.02,
        ),
        (
            "step",
            &["drive.step_deg=0.2", "loop.tolerance_deg=0.01"],
            1.1,
        ),
        (
            "noise",
            &["solve.noise_deg=0.05", "loop.tolerance_deg=0.02"],
            1.3,
        ),
        (
            "repeatability",
            &["drive.repeatability_deg=0.05", "loop.tolerance_deg=0.02"],
            1.3,
        ),
        (
            "periodic error",
            &[
                "drive.periodic=[{cycles=1,amplitude_deg=0.15,phase_deg=90}]",
                "loop.tolerance_deg=0.05",
            ],
            1.2,
        ),
        (
            "gain",
            &["drive.gain_error=0.002", "loop.tolerance_deg=0.05"],
            1.2,
        ),
    ];
    for (name, keys, widest) in table {
        let keys: Vec<&str> = keys.iter().copied().chain([zero]).collect();
        let rig = perfect(&keys);
        let bound = SwingBound::of(&rig, Policy::of(&rig), TAIL).residual_deg;
        let mut seen: Vec<f64> = after_swings(&rig, 0.0, 99).concat();
        seen.sort_by(f64::total_cmp);
        assert!(seen.len() > 500, "{name}: {} swings", seen.len());
        let quantile = seen[(seen.len() as f64 * (1.0 - TAIL)) as usize];
        assert!(
            bound <= widest * quantile,
            "{name}: bound {bound}, quantile {quantile}"
        );
        // And per swing, not only per solve: the zero point alone makes the first swing here.
        let beyond = seen.iter().filter(|r| **r > bound + ROUNDING_DEG).count() as f64;
        let mean = TAIL * seen.len() as f64;
        assert!(
            beyond <= mean + 5.0 * mean.sqrt() + 3.0,
            "{name}: {beyond} of {}",
            seen.len()
        );
    }
}
