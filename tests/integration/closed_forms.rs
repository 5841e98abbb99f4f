//! Closed forms of section 8 of the model.

use halfturn_engine::angle::residual;
use halfturn_engine::run::Outcome;
use statrs::distribution::{ContinuousCDF, Normal};

use crate::rigs::{agrees, perfect, tallied, traced};

const TRIALS: u64 = 200_000;

/// Critical value of one comparison: two-sided probability 6e-7.
const Z: f64 = 5.0;

/// Runs that settled at solve `n` exactly.
fn settled_at(tally: &halfturn_engine::tally::Tally, n: u32) -> u64 {
    tally.solves().times(n)
}

/// P(|X| <= k sigma) of a normal deviate; Abramowitz & Stegun (1964), table 26.1: 2 P(x) - 1 at
/// x = 0.5, 1, 2, 3.
const WITHIN: [(f64, f64); 4] = [
    (0.5, 0.382_924_922_5),
    (1.0, 0.682_689_492_1),
    (2.0, 0.954_499_736_1),
    (3.0, 0.997_300_203_9),
];

/// Shows (model 3): `theta_hat = theta + bias + e`, `e` normal. With:
/// `seam_oscillation::a_long_swing_is_longer_than_half_a_period_and_no_first_move`. Source: Abramowitz & Stegun 1964,
/// table 26.1; by hand.
/// Shows (model 8): first solve: `2 Phi(T / sqrt(z^2 + s^2)) - 1`. With:
/// `exact_closed_forms::the_first_solve_fails_with_the_normal_probability_down_to_1e_12`. Source: Abramowitz & Stegun
/// 1964, table 26.1; statrs.
#[test]
fn the_first_solve_settles_with_the_normal_probability() {
    for (i, (k, probability)) in WITHIN.into_iter().enumerate() {
        // Noise 0.3 and zero point 0.4 make 0.5 together.
        let rig = perfect(&[
            "solve.noise_deg=0.3",
            "drive.zero_point_sigma_deg=0.4",
            &format!("loop.tolerance_deg={}", 0.5 * k),
        ]);
        let tally = tallied(&rig, 90.0, TRIALS, i as u64);
        assert!(
            agrees(settled_at(&tally, 1), TRIALS, probability, Z),
            "{k} sigma: {} of {TRIALS} against {probability}",
            settled_at(&tally, 1)
        );
    }
}

/// After a full correction the residual is e_k - e_(k+1), and f_k is the density of e_k among the runs that go on; by
/// the midpoint rule over eight sigma, whose error of some 1e-6 is far below the statistical one.
/// Shows (model 4): `Z ~ N(zero_point, zero_point_sigma)`, drawn once a run. With:
/// `replay::a_run_is_replayed_from_the_page_alone`. Source: integral equation of section 8; section 9, written a second
/// time.
/// Shows (model 8): the chain `f_{k+1}(v) = phi_s(v) * integral f_k(u) [|u - v| > T] du`. With:
/// `exact_closed_forms::the_rejection_chain_is_that_of_its_integral_equation`. Source: by hand, on a separate midpoint grid.
#[test]
fn the_rejection_chain_of_a_noisy_solver() {
    let (s, z, t) = (0.3, 0.4, 0.25);
    let rig = perfect(&[
        "solve.noise_deg=0.3",
        "drive.zero_point_sigma_deg=0.4",
        "loop.tolerance_deg=0.25",
        "loop.max_solves=40",
    ]);
    let tally = tallied(&rig, 90.0, TRIALS, 11);
    let normal = Normal::standard();
    let cells = 1600_usize;
    let width = 16.0 * s / cells as f64;
    let at = |i: usize| (i as f64 + 0.5) * width - 8.0 * s;
    let weight =
        |i: usize| normal.cdf((at(i) + 0.5 * width) / s) - normal.cdf((at(i) - 0.5 * width) / s);
    // After the first solve: e_1 = u is rejected where |Z + u| > T.
    let mut going_on: Vec<f64> = (0..cells)
        .map(|i| {
            let accepted = normal.cdf((t - at(i)) / z) - normal.cdf((-t - at(i)) / z);
            weight(i) * (1.0 - accepted)
        })
        .collect();
    let mut left = 1.0;
    for solve in 1..=8_u32 {
        let still: f64 = going_on.iter().sum();
        let probability = left - still;
        let found = settled_at(&tally, solve);
        // Eight comparisons at 5 sigma: a false alarm below 5e-6.
        assert!(
            agrees(found, TRIALS, probability, Z),
            "solve {solve}: {found} of {TRIALS} against {probability}"
        );
        left = still;
        let mut below = vec![0.0; cells + 1];
        for i in 0..cells {
            below[i + 1] = below[i] + going_on[i];
        }
        let reach = (t / width).round() as usize;
        going_on = (0..cells)
            .map(|i| {
                let inside = below[(i + reach).min(cells)] - below[i.saturating_sub(reach)];
                weight(i) * (still - inside)
            })
            .collect();
    }
}

