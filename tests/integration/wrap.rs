//! The wrap functions and rules, at every edge.

use halfturn_engine::angle::{NotFinite, fold, residual, sin_deg};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::Rule;
use halfturn_engine::scenario::Policy;
use proptest::prelude::*;

const ONE_BELOW_180: f64 = 180.0_f64.next_down();

/// Equivalent framings in a half circle from 0: common practice, no published source.
#[test]
fn a_half_circle_folds_equivalent_angles() {
    for (x, folded) in [(200.0, 20.0), (270.0, 90.0), (-0.5, 179.5), (180.5, 0.5)] {
        assert_eq!(fold(x, 0.0, 180.0), Ok(folded), "{x}");
    }
}

/// Shows (model 1): `mod` is never negative; rounding does not break the half-open intervals: -1e-17 folds to 0. With:
/// `tiny_angles_around_the_seam_stay_inside`. Source: by hand.
/// Shows (model Where): an angle whose fold rounds to the open end gives `start`; no negative zero. With:
/// `half_a_period_is_a_positive_residual`. Source: by hand.
#[test]
fn the_arc_is_half_open_to_the_last_bit() {
    let zero_ish = [
        -1e-17,
        -f64::MIN_POSITIVE,
        -5e-324,
        -0.0,
        0.0,
        180.0,
        360.0,
        -180.0,
        -360.0,
    ];
    for x in zero_ish {
        assert_eq!(fold(x, 0.0, 180.0), Ok(0.0), "{x:e}");
        assert!(
            fold(x, 0.0, 180.0).is_ok_and(f64::is_sign_positive),
            "{x:e}"
        );
    }
    assert_eq!(fold(ONE_BELOW_180, 0.0, 180.0), Ok(ONE_BELOW_180));
    assert_eq!(
        fold(180.0_f64.next_up(), 0.0, 180.0),
        Ok(180.0_f64.next_up() - 180.0)
    );
    // The sum start + remainder may round to the open end.
    let start = 0.1;
    let x = start - 1e-15;
    assert!(fold(x, start, 180.0).is_ok_and(|y| y >= start && y < start + 180.0));
}

/// Shows (model 1): exactly half a period is a positive residual. Source: by hand.
#[test]
fn half_a_period_is_a_positive_residual() {
    for (x, r) in [
        (90.0, 90.0),
        (-90.0, 90.0),
        (270.0, 90.0),
        (90.0_f64.next_up(), 90.0_f64.next_up() - 180.0),
        (-(90.0_f64.next_down()), -(90.0_f64.next_down())),
        (359.5, -0.5),
        (0.0, 0.0),
        (-0.0, 0.0),
        (-1e-17, 0.0), // the remainder rounds up to the period
        (720.25, 0.25),
    ] {
        assert_eq!(residual(x, 180.0), Ok(r), "{x}");
    }
    assert!(residual(-0.0, 180.0).is_ok_and(f64::is_sign_positive));
}

/// Shows (model 1): an angle that is not finite is an error. Source: by hand.
#[test]
fn what_is_not_finite_is_refused() {
    for x in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(matches!(fold(x, 0.0, 180.0), Err(NotFinite::Angle { .. })));
        assert!(matches!(fold(0.0, x, 180.0), Err(NotFinite::Angle { .. })));
        assert!(matches!(fold(0.0, 0.0, x), Err(NotFinite::Period(_))));
        assert!(residual(x, 180.0).is_err());
        assert!(residual(1.0, x).is_err());
    }
    for period in [0.0, -180.0] {
        assert!(fold(1.0, 0.0, period).is_err());
        assert!(residual(1.0, period).is_err());
    }
}

/// Shows (model 1): numbers are IEEE double precision; the sine is that of degrees. With:
/// `the_sine_agrees_with_the_platform`. Source: Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 4.3.46;
/// the platform's sine.
#[test]
fn the_sine_is_exact_on_the_axes() {
    for (angle, sine) in [
        (0.0, 0.0),
        (90.0, 1.0),
        (180.0, 0.0),
        (270.0, -1.0),
        (-90.0, -1.0),
        (360.0, 0.0),
        (450.0, 1.0),
    ] {
        assert_eq!(sin_deg(angle), sine, "{angle}");
    }
    let one_ulp = 2e-16;
    assert!((sin_deg(30.0) - 0.5).abs() <= one_ulp);
    assert!((sin_deg(45.0) - 0.5_f64.sqrt()).abs() <= one_ulp);
    assert!((sin_deg(60.0) - 0.75_f64.sqrt()).abs() <= one_ulp);
}

fn wrap(
    rule: Rule,
    symmetry: u32,
    arc_start_deg: f64,
    band_deg: f64,
) -> halfturn_engine::controller::Wrap {
    Policy {
        rule,
        symmetry,
        arc_start_deg,
        band_deg,
    }
    .wrap(Travel::Endless)
}

