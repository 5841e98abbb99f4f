//! The oscillation at the seam without noise (docs/model.md, section 7), and its cures.

use halfturn_engine::run::Outcome;

use crate::rigs::{agrees, perfect, tallied, traced};

/// One harmonic of 0.5 deg, 1 cycle a turn, phase 90 deg.
const ECCENTRIC: &str = "drive.periodic=[{cycles=1,amplitude_deg=0.5,phase_deg=90}]";

/// Shows (model 4): unsettled at `max_solves`, without a further move. Source: by hand (1000 solves, 999 swings).
/// Shows (model 7): the table: a target on the seam goes to 0, `180 - A`, `A` and so on for ever. Source: by hand, the
/// proof itself.
#[test]
fn one_periodic_error_makes_a_seam_target_hunt_by_itself() {
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

/// Shows (model 4): `|e| <= tolerance` passes, with the equals sign. Source: by hand.
/// Shows (model 7): with an exact zero point one harmonic hunts for `T < A` and settles at once for `T >= A`. Source:
/// by hand.
#[test]
fn a_tolerance_of_the_amplitude_accepts_at_once_when_the_zero_point_is_exact() {
    for (tolerance, solves) in [("0.499999", 20), ("0.5", 1), ("0.7", 1)] {
        let tolerance = format!("loop.tolerance_deg={tolerance}");
        let (figures, _) = traced(&perfect(&[ECCENTRIC, &tolerance]), 0.0);
        assert_eq!(figures.solves, solves, "{tolerance}");
    }
}

/// The first residual is -(A + Z); the loop hunts if that exceeds T and the second wanted angle, 180 + A - Z, folds
/// too.
/// Shows (model 7): one harmonic hunts exactly for `T - A < Z < A`; the rate is `Phi(A/z) - Phi((T-A)/z)`, 0 from `2 A`
/// on. With: `exact_closed_forms::one_harmonic_without_noise_hunts_with_the_probability_of_its_window`. Source: by
/// hand; `Phi` by statrs.
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
            agrees(tally.hunting, trials, rate, 5.0),
            "{tolerance}: {} of {trials} against {rate}",
            tally.hunting
        );
    }
    for tolerance in ["1.0", "1.5"] {
        let tolerance = format!("loop.tolerance_deg={tolerance}");
        let rig = perfect(&[ECCENTRIC, "drive.zero_point_sigma_deg=0.4", &tolerance]);
        assert_eq!(tallied(&rig, 0.0, trials, 7).hunting, 0);
    }
}

/// Shows (model 7): the cures: a tolerance wide enough, a seam farther away, a band wider than the swing residual,
/// folding once. Source: by hand.
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
    assert!(trouble.hunting > 10_000, "{}", trouble.hunting);
    for cure in [
        &["wrap.arc_start_deg=90"][..],
        &["wrap.rule=hysteresis-band", "wrap.band_deg=3"],
        &["wrap.rule=fold-once"],
        &["wrap.rule=full-circle"],
    ] {
        let cured = with(cure);
        assert_eq!((cured.hunting, cured.settled), (0, 20_000), "{cure:?}");
    }
    // Twice the amplitude is not enough beside noise; that and the zero point's share is.
    assert_eq!(with(&["loop.tolerance_deg=1.3"]).hunting, 0);
}

/// Shows (model 7): noise alone does not keep the hunt going. Source: by hand.
#[test]
fn solve_noise_alone_does_not_sustain_it() {
    // With the same noise an eccentric rig hunts; a perfect one at most swings once and settles.
    let rig = perfect(&[
        "solve.noise_deg=0.05",
        "drive.zero_point_sigma_deg=0.5",
        "loop.tolerance_deg=0.4",
    ]);
    let tally = tallied(&rig, 0.0, 20_000, 5);
    assert_eq!((tally.hunting, tally.settled), (0, 20_000));
    assert!(tally.long_swings.moments().mean().is_some_and(|m| m > 0.1));
}

/// A fold turns a residual of 80 deg into a move of 100: longer than half a period of 180, so a long swing.
/// The same residual without a fold, and the first move, are none.
/// Shows (model 6): a long swing is longer than half a period, reading to reading, and no first move. Source: by hand.
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

/// P(0.6) = 0.7257468822, P(0.2) = 0.5792597094, so that Phi(0.6) - Phi(-0.2) = 0.3050. One comparison at 5 sigma, 40
/// 000 runs, seed 110.
/// Shows (model 7): the rate is 0.305 for `A = 0.3`, `z = 0.5`, `T = 0.2`. Source: Abramowitz & Stegun 1964, table 26.1.
#[test]
fn the_rate_of_the_example_on_the_page() {
    let rig = perfect(&[
        "drive.periodic=[{cycles=1,amplitude_deg=0.3,phase_deg=90}]",
        "drive.zero_point_sigma_deg=0.5",
        "loop.tolerance_deg=0.2",
    ]);
    let rate = 0.725_746_882_2 - (1.0 - 0.579_259_709_4);
    let found = tallied(&rig, 0.0, 40_000, 110).hunting;
    assert!(agrees(found, 40_000, rate, 5.0), "{found}");
}

