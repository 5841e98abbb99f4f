//! The closed forms of docs/model.md, section 7, and each term alone. That simulated residuals keep the bound
//! is tested over twelve rigs in `tests/integration/advice_bound.rs`.

use super::*;
use crate::rig::read;

/// A rig without any error but the given ones.
fn bound(keys: &str) -> SwingBound {
    let perfect = "drive.step_deg=0 drive.backlash_deg=0 drive.repeatability_deg=0 \
        drive.zero_point_sigma_deg=0 solve.noise_deg=0";
    let keys: Vec<String> = perfect
        .split_whitespace()
        .chain(keys.split_whitespace())
        .map(str::to_owned)
        .collect();
    let rig = read("", "test", &keys).expect("a valid rig");
    SwingBound::of(&rig, Policy::of(&rig), 1e-3)
}

fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "{found} {expected}");
}

/// Shows (model 7): the error must differ between the ends of the arc: odd harmonics, gain, backlash, repeatability.
/// With: `seam_oscillation::each_error_hunts_if_it_is_smaller_at_the_upper_end`. Source: by hand.
/// Shows (advice 1): parts of R: harmonics. Source: by hand (model.md, section 7).
#[test]
fn one_harmonic_leaves_twice_its_amplitude() {
    let eccentric = "drive.periodic=[{cycles=1,amplitude_deg=0.3,phase_deg=90}]";
    let found = bound(eccentric);
    // Section 7: about 2 A, with terms of the order of A^2 in radians left out.
    assert!(
        found.residual_deg >= 0.6 && found.residual_deg < 0.6 + 0.01,
        "{found:?}"
    );
    assert_eq!(found.terms[0].name, "periodic error");
    assert!(found.anywhere_deg <= 0.6 + 1e-9);
    // An arc that starts a quarter of a turn on meets the error where it is the same at both ends.
    let turned = bound(&format!("{eccentric} wrap.arc_start_deg=90"));
    assert!(turned.residual_deg < 0.02, "{turned:?}");
    assert!((turned.anywhere_deg - found.anywhere_deg).abs() < 1e-9);
    // Two cycles a turn are the same at both ends of half a turn; at those of a quarter they are not.
    let even = "drive.periodic=[{cycles=2,amplitude_deg=0.3,phase_deg=90}]";
    assert!(bound(even).residual_deg < 0.02);
    assert!(bound(&format!("{even} wrap.symmetry=4")).residual_deg >= 0.6 - 1e-9);
}

/// Shows (advice 1): parts of R: backlash, step, gain error. With: `a_one_sided_approach_takes_the_play_away`. Source:
/// by hand.
#[test]
fn play_step_and_gain_leave_what_the_model_says() {
    near(bound("drive.backlash_deg=0.2").residual_deg, 0.2);
    near(bound("drive.step_deg=0.1").residual_deg, 0.05);
    near(bound("").residual_deg, 0.0);
    // gain * period, and a share of the residual that the correction answers.
    let gain = bound("drive.gain_error=0.01");
    assert!(
        gain.residual_deg >= 1.8 && gain.residual_deg < 1.9,
        "{gain:?}"
    );
}

#[test]
fn a_one_sided_approach_takes_the_play_away() {
    let both = "drive.backlash_deg=0.2 loop.approach=from-below";
    near(bound(both).residual_deg, 0.0);
    // An overrun of less than the backlash takes up only as much.
    near(
        bound(&format!("{both} loop.overrun_deg=0.15")).residual_deg,
        0.05,
    );
    // It is cut at a stop.
    let stops = "drive.travel=stops drive.stop_from_deg=0 drive.stop_to_deg=200";
    near(bound(&format!("{both} {stops}")).residual_deg, 0.2);
    near(
        bound(&format!("{both} {stops} loop.approach=from-above")).residual_deg,
        0.0,
    );
}

