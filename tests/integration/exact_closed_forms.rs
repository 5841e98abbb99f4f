//! The exact method against closed forms (docs/model.md, sections 7 and 8), far into the tails.

use halfturn_engine::exact::{LongRun, Precision, Solution, solve, solve_long_run};
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::{Policy, Scenario};
use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::erf::erfc;

use crate::rigs::perfect;

/// What is asked of small probabilities.
const RELATIVE: f64 = 1e-3;

fn scenario(rig: &Rig, target_deg: f64) -> Scenario {
    Scenario::new(rig, Policy::of(rig), target_deg)
}

fn solved(rig: &Rig, target_deg: f64) -> Solution {
    solve(&scenario(rig, target_deg), Precision::FULL).unwrap_or_else(|e| panic!("{e}"))
}

fn long_run(rig: &Rig, target_deg: f64) -> LongRun {
    solve_long_run(&scenario(rig, target_deg), Precision::FULL)
        .unwrap_or_else(|e| panic!("{e}"))
        .unwrap_or_else(|| panic!("no long run"))
}

/// Probability that a normal deviate exceeds `z` on either side: statrs, as a general reference library.
fn beyond(z: f64) -> f64 {
    erfc(z / std::f64::consts::SQRT_2)
}

/// Shows (exact): the first solve fails with the right probability down to 6e-13. Source: normal tails of statrs.
#[test]
fn the_first_solve_fails_with_the_normal_probability_down_to_1e_12() {
    for z in [0.5, 1.0, 3.0, 5.0, 7.2] {
        // Noise 0.3 and zero point 0.4 make 0.5 together; one solve decides.
        let rig = perfect(&[
            "solve.noise_deg=0.3",
            "drive.zero_point_sigma_deg=0.4",
            "loop.max_solves=1",
            &format!("loop.tolerance_deg={}", 0.5 * z),
        ]);
        let found = solved(&rig, 90.0);
        let exact = beyond(z);
        assert!(
            (found.unsettled.value / exact - 1.0).abs() < RELATIVE,
            "{z}: {:e} against {exact:e}",
            found.unsettled.value
        );
        assert!((found.settled.value - (1.0 - exact)).abs() <= found.settled.bound);
        assert!(
            (found.unsettled.value - exact).abs() <= found.unsettled.bound,
            "{z}"
        );
    }
}

/// After a full correction the residual is e_k - e_(k+1), and the density of e_k among the runs that go on obeys
/// f_(k+1)(v) = phi_s(v) * integral f_k(u) [|u - v| > T] du. Here on a fine midpoint grid, with the jumps at its
/// edges; the first solve has the zero point in it as well. The probability to be unsettled after `n` solves falls to
/// 1e-12.
fn rejection_chain(s: f64, z: f64, t: f64, n: usize) -> Vec<f64> {
    let cells_per_t = 400_i64;
    let h = t / cells_per_t as f64;
    let half = (9.0 * s / h) as i64;
    let count = (2 * half) as usize;
    // Cell i holds values from (i - half) h on; cells a distance of `cells_per_t` or more apart are rejected.
    let middle = |i: usize| (i as f64 - half as f64 + 0.5) * h;
    let phi = |v: f64| (-0.5 * (v / s).powi(2)).exp() / (s * (std::f64::consts::TAU).sqrt());
    let mut density: Vec<f64> = (0..count)
        .map(|i| {
            // e_1 among the runs whose first residual, e_1 and the zero point together, is rejected.
            let v = middle(i);
            let normal = Normal::standard();
            let accepted = normal.cdf((t - v) / z) - normal.cdf((-t - v) / z);
            phi(v) * (1.0 - accepted)
        })
        .collect();
    let mut rejected = vec![density.iter().sum::<f64>() * h];
    for _ in 1..n {
        let mut below = vec![0.0];
        for f in &density {
            below.push(below[below.len() - 1] + f * h);
        }
        let all = below[count];
        density = (0..count)
            .map(|i| {
                let (low, high) = (
                    (i as i64 - cells_per_t).max(0) as usize,
                    (i as i64 + cells_per_t + 1).min(count as i64) as usize,
                );
                // Half of the two cells at the edge is rejected.
                let edge = |j: i64| {
                    usize::try_from(j)
                        .ok()
                        .and_then(|j| density.get(j))
                        .map_or(0.0, |f| 0.5 * f * h)
                };
                let near = below[high]
                    - below[low]
                    - edge(i as i64 - cells_per_t)
                    - edge(i as i64 + cells_per_t);
                phi(middle(i)) * (all - near)
            })
            .collect();
        rejected.push(density.iter().sum::<f64>() * h);
    }
    rejected
}

/// Shows (exact): the rejection chain is right down to 1e-13. Source: integral equation, on a separate midpoint grid.
#[test]
fn the_rejection_chain_is_that_of_its_integral_equation() {
    let (s, z) = (0.3, 0.4);
    for t in [0.25, 1.1] {
        let by_integral = rejection_chain(s, z, t, 12);
        for n in [1_usize, 2, 3, 5, 8, 12] {
            if by_integral[n - 1] < 1e-13 {
                continue; // the integral has no digits left there
            }
            let rig = perfect(&[
                "solve.noise_deg=0.3",
                "drive.zero_point_sigma_deg=0.4",
                &format!("loop.tolerance_deg={t}"),
                &format!("loop.max_solves={n}"),
            ]);
            let found = solved(&rig, 90.0).unsettled;
            let ratio = found.value / by_integral[n - 1];
            assert!((ratio - 1.0).abs() < RELATIVE, "T {t}, {n} solves: {ratio}");
        }
    }
}

