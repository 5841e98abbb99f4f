//! The play operator and the mechanics around it.

use halfturn_engine::plant::{PlannedMove, Plant, Shaft, driven_side_deg};
use halfturn_engine::rig::Rig;
use proptest::prelude::*;

use crate::rigs::{perfect, traced};

/// Moves the shaft through commands and returns output minus reading after each.
fn lag(rig: &Rig, commands: &[f64]) -> Vec<f64> {
    let plant = Plant::new(rig);
    let mut shaft = Shaft::at(rig.settings().drive.park_deg);
    commands
        .iter()
        .map(|c| {
            let plan = plant.plan(shaft.reading_deg, *c);
            plant.carry_out(&mut shaft, &plan, 0.0);
            shaft.output_deg - shaft.reading_deg
        })
        .collect()
}

/// Shows (model 2): a run starts at `p = y = park`, not quantised, with repeatability 0 at time 0. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: independent program (coarse step, park
/// between steps); by hand.
/// Shows (model 2): backlash: `y' = min(max(y, q - B/2), q + B/2)` after each leg. With:
/// `play_keeps_within_half_its_width`, `play_does_not_depend_on_how_a_stroke_is_divided`. Source: Krasnosel'skii &
/// Pokrovskii 1989, Systems with Hysteresis, section 2; Nordin & Gutman 2002, Automatica 38, 1633.
#[test]
fn the_loop_of_the_play_operator() {
    let rig = perfect(&["drive.backlash_deg=1.0", "drive.park_deg=0"]);
    let commands = [0.25, 0.5, 2.0, 5.0, 4.5, 4.0, 2.0, 3.0, 2.5];
    let expected = [-0.25, -0.5, -0.5, -0.5, 0.0, 0.5, 0.5, -0.5, 0.0];
    assert_eq!(lag(&rig, &commands), expected);
}

/// Shows (model 2): one-sided approach: two legs, so that backlash is taken up from the same side. Source: by hand.
/// Shows (model 8): backlash alone: the lag of a one-sided approach is `B/2`, and the next correction removes it. With:
/// `exact_closed_forms::play_alone_is_removed_by_the_next_correction`. Source: by hand.
#[test]
fn a_one_sided_approach_always_ends_on_the_same_side() {
    for (approach, side) in [("from-below", -0.5), ("from-above", 0.5)] {
        let approach = format!("loop.approach={approach}");
        let rig = perfect(&["drive.backlash_deg=1.0", "loop.overrun_deg=1.5", &approach]);
        for lag in lag(&rig, &[30.0, 10.0, 60.0, 59.0, 59.5]) {
            assert_eq!(lag, side);
        }
        // Section 8 of the model: the error is constant, and the next solve removes it.
        let (figures, rows) = traced(
            &perfect(&[
                "drive.backlash_deg=1.0",
                "loop.overrun_deg=1.5",
                "loop.tolerance_deg=0.1",
                &approach,
            ]),
            40.0,
        );
        assert_eq!(figures.solves, 2);
        assert_eq!(rows[0].solved.map(|s| s.residual_deg), Some(-side));
        assert_eq!(figures.true_error_deg, Some(0.0));
    }
}

/// Shows (model 2): an overrun smaller than the backlash does not take it up; a warning. Source: by hand.
#[test]
fn an_overrun_below_the_play_defeats_itself_and_warns() {
    let rig = perfect(&[
        "drive.backlash_deg=1.0",
        "loop.overrun_deg=0.25",
        "loop.approach=from-below",
    ]);
    // Downwards the backlash is on the other side, and 0.25 does not take it up.
    assert_eq!(lag(&rig, &[60.0]), [0.5 - 0.25]);
    assert!(rig.warnings().iter().any(|w| w.key == "loop.overrun_deg"));
}

/// Shows (model 2): between stops: along the line, the closed interval `[lo, hi]`; outside it refused. With:
/// `vectors::vectors_agree_with_exact_arithmetic`. Source: by hand; exact fractions in Python.
/// Shows (model 2): the first end of a one-sided approach is cut at a stop. Source: by hand.
#[test]
fn the_overrun_is_cut_at_a_stop() {
    let rig = perfect(&[
        "drive.travel=stops",
        "drive.stop_from_deg=0",
        "drive.stop_to_deg=200",
        "loop.approach=from-below",
        "loop.overrun_deg=5",
    ]);
    let plan = Plant::new(&rig).plan(90.0, 2.0);
    assert_eq!(
        plan,
        PlannedMove::Move {
            via_deg: Some(0.0),
            to_deg: 2.0
        }
    );
    assert_eq!(
        Plant::new(&rig).plan(90.0, 200.0),
        PlannedMove::Move {
            via_deg: Some(195.0),
            to_deg: 200.0
        }
    );
    assert_eq!(
        Plant::new(&rig).plan(90.0, 200.0_f64.next_up()),
        PlannedMove::Refused
    );
    assert_eq!(Plant::new(&rig).plan(90.0, -1e-9), PlannedMove::Refused);
}

