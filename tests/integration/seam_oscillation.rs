//! The oscillation at the seam without noise (docs/model.md, section 7), and its cures.

use halfturn::run::Outcome;

use crate::rigs::{agrees, perfect, tallied, traced};

/// One harmonic of 0.5 deg, 1 cycle a turn, phase 90 deg.
const ECCENTRIC: &str = "drive.periodic=[{cycles=1,amplitude_deg=0.5,phase_deg=90}]";

#[test]
fn one_periodic_error_makes_a_seam_target_ping_pong_by_itself() {
    let rig = perfect(&[ECCENTRIC, "loop.tolerance_deg=0.4", "loop.max_solves=1000"]);
    let (figures, rows) = traced(&rig, 0.0);
    assert_eq!(figures.outcome, Outcome::Unsettled);
    assert_eq!((figures.solves, figures.long_swings), (1000, 999));
    assert_eq!(rows[0].command_deg, Some(0.0));
    // It wants -0.5, which folds to 179.5; there 180.5, which folds to 0.5; and so on. The sine half a
    // degree off its top is 2e-5 short, and twice that comes back.
    let short = 1e-4;
    for (i, row) in rows.iter().enumerate().skip(1) {
        let (wanted, command) = if i % 2 == 1 {
            (-0.5, 179.5)
        } else {
            (180.5, 0.5)
        };
        assert!(
            (row.wanted_deg.unwrap_or(0.0) - wanted).abs() < short,
            "{row:?}"
        );
        assert!(
            (row.command_deg.unwrap_or(0.0) - command).abs() < short,
            "{row:?}"
        );
        assert!(row.folded && row.long_swing);
        let residual = row.solved.map_or(0.0, |s| s.residual_deg);
        assert!(
            (residual.abs() - 1.0).abs() < short,
            "2 A after a swing: {residual}"
        );
    }
}

#[test]
fn a_tolerance_of_the_amplitude_accepts_at_once_when_the_zero_point_is_exact() {
    for (tolerance, solves) in [("0.499999", 20), ("0.5", 1), ("0.7", 1)] {
        let tolerance = format!("loop.tolerance_deg={tolerance}");
        let (figures, _) = traced(&perfect(&[ECCENTRIC, &tolerance]), 0.0);
        assert_eq!(figures.solves, solves, "{tolerance}");
    }
}

/// With a zero-point error Z the first residual is -(A + Z); the loop hunts if that exceeds T and the
/// second wanted angle, 180 + A - Z, folds too: T - A < Z < A. So the rate is Phi(A/z) - Phi((T-A)/z), and
/// none from T = 2 A on. Phi by the reference library statrs.
#[test]
fn the_rate_of_hunting_follows_from_the_first_residual() {
    use statrs::distribution::{ContinuousCDF, Normal};
    let (amplitude, sigma) = (0.5, 0.4);
    let phi = |x: f64| Normal::standard().cdf(x);
    let trials = 40_000;
    for (i, tolerance) in [0.2, 0.45, 0.55, 0.8, 0.95].into_iter().enumerate() {
        let rig = perfect(&[
            ECCENTRIC,
            &format!("drive.zero_point_sigma_deg={sigma}"),
            &format!("loop.tolerance_deg={tolerance}"),
        ]);
        let tally = tallied(&rig, 0.0, trials, 100 + i as u64);
        let rate = phi(amplitude / sigma) - phi((tolerance - amplitude) / sigma);
        // Five comparisons at 5 sigma: a false alarm in all of them together is below 3e-6.
        assert!(
            agrees(tally.ping_pong, trials, rate, 5.0),
            "{tolerance}: {} of {trials} against {rate}",
            tally.ping_pong
        );
    }
    for tolerance in ["1.0", "1.5"] {
        let tolerance = format!("loop.tolerance_deg={tolerance}");
        let rig = perfect(&[ECCENTRIC, "drive.zero_point_sigma_deg=0.4", &tolerance]);
        assert_eq!(tallied(&rig, 0.0, trials, 7).ping_pong, 0);
    }
}

/// The cures of section 7: a seam farther away, a band wider than the swing residual, folding once.
#[test]
fn every_cure_stops_the_oscillation() {
    let hunting = [
        ECCENTRIC,
        "loop.tolerance_deg=0.4",
        "drive.zero_point_sigma_deg=0.3",
        "solve.noise_deg=0.02",
    ];
    let with = |cure: &[&str]| {
        let keys: Vec<&str> = hunting.iter().chain(cure).copied().collect();
        tallied(&perfect(&keys), 0.0, 20_000, 3)
    };
    let trouble = with(&[]);
    assert!(trouble.ping_pong > 10_000, "{}", trouble.ping_pong);
    for cure in [
        &["wrap.arc_start_deg=90"][..],
        &["wrap.rule=hysteresis-band", "wrap.band_deg=3"],
        &["wrap.rule=fold-once"],
        &["wrap.rule=full-circle"],
    ] {
        let cured = with(cure);
        assert_eq!((cured.ping_pong, cured.settled), (0, 20_000), "{cure:?}");
    }
    // Twice the amplitude is not enough beside noise; that and the zero point's share is.
    assert_eq!(with(&["loop.tolerance_deg=1.3"]).ping_pong, 0);
}

#[test]
fn solve_noise_alone_does_not_sustain_it() {
    // With the same noise an eccentric rig hunts; a perfect one at most swings once and settles.
    let rig = perfect(&[
        "solve.noise_deg=0.05",
        "drive.zero_point_sigma_deg=0.5",
        "loop.tolerance_deg=0.4",
    ]);
    let tally = tallied(&rig, 0.0, 20_000, 5);
    assert_eq!((tally.ping_pong, tally.settled), (0, 20_000));
    assert!(tally.long_swings.moments().mean().is_some_and(|m| m > 0.1));
}

/// A fold turns a residual of 80 deg into a move of 100: longer than half a period of 180, so a long swing.
/// The same residual without a fold, and the first move, are none.
#[test]
fn a_long_swing_is_longer_than_half_a_period_and_no_first_move() {
    let bias = "solve.bias_deg=80";
    let (_, rows) = traced(&perfect(&[bias, "loop.max_solves=2"]), 5.0);
    assert_eq!(rows[1].reading_deg, 105.0);
    assert!(rows[1].long_swing);
    let (_, rows) = traced(
        &perfect(&[bias, "loop.max_solves=2", "drive.park_deg=-80"]),
        85.0,
    );
    assert_eq!((rows[0].reading_deg, rows[1].reading_deg), (85.0, 5.0));
    assert!(!rows[0].long_swing && !rows[1].long_swing);
    // Exactly half a period is not longer than it.
    let (_, rows) = traced(&perfect(&["solve.bias_deg=-90", "loop.max_solves=2"]), 5.0);
    assert_eq!((rows[1].reading_deg, rows[1].long_swing), (95.0, false));
}
