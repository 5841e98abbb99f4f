//! Runs of the loop worked out by hand from docs/model.md, sections 2 to 6, on rigs with one or two errors.
//!
//! Where nothing is named beside a test, its numbers are by hand; no source outside the project has them.

use halfturn_engine::plant::{PlannedMove, Plant};
use halfturn_engine::run::Outcome;

use crate::rigs::{agrees, perfect, tallied, traced};

/// Sums of a few tens of degrees or seconds.
const ROUNDING: f64 = 1e-9;

const STOPS: &str = "drive.travel=stops";

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < ROUNDING
}

fn residuals(keys: &[&str], target_deg: f64) -> Vec<f64> {
    let (_, rows) = traced(&perfect(keys), target_deg);
    rows.iter()
        .filter_map(|r| r.solved)
        .map(|s| s.residual_deg)
        .collect()
}

/// The goal is 100.2, beyond the stop at 100.1; on the steps it would be 100, inside. The stop at 99.9 permits 99.9,
/// which ends on the step beyond it.
/// Shows (model 2): the stops are asked before a goal is rounded to the step. Source: by hand.
/// Shows (model Where): the overrun is cut before it is quantised; a reading can lie half a step beyond a stop. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: by hand; independent program (overrun cut
/// at the stop).
#[test]
fn stops_are_asked_before_the_goal_is_rounded() {
    let plant = |stop: &str| {
        Plant::new(&perfect(&[
            STOPS,
            "drive.stop_from_deg=0",
            stop,
            "drive.step_deg=0.5",
        ]))
    };
    let to = |to_deg| PlannedMove::Move {
        via_deg: None,
        to_deg,
    };
    let above = plant("drive.stop_to_deg=100.1");
    assert_eq!(above.plan(90.0, 100.2), PlannedMove::Refused);
    assert_eq!(above.plan(90.0, 100.1), to(100.0));
    assert_eq!(plant("drive.stop_to_deg=99.9").plan(90.0, 99.9), to(100.0));
}

/// 0.15 / 0.1 is 1.4999999999999998, and 0.25 / 0.1 is 2.5.
/// Shows (model 2): the step divides by plain IEEE division, without an epsilon. Source: IEEE 754, quotients by hand.
#[test]
fn the_half_of_a_step_is_divided_without_an_epsilon() {
    let plant = Plant::new(&perfect(&[
        STOPS,
        "drive.stop_from_deg=-10",
        "drive.stop_to_deg=100",
        "drive.step_deg=0.1",
    ]));
    for (goal, steps) in [(0.15, 1.0), (0.25, 3.0), (-0.15, -1.0), (-0.25, -3.0)] {
        let expected = PlannedMove::Move {
            via_deg: None,
            to_deg: steps * 0.1,
        };
        assert_eq!(plant.plan(7.0, goal), expected, "{goal}");
    }
}

/// Shows (model 2): refused: nothing moves, no time passes, the run ends. Source: by hand.
/// Shows (model 5): fold once: only stops hold a correction. Source: by hand.
#[test]
fn a_refused_command_moves_nothing_takes_no_time_and_ends_the_run() {
    let stops = ["drive.stop_from_deg=0", "drive.stop_to_deg=100", STOPS];
    let (f, _) = traced(&perfect(&stops), 150.0);
    assert_eq!(f.outcome, Outcome::Refused);
    assert_eq!((f.moves, f.solves, f.travel_deg), (0, 0, 0.0));
    assert_eq!((f.elapsed_s, f.true_error_deg), (0.0, None));

    // Fold once: 9.9 deg to the target, a solve that is 0.5 off, and a correction to 100.4.
    let later = [
        &stops[..],
        &[
            "wrap.rule=fold-once",
            "solve.bias_deg=-0.5",
            "loop.tolerance_deg=0.1",
        ],
    ]
    .concat();
    let (f, rows) = traced(&perfect(&later), 99.9);
    assert_eq!(f.outcome, Outcome::Refused);
    assert_eq!((f.moves, f.solves), (1, 1));
    assert!(close(f.elapsed_s, 9.9 / 3.0 + 1.0 + 7.0), "{f:?}");
    assert!(f.true_error_deg.is_some_and(|e| close(e, 0.0)), "{f:?}");
    assert!(rows.last().is_some_and(|r| r.refused));
}

