//! The bound printed beside an exact figure: a grid twice as fine moves the figure by less.

use halfturn_engine::exact::{Bounded, BoundedSpread, Precision, Solution, check, solve};
use halfturn_engine::rig::{DEMO_RIG, read};
use halfturn_engine::scenario::{Policy, Scenario};

use crate::exact_rigs::{Drawn, drawn};

/// Rigs that are drawn, with other seeds than those that runs are compared with.
const RIGS: u64 = 120;

/// Of a rig that is looked at. The finer grid may take more.
const MOST_WORK: u64 = 4_000_000;

fn figures(s: &Solution) -> Vec<(&'static str, Bounded)> {
    let mut out = vec![
        ("settled", s.settled),
        ("unsettled", s.unsettled),
        ("unsolved", s.unsolved),
        ("refused", s.refused),
        ("hunting", s.hunting),
        ("stuck", s.stuck),
        ("ended badly", s.ended_badly),
        ("keep-out", s.keep_out),
        ("elapsed", s.elapsed_s),
        ("failed attempts", s.failed_attempts),
        ("moves", s.moves),
        ("travel", s.travel_deg),
        ("outside", s.outside_arc_deg),
        ("keep-out deg", s.keep_out_deg),
    ];
    let mut spread = |names: [&'static str; 4], spread: &BoundedSpread| {
        out.push((names[0], spread.mean));
        let quantiles = names[1..].iter().zip(spread.quantiles);
        out.extend(quantiles.filter_map(|(name, q)| Some((*name, q?))));
    };
    spread(
        ["solves", "solves 50 %", "solves 90 %", "solves 99 %"],
        &s.solves,
    );
    spread(
        ["swings", "swings 50 %", "swings 90 %", "swings 99 %"],
        &s.long_swings,
    );
    if let Some(time) = &s.settle_time_s {
        spread(["time", "time 50 %", "time 90 %", "time 99 %"], time);
    }
    if let Some(error) = &s.true_error_deg {
        spread(["error", "error 50 %", "error 90 %", "error 99 %"], error);
    }
    // Where it is open whether so many settle at all, the finer grid may have none.
    for (i, (name, share)) in [
        ("within 50 %", 0.5),
        ("within 90 %", 0.9),
        ("within 99 %", 0.99),
    ]
    .into_iter()
    .enumerate()
    {
        let open = (s.settled.value - share).abs() <= s.settled.bound;
        out.extend(s.settled_within_s[i].filter(|_| !open).map(|w| (name, w)));
    }
    out
}

#[test]
fn halving_the_grid_of_maps_moves_every_figure_by_less_than_its_bound() {
    halve(Precision::MAP, [7_919, 11]);
}

/// Shows (exact): the bounds: a grid twice as fine moves a figure by less. With:
/// `halving_the_grid_of_maps_moves_every_figure_by_less_than_its_bound`. Source: none: internal consistency.
/// Shows (exact): trapezoidal rule over the zero point, with its spacing. With:
/// `exact_closed_forms::the_first_solve_fails_with_the_normal_probability_down_to_1e_12`. Source: Trefethen & Weideman
/// 2014; statrs.
#[test]
fn halving_the_full_grid_moves_every_figure_by_less_than_its_bound() {
    halve(Precision::FULL, [1, 2]);
}

/// Shows (exact): the bounds where the zero points are the only grid: a grid twice as fine moves a figure by less.
/// Source: none: internal consistency.
#[test]
fn halving_the_grid_of_zero_points_moves_every_figure_by_less_than_its_bound() {
    for precision in [Precision::MAP, Precision::FULL] {
        compare(precision, 40_000_000, (0..60).map(with_a_lattice));
    }
}

/// A rig that is drawn, with a step between a quarter and three quarters of the error of a goal, and nothing else that needs a grid.
fn with_a_lattice(index: u64) -> Drawn {
    let drawn = drawn(11, index);
    let number = |key: &str| {
        let mut values = drawn.settings.iter().filter_map(|s| s.strip_prefix(key));
        values
            .next_back()
            .and_then(|value| value.parse::<f64>().ok())
    };
    let error_deg = |key| number(key).expect("a number");
    let goal_deg = error_deg("loop.correction=")
        * error_deg("solve.noise_deg=").hypot(error_deg("drive.repeatability_deg="));
    let step_deg = [0.26, 0.4, 0.6, 0.74][index as usize % 4] * goal_deg;
    drawn.with([
        format!("drive.step_deg={step_deg:.5}"),
        "loop.confirm=1".to_owned(),
        "solve.outlier_rate=0".to_owned(),
    ])
}

/// Shows (exact): the bounds of the demo rig on its seam, where it hunts. Source: own figures, docs/exact.md.
#[test]
fn the_bounds_of_a_hunting_loop_are_narrow() {
    let rig = read(DEMO_RIG, "demo", &[]).expect("a valid rig");
    let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
    let found = solve(&scenario, Precision::FULL).expect("solved");
    assert!(found.unsettled.bound < 2e-5, "{:?}", found.unsettled);
    let time_s = found.settle_time_s.expect("some settle").mean;
    assert!(time_s.bound < 0.03, "{time_s:?}");
}

fn halve(precision: Precision, seeds: [u64; 2]) {
    let rigs = |seed| (0..RIGS).map(move |index| drawn(seed, index));
    compare(precision, MOST_WORK, seeds.into_iter().flat_map(rigs));
}

fn compare(precision: Precision, most_work: u64, rigs: impl Iterator<Item = Drawn>) {
    let precision = Precision {
        most_work,
        ..precision
    };
    let halved = Precision {
        most_work: 20 * most_work,
        ..precision.halved()
    };
    let mut compared = 0;
    let mut problems = Vec::new();
    for (index, drawn) in rigs.enumerate() {
        let scenario = Scenario::new(&drawn.rig, Policy::of(&drawn.rig), drawn.target_deg);
        if check(&scenario, precision).is_err() {
            continue;
        }
        let Ok(found) = solve(&scenario, precision) else {
            continue;
        };
        let Ok(finer) = solve(&scenario, halved) else {
            continue;
        };
        let of_finer = figures(&finer);
        for (name, figure) in figures(&found) {
            let Some((_, finer)) = of_finer.iter().find(|(n, _)| *n == name) else {
                panic!("{name} is missing on the finer grid: {:?}", drawn.settings);
            };
            let moved = (figure.value - finer.value).abs();
            if moved > figure.bound {
                problems.push(format!(
                    "rig {index}, {name}: {} ± {:e} moves by {moved:e} to {}: {:?}, target {}",
                    figure.value, figure.bound, finer.value, drawn.settings, drawn.target_deg
                ));
            }
            compared += 1;
        }
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
    assert!(compared > 500, "only {compared} figures were compared");
}
