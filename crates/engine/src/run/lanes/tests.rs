//! Lanes give the same bits as single runs.

use serde_json::Value;

use super::run_block;
use crate::rig::{Rig, Rule, read};
use crate::run::{Figures, Unobserved, run, stream};
use crate::scenario::{Policy, Scenario};

const CASES: &str = include_str!("../../../../../tests/data/reference_cases.json");

fn rigs() -> Vec<(Rig, f64)> {
    let data: Value = serde_json::from_str(CASES).expect("valid JSON");
    let cases = data["cases"].as_array().expect("a list");
    cases
        .iter()
        .map(|case| {
            let text = toml::to_string(&case["rig"]).expect("a table");
            let rig = read(&text, "case", &[]).expect("a valid rig");
            (rig, case["target_deg"].as_f64().expect("a number"))
        })
        .collect()
}

/// Bits of all figures, which show a NaN or a negative zero too.
fn bits(f: &Figures) -> (u8, [u32; 4], [u64; 6]) {
    (
        f.outcome as u8,
        [f.solves, f.failed_attempts, f.moves, f.long_swings],
        [
            f.travel_deg,
            f.winding_deg,
            f.outside_arc_deg,
            f.keep_out_deg,
            f.elapsed_s,
            f.true_error_deg.unwrap_or(-1.0),
        ]
        .map(f64::to_bits),
    )
}

/// Shows (model 9): batches have the same bits as single runs. Source: none: internal consistency.
#[test]
fn lanes_and_single_runs_give_the_same_bits() {
    let (seed, first, count) = (3, 1000, 700);
    for (rig, target_deg) in rigs() {
        for &rule in Rule::ALL {
            let scenario = Scenario::new(&rig, Policy::with_rule(&rig, rule), target_deg);
            let mut block = vec![Figures::start(); count];
            run_block(&scenario, seed, first, &mut block);
            for (index, figures) in (first..).zip(&block) {
                let single = run(
                    &scenario,
                    &mut scenario.controller(),
                    &mut stream(seed, index),
                    &mut Unobserved,
                );
                assert_eq!(
                    bits(figures),
                    bits(&single),
                    "{} {rule} run {index}: {figures:?} {single:?}",
                    rig.settings().name
                );
            }
        }
    }
}

#[test]
fn a_block_may_have_any_length() {
    let rig = read("", "default", &[]).expect("a valid rig");
    let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
    let mut long = vec![Figures::start(); 200];
    run_block(&scenario, 1, 0, &mut long);
    for length in [0, 1, 63, 64, 65, 129] {
        let mut short = vec![Figures::start(); length];
        run_block(&scenario, 1, 0, &mut short);
        assert_eq!(short, long[..length]);
    }
}