/// Corrections round to the step where the drive stands, so that every solve finds the same. The overhead is 1 s, a
/// solve takes 7 s.
/// Shows (model 2): no move: backlash and repeatability stay, no move is counted, the overhead is spent and a solve
/// follows, for every approach. Source: by hand.
#[test]
fn a_command_that_moves_nothing_keeps_the_repeatability_error_and_spends_its_overhead() {
    for approach in ["direct", "from-below", "from-above"] {
        let keys = [
            "drive.park_deg=60",
            "drive.step_deg=10",
            "drive.repeatability_deg=0.5",
            "drive.backlash_deg=0.4",
            "loop.tolerance_deg=0.000001",
            "loop.max_solves=4",
            "loop.overrun_deg=10",
            &format!("loop.approach={approach}"),
        ];
        let found = residuals(&keys, 90.0);
        assert_eq!(found.len(), 4);
        assert!(found[0].abs() > 1e-6 && found[0].abs() < 5.0);
        assert!(found.iter().all(|e| *e == found[0]), "{found:?}");
        let (f, _) = traced(&perfect(&keys), 90.0);
        let turned = if approach == "from-above" { 50.0 } else { 30.0 };
        assert_eq!((f.moves, f.travel_deg), (1, turned), "{approach}");
        assert!(
            close(f.elapsed_s, turned / 3.0 + 4.0 * (1.0 + 7.0)),
            "{approach}"
        );
    }
}

/// Shows (model 2): a one-sided approach: travel and time count both legs; one overhead a command; the move's size is
/// `|p' - p|`. Source: by hand.
/// Shows (model Where): each leg starts and ends at rest. Source: by hand.
/// Shows (model Where): the first move counts in travel and winding and is no long swing; winding sees the first leg;
/// overrun is no swing. With: `the_figures_of_a_run`. Source: by hand.
#[test]
fn a_one_sided_approach_counts_both_its_legs() {
    let run = |approach: &str, target, more: &[&str]| {
        let approach = format!("loop.approach={approach}");
        let keys = [&[approach.as_str(), "loop.overrun_deg=1.5"], more].concat();
        traced(&perfect(&keys), target)
    };
    // From 90 to 40: down to 38.5 and up; down to 41.5 and on. Winding sees the end of the first leg.
    for (approach, travel, winding) in [("from-below", 53.0, 51.5), ("from-above", 50.0, 50.0)] {
        let (f, _) = run(approach, 40.0, &[]);
        assert_eq!((f.moves, f.travel_deg, f.winding_deg), (1, travel, winding));
        assert!(close(f.elapsed_s, travel / 3.0 + 1.0 + 7.0), "{f:?}");
    }
    // Each leg starts and ends at rest: 51.5 / 3 + 3 / 2, and 2 sqrt(1.5 / 2), below the 4.5 deg that 3 deg/s take.
    let (f, _) = run("from-below", 40.0, &["drive.acceleration_deg_per_s2=2"]);
    let legs = 51.5 / 3.0 + 1.5 + 2.0 * 0.75_f64.sqrt();
    assert!(close(f.elapsed_s, legs + 1.0 + 7.0), "{f:?}");
    // A correction by 90 from 5 to 95 by way of 96.5: from reading to reading it is no long swing.
    let (f, rows) = run(
        "from-above",
        5.0,
        &["solve.bias_deg=-90", "loop.max_solves=2"],
    );
    assert_eq!((rows[1].reading_deg, rows[1].via_deg), (95.0, Some(96.5)));
    assert_eq!(f.long_swings, 0);
}