/// Two comparisons at 5 sigma, 40 000 runs, seeds 111 and 112.
/// Shows (model 7): a gain error alone hunts for `T < Z < |g| period` if the shaft turns too little, and never if too
/// far; backlash alone acts like `A = B/2`; one harmonic of phase 270 never hunts. Source: by hand; `Phi` by statrs.
#[test]
fn each_error_hunts_if_it_is_smaller_at_the_upper_end() {
    use statrs::distribution::{ContinuousCDF, Normal};
    let phi = |x: f64| Normal::standard().cdf(x / 0.4);
    let found = |error: &str, tolerance: &str, seed| {
        let keys = [error, "drive.zero_point_sigma_deg=0.4", tolerance];
        tallied(&perfect(&keys), 0.0, 40_000, seed).hunting
    };
    let short = found("drive.gain_error=-0.004", "loop.tolerance_deg=0.3", 111);
    let rate = phi(0.004 * 180.0) - phi(0.3);
    assert!(agrees(short, 40_000, rate, 5.0), "{short}");
    let backlash = found("drive.backlash_deg=0.6", "loop.tolerance_deg=0.2", 112);
    let rate = phi(0.3) - phi(0.2 - 0.3);
    assert!(agrees(backlash, 40_000, rate, 5.0), "{backlash}");
    for never in [
        "drive.gain_error=0.004",
        "drive.periodic=[{cycles=1,amplitude_deg=0.5,phase_deg=270}]",
    ] {
        assert_eq!(found(never, "loop.tolerance_deg=0.2", 113), 0, "{never}");
    }
}

/// Case by case, with f_lo and f_hi the shaft error at the ends and d the target's distance from the nearer end. The
/// true zero point is put as a constant error of the solver, which is the same to the loop. Cases nearer to an edge
/// than 0.02° are left out: terms of the order of A^2 are not in the condition.
/// Shows (model 7): in general a loop hunts for `f_hi <= d - Z < f_lo` and two residuals above the tolerance; `Z`
/// changes its sign with the sense. Source: by hand.
#[test]
fn the_general_condition_tells_which_loops_hunt() {
    const T: f64 = 0.1;
    const A: f64 = 0.3;
    let (mut hunt, mut rest) = (0, 0);
    for (sense, phase, gain) in [1.0, -1.0]
        .into_iter()
        .flat_map(|s| [90.0, 270.0, 35.0, 200.0].map(|p| (s, p)))
        .flat_map(|(s, p)| [0.0, -0.002, 0.002].map(|g| (s, p, g)))
    {
        let f_lo = A * f64::to_radians(phase).sin();
        let f_hi = gain * 180.0 - f_lo;
        for d in [-0.25, 0.0, 0.25] {
            for z in (-6..=6).map(|k| 0.1 * f64::from(k) + 0.013) {
                let home = if d < 0.0 { f_hi } else { f_lo };
                let edges = [
                    d - z - f_hi,
                    f_lo - (d - z),
                    (z + home).abs() - T,
                    (f_lo - f_hi).abs() - T,
                ];
                if edges.iter().any(|e| e.abs() < 0.02) {
                    continue;
                }
                let hunts = edges.iter().all(|e| *e > 0.0);
                let rig = perfect(&[
                    &format!("drive.periodic=[{{cycles=1,amplitude_deg={A},phase_deg={phase}}}]"),
                    &format!("drive.gain_error={gain}"),
                    &format!("drive.sense={sense}"),
                    &format!("loop.believed_sense={sense}"),
                    &format!("solve.bias_deg={}", sense * z),
                    &format!("loop.tolerance_deg={T}"),
                ]);
                let (figures, _) = traced(&rig, sense * d);
                let case = format!("sense {sense}, phase {phase}, gain {gain}, d {d}, Z {z}");
                assert_eq!(figures.hunting(), hunts, "{case}: {figures:?}");
                let outcome = if hunts {
                    Outcome::Unsettled
                } else {
                    Outcome::Settled
                };
                assert_eq!(figures.outcome, outcome, "{case}");
                *(if hunts { &mut hunt } else { &mut rest }) += 1;
            }
        }
    }
    assert!(hunt > 100 && rest > 100, "{hunt} {rest}");
}
