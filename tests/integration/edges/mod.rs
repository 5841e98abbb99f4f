//! Numeric keys at the ends of their ranges, just outside, and in pairs: finite figures, or an error that names the key.
//!
//! The keys and their ranges are the crate's own table; `table` makes a covering table of strength two from them (Cohen, Dalal, Fredman &
//! Patton 1997, IEEE Trans. Softw. Eng. 23, 437): every two levels of every two keys meet in some rig.

mod outside;
mod table;

use halfturn_engine::advise::compare_rules;
use halfturn_engine::exact::{Precision, Solution, solve, solve_long_run};
use halfturn_engine::method::Method;
use halfturn_engine::rig::{Bound, InputError, KEYS, Rig, Rule, ValueKind, commented, read};
use halfturn_engine::sample::{Batch, Unattended, run_batch};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::sweep::{Axis, Grid, SweepRequest, run_cells};
use halfturn_engine::verdict::{Judge, Limits};
use halfturn_report::batch_json;
use halfturn_report::sweep::lines;

use table::{SUBNORMAL, factors, overrides, pairs};

use crate::binary::{complaint, folder, halfturn, write};
use crate::limits::{RIG, check, plain, traced};

const PLAN: Batch = Batch { trials: 8, seed: 5 };

/// Shows (trust): every key at its ends, in pairs: finite figures by runs, exactly, in a trace and in a sweep. With:
/// `few_ends_at_a_time_are_solved_as_they_run`, `the_program_says_finite_things_at_the_ends`,
/// `limits::every_key_at_its_ends_gives_finite_figures`. Source: covering tables: Cohen, Dalal, Fredman & Patton 1997.
#[test]
#[expect(clippy::print_stdout, reason = "the size of the table")]
fn every_pair_of_ends_gives_finite_figures() {
    let factors = factors();
    let rows = pairs(&factors);
    let mut met = std::collections::HashSet::new();
    for row in &rows {
        for f in 0..row.len() {
            met.extend((f + 1..row.len()).map(|g| (f, row[f], g, row[g])));
        }
    }
    let sizes: Vec<usize> = factors.iter().map(Vec::len).collect();
    let wanted: usize = (0..sizes.len())
        .flat_map(|f| (f + 1..sizes.len()).map(move |g| (f, g)))
        .map(|(f, g)| sizes[f] * sizes[g])
        .sum();
    assert_eq!(met.len(), wanted);
    let (mut solved, mut unsupported) = (0, 0);
    for (number, row) in rows.iter().enumerate() {
        let set = overrides(&factors, row);
        let rig = read(RIG, "rig.toml", &set).unwrap_or_else(|e| panic!("{e}"));
        let again = read(&commented(&rig), "again", &[]).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(again.digest(), rig.digest(), "{set:?}");
        rig.warnings()
            .iter()
            .for_each(|w| plain(&w.to_string(), &set));
        let target_deg = [0.1, -360_000.0, 360_000.0, SUBNORMAL][number % 4];
        let compared = compare_rules(
            &rig,
            Rule::ALL,
            target_deg,
            &Judge {
                limits: Limits::default(),
                batch: PLAN,
                monitor: &Unattended,
            },
            None,
        );
        check(&batch_json(&rig, PLAN, target_deg, &compared, true), &set);
        check(&traced(&rig, target_deg), &set);
        for &rule in Rule::ALL {
            let scenario = Scenario::new(&rig, Policy::with_rule(&rig, rule), target_deg);
            match solve(&scenario, Precision::SEARCH) {
                Ok(solution) => {
                    solved += 1;
                    is_sound(&solution, &set);
                    let long_run = solve_long_run(&scenario, Precision::SEARCH);
                    plain(&format!("{long_run:?}"), &set);
                }
                Err(error) => {
                    unsupported += 1;
                    plain(&error.to_string(), &set);
                }
            }
        }
        swept(&rig, "loop.tolerance_deg=0.000001:180:2", target_deg, &set);
    }
    println!(
        "{} keys and groups, {wanted} pairs in {} rigs; {solved} loops solved, {unsupported} not held",
        factors.len(),
        rows.len()
    );
}

/// Few ends at a time, so that the exact method holds most of the rigs: sound probabilities, and the share that settles as runs have it. Of 1500 runs it is off
/// by more than 5.5 deviations, or by 3 runs where that is more, with a probability below 1e-4 for all of them together; the seed is fixed.
#[test]
#[expect(clippy::print_stdout, reason = "how much of it was solved")]
fn few_ends_at_a_time_are_solved_as_they_run() {
    /// Every so manieth factor of a row is at its end.
    const PARTS: usize = 7;
    let factors = factors();
    let batch = Batch {
        trials: 1500,
        seed: 9,
    };
    let (mut solved, mut unsupported) = (0, 0);
    let mut met = std::collections::HashSet::new();
    let rows = pairs(&factors);
    for number in 0..3 * rows.len() {
        let (row, part) = (&rows[number / 3], number % PARTS);
        let mine: Vec<usize> = (0..row.len())
            .filter(|f| (f * f + f / PARTS) % PARTS == part)
            .collect();
        let set: Vec<String> = mine
            .iter()
            .flat_map(|f| factors[*f][row[*f]].clone())
            .collect();
        let rig = read(RIG, "rig.toml", &set).unwrap_or_else(|e| panic!("{e}"));
        let target_deg = [0.1, -360_000.0, 77.0][number % 3];
        let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
        let Ok(solution) = solve(&scenario, Precision::SEARCH) else {
            unsupported += 1;
            continue;
        };
        solved += 1;
        is_sound(&solution, &set);
        for (i, f) in mine.iter().enumerate() {
            met.extend(mine[i + 1..].iter().map(|g| (*f, row[*f], *g, row[*g])));
        }
        let runs = run_batch(&scenario, batch, &Unattended);
        let p = solution.settled;
        let n = batch.trials as f64;
        let deviations = 5.5 * (p.value * (1.0 - p.value) * n).max(0.0).sqrt();
        let off = (runs.settled as f64 - n * p.value).abs() - n * p.bound;
        assert!(
            off <= deviations.max(3.0),
            "{set:?}: {} of {n}, {p:?}",
            runs.settled
        );
    }
    println!(
        "{solved} loops solved, {unsupported} not held; {} pairs of ends in them",
        met.len()
    );
    assert!(solved > 2 * unsupported);
}