/// Shows (model 8): an independent pair: `2 Phi(T / (s sqrt 2)) - 1`. Source: Abramowitz & Stegun 1964, table 26.1.
#[test]
fn an_independent_pair_of_solves_differs_by_root_two_sigma() {
    // The zero point is uncertain by 40 deg, so all but some 1 % are rejected at the first solve, and the
    // second residual is e_1 - e_2 for an independent pair: P = 2 Phi(T / (s sqrt 2)) - 1, with T = s sqrt 2.
    let t = 0.3 * std::f64::consts::SQRT_2;
    let rig = perfect(&[
        "solve.noise_deg=0.3",
        "drive.zero_point_sigma_deg=40",
        &format!("loop.tolerance_deg={t}"),
    ]);
    let tally = tallied(&rig, 90.0, TRIALS, 12);
    let first = settled_at(&tally, 1);
    let rest = TRIALS - first;
    let second = settled_at(&tally, 2);
    assert!(first < TRIALS / 50);
    assert!(agrees(second, rest, WITHIN[1].1, Z), "{second} of {rest}");
}

#[test]
fn a_wrong_sense_doubles_every_error() {
    let rig = perfect(&[
        "loop.believed_sense=-1",
        "drive.zero_point_deg=3.7",
        "loop.tolerance_deg=0.001",
        "loop.max_solves=40",
    ]);
    let (figures, rows) = traced(&rig, 50.0);
    assert_eq!(figures.outcome, Outcome::Unsettled);
    let residuals: Vec<f64> = rows
        .iter()
        .filter_map(|r| r.solved)
        .map(|s| s.residual_deg)
        .collect();
    let mut rounding = 1e-10;
    for pair in residuals.windows(2) {
        let doubled = residual(2.0 * pair[0], 180.0).unwrap_or(f64::NAN);
        let off = residual(doubled - pair[1], 180.0).unwrap_or(f64::NAN);
        assert!(off.abs() < rounding, "{pair:?}");
        rounding = (rounding * 2.0_f64).min(1e-6); // rounding doubles too
    }
}

/// Shows (model 3): an attempt fails with `failure_rate`; `max_failures` in a row end the run as unsolved. Source:
/// geometric chain, by hand.
#[test]
fn failed_solves_end_a_run_with_the_power_of_their_rate() {
    let rig = perfect(&["solve.failure_rate=0.6", "solve.max_failures=4"]);
    let tally = tallied(&rig, 90.0, TRIALS, 13);
    assert!(
        agrees(tally.unsolved, TRIALS, 0.6_f64.powi(4), Z),
        "{}",
        tally.unsolved
    );
}

/// P(|e| <= T) is the mixture of the two.
/// Shows (model 3): with probability `outlier_rate` the wider normal. Source: Tukey 1960.
#[test]
fn outliers_mix_two_normals() {
    let rig = perfect(&[
        "solve.noise_deg=0.1",
        "solve.outlier_rate=0.25",
        "solve.outlier_deg=0.4",
        "loop.tolerance_deg=0.2",
    ]);
    let tally = tallied(&rig, 90.0, TRIALS, 14);
    let within = 0.75 * WITHIN[2].1 + 0.25 * WITHIN[0].1;
    let first = settled_at(&tally, 1);
    assert!(agrees(first, TRIALS, within, Z), "{first} against {within}");
}

/// Shows (model 4): settled after `confirm` passes in a row, each a solve without a command. With:
/// `confirming_moves_nothing`. Source: Abramowitz & Stegun 1964, table 26.1.
/// Shows (model Where): a pass at the last permitted solve settles; confirming solves count. Source: Abramowitz &
/// Stegun 1964, table 26.1.
#[test]
fn confirming_passes_in_a_row_multiplies_their_probabilities() {
    // The zero point is exact and nothing moves between the passes: each solve is independent. A run
    // that misses one of its three solves cannot settle any more.
    let rig = perfect(&[
        "solve.noise_deg=0.5",
        "loop.tolerance_deg=0.5",
        "loop.confirm=3",
        "loop.max_solves=3",
    ]);
    let tally = tallied(&rig, 90.0, TRIALS, 15);
    let p = WITHIN[1].1.powi(3);
    assert!(
        agrees(tally.settled, TRIALS, p, Z),
        "{} against {p}",
        tally.settled
    );
}

#[test]
fn confirming_moves_nothing() {
    // The tolerance is ten sigma of the noise: every solve passes.
    let rig = perfect(&[
        "solve.noise_deg=0.5",
        "loop.tolerance_deg=5",
        "loop.confirm=3",
    ]);
    let tally = tallied(&rig, 90.0, 10_000, 16);
    assert_eq!(tally.settled, 10_000);
    assert_eq!(tally.solves().moments().mean(), Some(3.0));
    assert_eq!(tally.moves.moments().mean(), Some(0.0));
}

/// Shows (model 3): a good attempt takes `exposure + solve_time`; `theta` is taken at the end of the exposure. Source:
/// by hand.
#[test]
fn field_rotation_is_taken_at_the_end_of_the_exposure() {
    // One move of 30 deg at 3 deg/s with 1 s overhead, then 4 s of exposure: 15 s at 0.01 deg/s.
    let rig = perfect(&["loop.field_rotation_deg_per_s=0.01", "drive.park_deg=60"]);
    let (figures, rows) = traced(&rig, 90.0);
    assert!(
        rows[0]
            .solved
            .is_some_and(|s| (s.residual_deg + 0.15).abs() < 1e-12)
    );
    assert_eq!(figures.elapsed_s, 18.0);
}