/// Shows (model 5): full circle, half circle, fold once, hysteresis band: `again(wanted)`. With:
/// `vectors::vectors_agree_with_exact_arithmetic`. Source: by hand; exact fractions in Python; the rules: common
/// practice, no published source.
/// Shows (model 5): the band is closed below and open above. With:
/// `judge_properties::the_arc_is_half_open_and_the_band_widens_it`. Source: by hand.
#[test]
fn each_rule_treats_a_correction_across_the_seam_in_its_own_way() {
    let commands = |rule| {
        let w = wrap(rule, 2, 0.0, 2.0);
        [-0.5, 180.5, -2.0, -2.25, 181.75, 182.0].map(|x| w.correction(x).drive_deg)
    };
    assert_eq!(
        commands(Rule::HalfCircle),
        [179.5, 0.5, 178.0, 177.75, 1.75, 2.0]
    );
    // The band is closed below and open above.
    assert_eq!(
        commands(Rule::HysteresisBand),
        [-0.5, 180.5, -2.0, 177.75, 181.75, 2.0]
    );
    assert_eq!(
        commands(Rule::FoldOnce),
        [-0.5, 180.5, -2.0, -2.25, 181.75, 182.0]
    );
    let full = wrap(Rule::FullCircle, 1, 0.0, 2.0);
    assert_eq!(
        [-0.5, 360.0, 180.5].map(|x| full.correction(x).drive_deg),
        [359.5, 0.0, 180.5]
    );
}

/// Shows (model 5): `first(wanted)` folds under every rule. Source: by hand.
#[test]
fn the_first_move_folds_under_every_rule() {
    for rule in [Rule::HalfCircle, Rule::HysteresisBand, Rule::FoldOnce] {
        let first = wrap(rule, 2, 0.0, 2.0).first(-0.5);
        assert_eq!(first.drive_deg, 179.5, "{rule}");
        assert!(first.folded());
    }
}

/// Shows (model 5): endless: `wanted` is first brought into `(centre - 180, centre + 180]`. With:
/// `vectors::vectors_agree_with_exact_arithmetic`. Source: by hand; exact fractions in Python.
/// Shows (model Where): "within 180 degrees of the centre" is `centre + residual(wanted - centre, 360)`; what lies
/// within is not changed. Source: by hand.
#[test]
fn endless_readings_come_within_half_a_turn_of_the_centre() {
    // The reading has counted two turns; the centre is 90.
    let w = wrap(Rule::FoldOnce, 2, 0.0, 0.0);
    assert_eq!(w.correction(725.2).drive_deg, 725.2 - 720.0);
    assert_eq!(w.correction(270.0).drive_deg, 270.0); // exactly half a turn above stays
    assert_eq!(w.correction(-90.0).drive_deg, 270.0); // exactly half a turn below does not
}

fn arcs() -> impl Strategy<Value = (f64, f64)> {
    (
        -720.0..720.0_f64,
        prop::sample::select(vec![90.0, 180.0, 360.0]),
    )
}

proptest! {
    /// Shows (model 1): `fold` puts an angle into `[start, start + period)`, on the same framing. With:
    /// `a_half_circle_folds_equivalent_angles`. Source: by hand; that the angles frame the same: common practice, no
    /// published source.
    #[test]
    fn folding_lands_in_the_arc_on_the_same_framing(x in -1e5..1e5_f64, (start, period) in arcs()) {
        let y = fold(x, start, period)?;
        prop_assert!(y >= start && y < start + period);
        let turns = (x - y) / period;
        // Rounding of x itself: 1e5 degrees have a spacing of 1.5e-11.
        prop_assert!((turns - turns.round()).abs() < 1e-9, "{turns}");
        prop_assert!((fold(y, start, period)? - y).abs() < 1e-9 || y < start + 1e-9, "folding twice");
    }

    /// Shows (model 1): `residual` is the nearest way, in `(-period/2, period/2]`. Source: by hand, from the
    /// definition.
    #[test]
    fn residuals_are_the_nearest_way(x in -1e5..1e5_f64, (_, period) in arcs()) {
        let r = residual(x, period)?;
        prop_assert!(r > -0.5 * period && r <= 0.5 * period);
        let turns = (x - r) / period;
        prop_assert!((turns - turns.round()).abs() < 1e-9);
        prop_assert!((residual(r, period)? - r).abs() < 1e-9, "a residual is its own residual");
    }

    #[test]
    fn tiny_angles_around_the_seam_stay_inside(k in -4_i32..=4, ulps in -3_i32..=3, (start, period) in arcs()) {
        let mut x = start + f64::from(k) * period;
        for _ in 0..ulps.abs() {
            x = if ulps > 0 { x.next_up() } else { x.next_down() };
        }
        let y = fold(x, start, period)?;
        prop_assert!(y >= start && y < start + period, "{x:e} -> {y:e}");
    }

    /// The platform's sine is good to an ulp after its own reduction in radians.
    /// Shows (files): results do not differ between processors. With:
    /// `crates/engine/src/run/normal.rs::the_logarithm_is_good_to_the_last_place`. Source: the platform's functions
    /// (own functions; one machine).
    #[test]
    fn the_sine_agrees_with_the_platform(angle in -720.0..720.0_f64) {
        let allowed = 4e-15; // 720 degrees in radians are rounded at 2e-15
        prop_assert!((sin_deg(angle) - angle.to_radians().sin()).abs() < allowed);
    }
}
