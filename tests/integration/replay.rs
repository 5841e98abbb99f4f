//! A run replayed from docs/model.md, section 9, alone: SplitMix64, the order of the draws and Box and Muller's method are written
//! here a second time, with the logarithm and sines of the platform.

use halfturn_engine::scenario::{Policy, Scenario};
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::rigs::perfect;

const ZERO_SIGMA: f64 = 0.7;
const SEATING: f64 = 0.2;
const NOISE: f64 = 0.1;
const OUTLIER: f64 = 3.0;
const FAILURE_RATE: f64 = 0.3;
const OUTLIER_RATE: f64 = 0.25;

/// One step of SplitMix64 from `x` (Steele, Lea & Flood 2014, figure 16).
fn mix(x: u64) -> u64 {
    let mut z = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

struct Numbers(Xoshiro256PlusPlus);

impl Numbers {
    fn of(seed: u64, run: u64) -> Self {
        let mut at = mix(mix(seed).wrapping_add(run)).wrapping_sub(0x9e37_79b9_7f4a_7c15);
        let mut state = Vec::new();
        for _ in 0..4 {
            at = at.wrapping_add(0x9e37_79b9_7f4a_7c15);
            state.extend(mix(at).to_le_bytes());
        }
        let state: [u8; 32] = state.try_into().expect("four words");
        Self(Xoshiro256PlusPlus::from_seed(state))
    }

    fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 12) as f64 / (1_u64 << 52) as f64
    }

    fn pair(&mut self) -> (f64, f64) {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let word = self.0.next_u64();
        let share = (word >> 12) as f64 / (1_u64 << 52) as f64;
        let angle = (90.0 * (share - 0.5)).to_radians();
        let (x, y) = (radius * angle.cos(), radius * angle.sin());
        let (x, y) = if word & 1 == 1 { (y, x) } else { (x, y) };
        if word & 2 == 2 { (-x, -y) } else { (x, y) }
    }
}

/// Shows (model 9): the order of the draws; what cannot act draws nothing; the sigma of an outlier; events by `u < q`.
/// Source: section 9, written a second time with the platform's functions.
#[test]
fn a_run_is_replayed_from_the_page_alone() {
    let rig = perfect(&[
        &format!("drive.zero_point_sigma_deg={ZERO_SIGMA}"),
        &format!("drive.repeatability_deg={SEATING}"),
        &format!("solve.noise_deg={NOISE}"),
        &format!("solve.outlier_deg={OUTLIER}"),
        &format!("solve.outlier_rate={OUTLIER_RATE}"),
        &format!("solve.failure_rate={FAILURE_RATE}"),
        "solve.max_failures=1000",
        "loop.tolerance_deg=0.2",
        "loop.confirm=2",
    ]);
    // Far from the seam, so that nothing folds; never where the drive stands, so that the first command is a move.
    let target = 70.0;
    let scenario = Scenario::new(&rig, Policy::of(&rig), target);
    let (mut rows_seen, mut confirming, mut failed) = (0, 0, 0);
    for (seed, run) in [(1, 0), (1, 1), (77, 12_345), (u64::MAX, 3)]
        .into_iter()
        .chain((0..40).map(|run| (5, run)))
    {
        let (_, trace) = halfturn_engine::run::traced(&scenario, seed, run);
        let mut numbers = Numbers::of(seed, run);
        let zero = ZERO_SIGMA * numbers.pair().0;
        let mut repeatability_error = 0.0;
        for row in trace.rows() {
            let (new_repeatability_error, noise) = numbers.pair();
            if row.command_deg.is_some() {
                repeatability_error = SEATING * new_repeatability_error;
            } else {
                confirming += 1;
            }
            let mut failures = 0;
            while numbers.uniform() < FAILURE_RATE {
                failures += 1;
            }
            let sigma = if numbers.uniform() < OUTLIER_RATE {
                OUTLIER
            } else {
                NOISE
            };
            let solved = row.solved.expect("every turn ends with a good solve");
            let expected = target - (zero + row.reading_deg + repeatability_error + sigma * noise);
            assert_eq!(row.failed_attempts, failures, "{seed} {run}");
            assert!(
                (solved.residual_deg - expected).abs() < 1e-12,
                "{seed} {run}: {solved:?} {expected}"
            );
            rows_seen += 1;
            failed += failures;
        }
    }
    assert!(rows_seen > 100 && confirming > 20 && failed > 20);
}