/// By hand: 5 s to solve, 1 s overhead, 180 degrees at 3 deg/s, 10 s of exposure; an overrun goes there and back.
#[test]
fn a_field_that_turns_does_so_all_the_way_of_a_swing() {
    let turning = "loop.field_rotation_deg_per_s=0.001 drive.speed_deg_per_s=3 drive.overhead_s=1 \
        solve.exposure_s=10 solve.solve_s=5 loop.overrun_deg=1.5";
    near(bound(turning).residual_deg, 0.076);
    let one_sided = format!("{turning} loop.approach=from-below");
    near(bound(&one_sided).residual_deg, 0.077);
}

/// Two-sided normal quantiles: 3.2905 for 1e-3, times the root of 2.
/// Shows (advice 1): parts of R: repeatability, noise, outliers, by quantiles. Source: Abramowitz & Stegun 1964,
/// table 26.5; Tukey 1960.
#[test]
fn noise_and_repeatability_error_leave_a_normal_quantile() {
    let noise = bound("solve.noise_deg=0.1").residual_deg;
    assert!(
        (noise - 3.290_53 * 2.0_f64.sqrt() * 0.1).abs() < 1e-5,
        "{noise}"
    );
    let both = bound("solve.noise_deg=0.3 drive.repeatability_deg=0.4");
    assert!((both.residual_deg - 3.290_53 * 2.0_f64.sqrt() * 0.5).abs() < 1e-5);
    let sizes: Vec<(&str, f64)> = both.terms.iter().map(|t| (t.name, t.size_deg)).collect();
    assert_eq!((sizes[0].0, sizes[1].0), ("repeatability", "solve noise"));
    near(sizes[0].1 / sizes[1].1, 0.16 / 0.09);
    // All outliers is a normal distribution again.
    let wild = bound("solve.noise_deg=0.1 solve.outlier_rate=1 solve.outlier_deg=2").residual_deg;
    assert!((wild - 3.290_53 * 8.0_f64.sqrt()).abs() < 1e-4, "{wild}");
}

/// Shows (advice 1): parts of R: correction factor, wrong sense. Source: by hand.
#[test]
fn a_correction_factor_leaves_its_share_and_a_wrong_sense_everything() {
    let half = bound("drive.zero_point_sigma_deg=0.5 loop.correction=0.5");
    assert!(
        (half.residual_deg - 0.5 * 3.290_53 * 0.5).abs() < 1e-5,
        "{half:?}"
    );
    let wrong = bound("drive.zero_point_sigma_deg=0.5 loop.believed_sense=-1");
    assert!(wrong.capped || wrong.residual_deg > 3.0, "{wrong:?}");
    let hopeless = bound("drive.backlash_deg=1 loop.correction=2");
    assert!(
        hopeless.capped && hopeless.residual_deg == 90.0,
        "{hopeless:?}"
    );
}

/// Shows (advice 1): the parts of R together, and the distance that a target needs from the seam. Source: by hand.
/// Shows (credibility): the distance needed follows the zero point by 3.3 sigma at the usual tail. With:
/// `advice_bound::a_target_at_the_margin_does_not_swing_more_often_than_stated`. Source: Abramowitz & Stegun 1964,
/// table 26.5.
#[test]
fn the_terms_add_up_and_the_margin_adds_the_first_move() {
    let found = bound(
        "drive.backlash_deg=0.2 drive.step_deg=0.02 solve.noise_deg=0.02 drive.repeatability_deg=0.02 \
        drive.zero_point_sigma_deg=0.5 solve.bias_deg=-0.1 loop.field_rotation_deg_per_s=0.001 \
        drive.periodic=[{cycles=1,amplitude_deg=0.15,phase_deg=90},{cycles=3,amplitude_deg=0.02}]",
    );
    let sum: f64 = found.terms.iter().map(|t| t.size_deg).sum();
    near(found.residual_deg, sum);
    let added: f64 = found.first_move.iter().map(|t| t.size_deg).sum();
    near(found.seam_distance_deg, sum + added);
    assert!(added > 3.29 * 0.5 + 0.1 - 1e-3);
    assert!(found.residual_deg <= found.anywhere_deg + 1e-9);
    assert!(!found.no_seam && bound("wrap.rule=full-circle").no_seam);
}