/// Sense -1, a gain error of 1 %, half a cycle a turn and a whole one, and a field that turns by 0.01 deg/s whatever the sense.
/// At 60 deg: 60.6 + 2 sin 30 + cos 60 = 62.1, after 10 s of way, 1 s of overhead and 4 s of exposure. At 420 deg, a turn on, the
/// half cycle is at its other side: 424.2 + 2 sin 210 + cos 60 = 423.7, after 5 s.
/// Shows (model 2): from shaft to sky: gain error, periodic errors in degrees, repeatability, sense, field rotation;
/// `theta` modulo 360; cycles need not be whole; `y` is not reduced by whole turns. Source: by hand.
/// Shows (model 3): the controller gets `theta_hat` in `[0, 360)`. Source: by hand.
/// Shows (model 4): the first move is `believed_sense * (tau - zero_point)`, without a solve. With:
/// `seam_oscillation::one_periodic_error_makes_a_seam_target_hunt_by_itself`. Source: by hand.
/// Shows (model Where): field rotation sees all time, failures too, and not the sense. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: by hand; independent program (confirm
/// three, failures, field rotation).
#[test]
fn from_the_shaft_to_the_sky() {
    for (park, angle) in [("90", 10.0 - 62.1 + 0.15), ("420", 10.0 - 423.7 + 0.05)] {
        let rig = perfect(&[
            "drive.zero_point_deg=10",
            "drive.sense=-1",
            "loop.believed_sense=-1",
            "drive.gain_error=0.01",
            "drive.periodic=[{cycles=0.5,amplitude_deg=2},{cycles=1,amplitude_deg=1,phase_deg=90}]",
            "loop.field_rotation_deg_per_s=0.01",
            &format!("drive.park_deg={park}"),
        ]);
        let (_, rows) = traced(&rig, -50.0);
        let solved = rows[0].solved.expect("a solve");
        let expected = f64::rem_euclid(angle, 360.0);
        assert!(
            close(solved.true_angle_deg, expected),
            "{solved:?} {expected}"
        );
        assert!((0.0..360.0).contains(&solved.position_angle_deg));
        let residual = f64::rem_euclid(-50.0 - angle + 90.0, 180.0) - 90.0;
        assert!(close(solved.residual_deg, residual), "{solved:?}");
    }
}

/// Repeatability alone, 0.3°. The first solve finds one deviate. With a zero point that is hardly known the second one
/// finds the difference of two, since the new one replaces the old: within root 2 sigma with the probability of one
/// sigma, 2 P(1) - 1. Two comparisons at 5 sigma: a false alarm below 2e-6; 200 000 runs, seeds 21 and 22.
/// Shows (model 2): repeatability is drawn at each real move from `N(0, repeatability)` and replaces the old. Source:
/// Abramowitz & Stegun 1964, table 26.1.
#[test]
fn repeatability_error_is_drawn_anew_and_replaces_the_old() {
    const WITHIN_ONE: f64 = 0.682_689_492_1;
    let trials = 200_000;
    let seated = "drive.repeatability_deg=0.3";
    let first = tallied(
        &perfect(&[seated, "loop.tolerance_deg=0.3"]),
        40.0,
        trials,
        21,
    );
    assert!(agrees(first.solves().times(1), trials, WITHIN_ONE, 5.0));

    let tolerance = format!("loop.tolerance_deg={}", 0.3 * std::f64::consts::SQRT_2);
    let unknown = perfect(&[seated, "drive.zero_point_sigma_deg=40", &tolerance]);
    let tally = tallied(&unknown, 40.0, trials, 22);
    let rest = trials - tally.solves().times(1);
    let second = tally.solves().times(2);
    assert!(agrees(second, rest, WITHIN_ONE, 5.0), "{second} of {rest}");
}

/// Shows (model 3): a failed attempt takes `exposure + failure_time`. Source: by hand.
/// Shows (model Where): elapsed time of unsolved and refused runs; true error without a good solve. With:
/// `a_refused_command_moves_nothing_takes_no_time_and_ends_the_run`. Source: by hand.
#[test]
fn failed_attempts_take_their_time() {
    // The drive stands there already: 1 s of overhead, then three times 4 s of exposure and 20 s lost.
    let rig = perfect(&["solve.failure_rate=1", "solve.max_failures=3"]);
    let (f, _) = traced(&rig, 90.0);
    assert_eq!(f.outcome, Outcome::Unsolved);
    assert_eq!((f.failed_attempts, f.solves), (3, 0));
    assert_eq!((f.elapsed_s, f.true_error_deg), (1.0 + 3.0 * 24.0, None));
}