/// Probabilities are some, and add up to 1 within their bounds.
fn is_sound(s: &Solution, set: &[String]) {
    plain(&format!("{s:?}"), set);
    let ends = [s.settled, s.unsettled, s.unsolved, s.refused];
    let bound = 1e-6 + ends.iter().map(|p| p.bound).sum::<f64>();
    let sum = ends.iter().map(|p| p.value).sum::<f64>();
    assert!((sum - 1.0).abs() <= bound, "{set:?}: {sum} by {bound}");
    for p in ends
        .iter()
        .chain([&s.hunting, &s.stuck, &s.ended_badly, &s.keep_out])
    {
        assert!(
            p.value >= -p.bound - 1e-9 && p.value <= 1.0 + p.bound + 1e-9,
            "{set:?}: {p:?}"
        );
    }
    for mean in [
        s.elapsed_s,
        s.moves,
        s.travel_deg,
        s.outside_arc_deg,
        s.keep_out_deg,
        s.solves.mean,
    ] {
        assert!(mean.value >= -mean.bound - 1e-9, "{set:?}: {mean:?}");
    }
}

fn swept(rig: &Rig, axis: &str, target_deg: f64, set: &[String]) {
    let axis = Axis::read(axis, rig).unwrap_or_else(|e| panic!("{set:?}: {e}"));
    let target = (axis.name() != "target").then_some(target_deg);
    let grid = Grid::new(vec![axis]).unwrap_or_else(|e| panic!("{e}"));
    let batch = Batch { trials: 2, seed: 1 };
    let cells = grid.cells();
    let rules = Rule::ALL.to_vec();
    let request = SweepRequest::new(rig.clone(), grid, rules, batch, Method::MonteCarlo, target);
    // Ends that do not go together are refused by name before the first cell.
    let request = match request {
        Ok(request) => request,
        Err(e) => {
            return assert!(
                KEYS.iter()
                    .any(|k| e.to_string().contains(&k.path.replace('*', "0")))
            );
        }
    };
    let done = run_cells(&request, 0..cells, &Unattended, |rows| {
        let text = lines(rows);
        plain(&text, set);
        Ok::<(), InputError>(())
    });
    assert_eq!(done.map_err(|e| e.to_string()), Ok(true), "{set:?}");
}

/// Every numeric key swept from end to end, the target too.
#[test]
fn every_key_is_swept_from_end_to_end() {
    let rig = read(RIG, "rig.toml", &[]).unwrap_or_else(|e| panic!("{e}"));
    for key in KEYS {
        let path = key.path.replace('*', "0");
        let axis = match key.kind {
            ValueKind::Number {
                low: Bound::From(low) | Bound::ZeroOr(low),
                high,
                ..
            } => format!("{path}={low}:{high}:3"),
            ValueKind::Count { low, high, .. } if low < high => format!("{path}={low}:{high}:3"),
            ValueKind::Sign(_) => format!("{path}=-1:1:2"),
            _ => continue,
        };
        swept(&rig, &axis, 0.1, std::slice::from_ref(&axis));
    }
    swept(&rig, "target=-360000:360000:5", 0.0, &[]);
}

/// A tenth of the covering table through the program: a rig file, and each command with its exit code and no word of infinity.
#[test]
fn the_program_says_finite_things_at_the_ends() {
    let factors = factors();
    let dir = folder();
    for row in pairs(&factors).iter().step_by(10) {
        let set = overrides(&factors, row);
        let rig = read(RIG, "rig.toml", &set).unwrap_or_else(|e| panic!("{e}"));
        write(dir.path(), "rig.toml", &commented(&rig));
        let commands: [&[&str]; 4] = [
            &["trace", "rig.toml", "--target", "0.1", "--plot", "t.svg"],
            &["batch", "rig.toml", "--target", "-360000", "--trials", "6"],
            &[
                "batch",
                "rig.toml",
                "--target",
                "5e-324",
                "--trials",
                "6",
                "--method",
                "auto",
                "--precision",
                "map",
            ],
            &[
                "sweep",
                "rig.toml",
                "--vary",
                "target=-1:360000:2",
                "--trials",
                "4",
                "--out",
                "-",
            ],
        ];
        for command in commands {
            let out = halfturn(dir.path(), command);
            let said = complaint(&out);
            assert!(
                matches!(out.status.code(), Some(0 | 1)),
                "{command:?} {set:?}: {said}"
            );
            plain(&String::from_utf8_lossy(&out.stdout), &set);
            plain(&said, &set);
        }
        plain(
            &std::fs::read_to_string(dir.path().join("t.svg")).unwrap_or_default(),
            &set,
        );
    }
}