/// Shows (model 2): readings are rounded to the step, halves away from zero. Source: by hand.
#[test]
fn halves_of_a_step_round_away_from_zero() {
    let rig = perfect(&["drive.step_deg=0.5"]);
    let plant = Plant::new(&rig);
    let ends = |c| match plant.plan(7.0, c) {
        PlannedMove::Move { to_deg, .. } => to_deg,
        PlannedMove::Still | PlannedMove::Refused => f64::NAN,
    };
    assert_eq!(
        [0.25, -0.25, 0.249, 0.75, 1.25].map(ends),
        [0.5, -0.5, 0.0, 1.0, 1.5]
    );
    assert_eq!(plant.plan(7.0, 7.2), PlannedMove::Still);
}

/// Shows (model 2): endless: the short way, readings count turns. With: `vectors::vectors_agree_with_exact_arithmetic`.
/// Source: by hand; exact fractions in Python.
/// Shows (model Where): exactly half a turn away goes upwards. Source: by hand.
#[test]
fn the_drive_takes_the_short_way_and_counts_turns() {
    let plant = Plant::new(&perfect(&[]));
    assert_eq!(
        plant.plan(350.0, 10.0),
        PlannedMove::Move {
            via_deg: None,
            to_deg: 370.0
        }
    );
    assert_eq!(
        plant.plan(730.0, 20.0),
        PlannedMove::Move {
            via_deg: None,
            to_deg: 740.0
        }
    );
    // Exactly half a turn goes upwards.
    assert_eq!(
        plant.plan(0.0, 180.0),
        PlannedMove::Move {
            via_deg: None,
            to_deg: 180.0
        }
    );
    assert_eq!(
        plant.plan(0.0, -180.0),
        PlannedMove::Move {
            via_deg: None,
            to_deg: 180.0
        }
    );
}

/// Shows (model 2): time of a leg: `d/v`; with acceleration `d/v + v/a` where the speed is reached, else `2 sqrt(d/a)`;
/// overhead. Source: Halliday, Resnick & Walker, Fundamentals of Physics, chapter 2.
#[test]
fn a_leg_takes_the_time_of_uniform_acceleration() {
    let slow = perfect(&[
        "drive.speed_deg_per_s=4",
        "drive.acceleration_deg_per_s2=2",
        "drive.overhead_s=1",
    ]);
    let plant = Plant::new(&slow);
    let time = |to| plant.duration_s(90.0, &plant.plan(90.0, to));
    assert_eq!(time(92.0), 1.0 + 2.0); // 2 sqrt(2 / 2)
    assert_eq!(time(96.0), 1.0 + 2.0 * 3.0_f64.sqrt()); // 6 deg: never at 4 deg/s
    assert_eq!(time(98.0), 1.0 + 4.0); // 8 deg: just reaches 4 deg/s
    assert_eq!(time(110.0), 1.0 + 5.0 + 2.0);
    assert_eq!(time(90.0), 1.0);
}

proptest! {
    #[test]
    fn play_keeps_within_half_its_width(y in -500.0..500.0_f64, p in -500.0..500.0_f64, width in 0.0..45.0_f64) {
        let next = driven_side_deg(y, p, width);
        prop_assert!((next - p).abs() <= 0.5 * width + 1e-12);
        prop_assert_eq!(driven_side_deg(next, p, width), next, "at rest nothing changes");
        // The driven side never moves more than it has to.
        prop_assert!((next - y).abs() <= ((p - y).abs() - 0.5 * width).max(0.0) + 1e-9);
    }

    #[test]
    fn play_does_not_depend_on_how_a_stroke_is_divided(
        start in -10.0..10.0_f64, end in -10.0..10.0_f64, parts in 1_u32..20, width in 0.0..5.0_f64,
    ) {
        let whole = driven_side_deg(start, end, width);
        let mut y = start;
        for i in 1..=parts {
            let p = start + (end - start) * f64::from(i) / f64::from(parts);
            y = driven_side_deg(y, p, width);
        }
        prop_assert!((y - whole).abs() < 1e-9);
    }
}