/// Two passes in a row out of two solves, where each solve comes with 1 - f^2. One comparison at 5 sigma, 200 000 runs,
/// seed 23.
/// Shows (model Where): a failed attempt does not break a row of passes; a good solve sets the failures back. Source:
/// geometric chain, by hand.
#[test]
fn a_good_solve_sets_the_count_of_failures_back() {
    let rig = perfect(&[
        "solve.failure_rate=0.4",
        "solve.max_failures=2",
        "loop.confirm=2",
        "loop.max_solves=2",
    ]);
    let tally = tallied(&rig, 90.0, 200_000, 23);
    let solved: f64 = 1.0 - 0.4 * 0.4;
    assert!(agrees(tally.settled, 200_000, solved * solved, 5.0));
    assert_eq!(tally.settled + tally.unsolved, 200_000);
}

/// Each of three solves passes with p = 2 P(1) - 1, since corrections are all but nothing: settled are pass-pass and
/// miss-pass-pass, not pass-miss-pass. One comparison at 5 sigma, 200 000 runs, seed 24.
/// Shows (model 4): a solve out of tolerance sets the passes to 0. Source: Abramowitz & Stegun 1964, table 26.1.
#[test]
fn a_solve_out_of_tolerance_breaks_a_row_of_passes() {
    let rig = perfect(&[
        "solve.noise_deg=0.5",
        "loop.tolerance_deg=0.5",
        "loop.correction=0.001",
        "loop.confirm=2",
        "loop.max_solves=3",
    ]);
    let tally = tallied(&rig, 90.0, 200_000, 24);
    let p: f64 = 0.682_689_492_1;
    let settled = p * p * (2.0 - p);
    assert!(
        agrees(tally.settled, 200_000, settled, 5.0),
        "{}",
        tally.settled
    );
}

/// Of the residual 1 - c is left, in the wrong sense 1 + c.
/// Shows (model 4): a correction goes to `p + correction * believed_sense * e`. Source: by hand.
/// Shows (model 8): wrong sense: `e` becomes `residual((1 + correction) * e, period)`. With:
/// `closed_forms::a_wrong_sense_doubles_every_error`, `exact_closed_forms::a_wrong_sense_doubles_the_error`. Source: by
/// hand.
#[test]
fn a_partial_correction_leaves_its_share_and_a_wrong_sense_adds_it() {
    let off = [
        "solve.bias_deg=-8",
        "loop.tolerance_deg=0.001",
        "loop.max_solves=5",
    ];
    for (keys, factor) in [
        (&["loop.correction=0.25"][..], 0.75),
        (&["loop.correction=0.5", "loop.believed_sense=-1"], 1.5),
    ] {
        let found = residuals(&[&off[..], keys].concat(), 90.0);
        assert_eq!(found.len(), 5);
        for (k, e) in (0..).zip(&found) {
            assert!(close(*e, 8.0 * f64::powi(factor, k)), "{found:?}");
        }
    }
}