/// One harmonic A, phase 90°, and nothing else but the zero point: the rate of docs/model.md, section 7.
/// Shows (exact): one harmonic without noise; wrong sense; backlash alone. With: `a_wrong_sense_doubles_the_error`,
/// `play_alone_is_removed_by_the_next_correction`. Source: by hand.
#[test]
fn one_harmonic_without_noise_hunts_with_the_probability_of_its_window() {
    let normal = Normal::standard();
    for (a, t, z) in [(0.2, 0.3, 0.5), (0.2, 0.39, 0.05), (0.1, 0.15, 0.02)] {
        let rig = perfect(&[
            &format!("drive.periodic=[{{ cycles = 1, amplitude_deg = {a}, phase_deg = 90.0 }}]"),
            &format!("drive.zero_point_sigma_deg={z}"),
            &format!("loop.tolerance_deg={t}"),
        ]);
        let found = solved(&rig, 0.0);
        let exact = normal.cdf(a / z) - normal.cdf((t - a) / z);
        // The cosine of the harmonic is not quite 1 beside its peak.
        let ratio = found.hunting.value / exact;
        assert!((ratio - 1.0).abs() < RELATIVE, "{a} {t} {z}: {ratio}");
        let long = long_run(&rig, 0.0);
        assert!((long.never_ends / exact - 1.0).abs() < RELATIVE, "{long:?}");
        assert_eq!(long.persistence, 1.0);
    }
    let cured = perfect(&[
        "drive.periodic=[{ cycles = 1, amplitude_deg = 0.2, phase_deg = 90.0 }]",
        "drive.zero_point_sigma_deg=0.5",
        "loop.tolerance_deg=0.401",
    ]);
    let found = solved(&cured, 0.0);
    assert_eq!(found.hunting.value, 0.0);
    assert_eq!(long_run(&cured, 0.0).persistence, 0.0);
}

/// A wrong believed sense doubles the error: e -> 2 e modulo the period. Without noise, the run that starts at Z
/// settles at the first solve k for which |2^(k-1) Z| modulo 180 is within T; counted here on a fine grid of Z.
#[test]
fn a_wrong_sense_doubles_the_error() {
    let (t, z, solves) = (0.3, 1.0, 6);
    let rig = perfect(&[
        "loop.believed_sense=-1",
        "drive.zero_point_sigma_deg=1",
        &format!("loop.tolerance_deg={t}"),
        &format!("loop.max_solves={solves}"),
        "wrap.rule=fold-once",
    ]);
    let found = solved(&rig, 90.0);
    let cells = 2_000_000;
    let normal = Normal::standard();
    let mut settled = 0.0;
    for i in 0..cells {
        let low = -9.0 + 18.0 * f64::from(i) / f64::from(cells);
        let high = low + 18.0 / f64::from(cells);
        let middle = 0.5 * (low + high) * z;
        let settles = (0..solves).any(|k| {
            let e = (middle * f64::from(1 << k)).rem_euclid(180.0);
            e.min(180.0 - e) <= t
        });
        if settles {
            settled += normal.cdf(high) - normal.cdf(low);
        }
    }
    assert!(
        (found.settled.value - settled).abs() < 1e-5,
        "{} {settled}",
        found.settled.value
    );
}

/// Backlash alone: after the first move the error is half the backlash at most, so that every tolerance above it
/// accepts at once, and one correction of a larger error arrives exactly.
#[test]
fn play_alone_is_removed_by_the_next_correction() {
    let rig = perfect(&["drive.backlash_deg=0.4", "loop.tolerance_deg=0.1"]);
    let found = solved(&rig, 10.0);
    // From 90 down to 10: 0.2 too high; the correction of 0.2 downwards takes the backlash along.
    assert_eq!(found.solves_shares, [0.0, 0.0, 1.0]);
    assert_eq!(
        found.true_error_deg.map(|e| e.mean.value.abs() < 1e-12),
        Some(true)
    );
}

/// A solve that errs beyond the tolerance asks for a correction upwards by its error; beyond a stop that is ahead, and short of the end of the
/// arc, it is refused: with the probability that the error is greater than the way to the stop.
#[test]
fn a_stop_refuses_what_lies_beyond_it() {
    let rig = perfect(&[
        "drive.travel=stops",
        "drive.stop_from_deg=0",
        "drive.stop_to_deg=179.95",
        "solve.noise_deg=0.1",
        "loop.tolerance_deg=0.02",
        "loop.max_solves=2",
        "wrap.rule=fold-once",
    ]);
    let found = solved(&rig, 179.9);
    let exact = 0.5 * beyond(0.5);
    assert!((found.refused.value / exact - 1.0).abs() < RELATIVE);
}