/// The eccentric rig of section 7, three solves: 90 -> 0 -> 179.5 -> 0.5, with a keep-out from 100 to 110 that both swings go
/// through. The sine half a degree off its top is 2e-5 short.
/// Shows (model 6): one run: outcome, solves, failed attempts, moves, travel, winding, elapsed time, long swings,
/// hunting, true error, degrees outside the arc and in keep-outs. With: `a_one_sided_approach_counts_both_its_legs`.
/// Source: by hand.
/// Shows (model Where): only the hysteresis band widens the arc; with the others `band` has no effect. Source: by hand.
#[test]
fn the_figures_of_a_run() {
    let keys = [
        "drive.periodic=[{cycles=1,amplitude_deg=0.5,phase_deg=90}]",
        "keep_out=[{from_deg=100,to_deg=110}]",
        "loop.tolerance_deg=0.4",
        "loop.max_solves=3",
        "wrap.band_deg=2",
    ];
    let near = |a: f64, b: f64| (a - b).abs() < 1e-3;
    let (f, _) = traced(&perfect(&keys), 0.0);
    assert_eq!(
        (f.outcome, f.solves, f.failed_attempts),
        (Outcome::Unsettled, 3, 0)
    );
    assert_eq!((f.moves, f.long_swings, f.hunting()), (3, 2, true));
    assert!(near(f.travel_deg, 90.0 + 179.5 + 179.0), "{f:?}");
    assert!(near(f.elapsed_s, 448.5 / 3.0 + 3.0 * (1.0 + 7.0)), "{f:?}");
    assert!(near(f.true_error_deg.unwrap_or(f64::NAN), 1.0), "{f:?}");
    assert!(
        close(f.winding_deg, 90.0) && close(f.keep_out_deg, 20.0),
        "{f:?}"
    );
    assert_eq!(f.outside_arc_deg, 0.0);

    // Half a degree below the arc: outside it under fold once, inside the band under the hysteresis band.
    for (rule, outside) in [("fold-once", 0.5), ("hysteresis-band", 0.0)] {
        let rule = format!("wrap.rule={rule}");
        let (f, _) = traced(&perfect(&[&keys[..], &[&rule]].concat()), 0.0);
        assert_eq!((f.outcome, f.long_swings), (Outcome::Settled, 0), "{rule}");
        assert!(near(f.outside_arc_deg, outside), "{rule}: {f:?}");
    }
}

/// One and a half times a residual of 80 is 120, from 5 to 125 and inside the arc; 85 on steps of 32 is 96. Both are longer than half a
/// period of 180.
/// Shows (model Where): with `correction > 1`, or a coarse step, a swing can be long without a fold. Source: by hand.
#[test]
fn a_swing_can_be_long_without_a_fold() {
    let more = ["solve.bias_deg=-80", "loop.correction=1.5"];
    let coarse = ["solve.bias_deg=-85", "drive.step_deg=32"];
    for (keys, target, reading) in [(more, 5.0, 125.0), (coarse, 0.0, 96.0)] {
        let keys = [&keys[..], &["loop.max_solves=2"]].concat();
        let (f, rows) = traced(&perfect(&keys), target);
        assert_eq!((rows[1].reading_deg, rows[1].folded), (reading, false));
        assert!(rows[1].long_swing && f.long_swings == 1, "{rows:?}");
    }
}

/// The drive stands at the target already. The residual of -80 is wanted at -75, which folds to 105.
/// Shows (model Where): a command after the first is a correction, even if the first moved nothing. Source: by hand.
#[test]
fn the_second_command_is_a_correction_though_the_first_moved_nothing() {
    let keys = [
        "drive.park_deg=5",
        "solve.bias_deg=80",
        "loop.max_solves=2",
        "wrap.band_deg=90",
    ];
    let (f, rows) = traced(&perfect(&keys), 5.0);
    assert_eq!((f.moves, rows[1].reading_deg, f.long_swings), (1, 105.0, 1));
    // It uses `again`: under the hysteresis band it stays in the band.
    let keys = [&keys[..], &["wrap.rule=hysteresis-band"]].concat();
    let (f, rows) = traced(&perfect(&keys), 5.0);
    assert_eq!((rows[1].reading_deg, f.long_swings), (-75.0, 0));
}

/// A residual is at most half a period, and on an endless full circle the drive turns by no more than that. Folded into half a circle
/// the same runs swing.
/// Shows (model 6): with `correction <= 1` a long swing exists only by a fold; an endless full circle has none. Source:
/// by hand.
#[test]
fn an_endless_full_circle_has_no_long_swing() {
    let swings = |more: &[&str]| {
        let wild = [
            "solve.noise_deg=30",
            "drive.zero_point_sigma_deg=60",
            "loop.tolerance_deg=0.5",
        ];
        let tally = tallied(&perfect(&[&wild, more].concat()), 40.0, 2000, 25);
        tally.long_swings.moments().mean().unwrap_or(f64::NAN)
    };
    for symmetry in [1, 2, 4] {
        let symmetry = format!("wrap.symmetry={symmetry}");
        assert_eq!(swings(&["wrap.rule=full-circle", &symmetry]), 0.0);
    }
    assert!(swings(&["wrap.rule=half-circle"]) > 1.0);
}
