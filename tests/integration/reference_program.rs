//! Batches against an independent program.
//!
//! `tests/reference/` holds the loop model in Python, written from docs/model.md alone by somebody who
//! had not seen this crate; `tests/data/reference_cases.json` holds what it found for varied rigs. Its
//! header names the versions and the command that made it.

use halfturn_engine::rig::{Rig, read};
use halfturn_engine::sample::{Batch, Unattended, run_batch};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::tally::{Moments, Spread, Tally};
use serde_json::Value;

const CASES: &str = include_str!("../data/reference_cases.json");

const TRIALS: u64 = 100_000;
const SEED: u64 = 77;

/// Critical value: 52 cases with 17 comparisons each; two-sided 1e-9 each, so a false alarm in all of
/// them together has a probability below 1e-6.
const CRITICAL_Z: f64 = 6.11;

/// Both programs round sums differently; means agree to this even where nothing is random.
const ROUNDING: f64 = 1e-6;

fn number(v: &Value, key: &str) -> f64 {
    v[key].as_f64().unwrap_or(f64::NAN)
}

fn rig(case: &Value) -> Rig {
    let text = toml::to_string(&case["rig"]).expect("a JSON object is a TOML table");
    read(&text, "reference case", &[]).unwrap_or_else(|e| panic!("{}: {e}", case["name"]))
}

fn rate_agrees(mine: u64, theirs: f64, their_trials: f64) -> bool {
    let n = TRIALS as f64;
    let p = mine as f64 / n;
    let pooled = (p * n + theirs * their_trials) / (n + their_trials);
    let se = (pooled * (1.0 - pooled) * (1.0 / n + 1.0 / their_trials)).sqrt();
    // Half a run on either side: the continuity correction, and all there is at rates of 0 and 1.
    (p - theirs).abs() <= CRITICAL_Z * se + 0.5 / n + 0.5 / their_trials
}

fn mean_agrees(mine: &Moments, theirs: &Value) -> bool {
    let n = mine.count() as f64;
    let their_n = number(theirs, "n");
    let Some(mean) = mine.mean() else {
        return their_n < 1000.0; // so rare that this smaller batch may have none
    };
    if their_n == 0.0 {
        return n < 1000.0;
    }
    let sd = mine.deviation().unwrap_or(0.0).max(number(theirs, "sd"));
    let se = sd * (1.0 / n + 1.0 / their_n).sqrt();
    let mut allowed = CRITICAL_Z * se + ROUNDING * (1.0 + mean.abs());
    if n < 200.0 {
        allowed *= 3.0; // few settled runs: a mean of a skewed figure is not normal
    }
    (mean - number(theirs, "mean")).abs() <= allowed
}

fn quantile_agrees(mine: &Spread, q: f64, theirs: &Value, name: &str) -> bool {
    let (n, their_n) = (mine.moments().count(), number(theirs, "n"));
    if n < 1000 || their_n < 4000.0 {
        return true; // the mean is compared
    }
    // Their interval is four standard deviations of the rank wide, with four times the runs: ours is
    // within twice that much again, taken from our own ranks.
    let spread = 7.0 * (q * (1.0 - q) / n as f64).sqrt();
    let low = mine
        .histogram()
        .quantile((q - spread).max(1e-9))
        .unwrap_or(0.0);
    let high = mine
        .histogram()
        .quantile((q + spread).min(1.0))
        .unwrap_or(0.0);
    let bucket = 1.0 + 1.0 / 512.0; // stated error of the histogram
    low <= number(theirs, &format!("{name}_high")) * bucket
        && high >= number(theirs, &format!("{name}_low")) / bucket
}

/// Shows (model 2): one repeatability draw a command, with two legs too. Source: independent program (from below, from
/// above).
/// Shows (model 2): the plant as a whole. Source: independent program, 52 rigs, 17 figures each.
/// Shows (model 4): the loop's order as a whole. With: `judge_properties::the_judge_plays_the_rig_of_the_simulator`.
/// Source: independent program.
/// Shows (model 6): batches of runs have these figures. Source: independent program.
/// Shows (model Where): a one-sided approach takes the short way once. Source: independent program (from above, turning
/// off the arc).
/// Shows (model Where): a full circle with symmetry 2 or 4 folds over 360, and judges swings by `360 / symmetry`.
/// Source: independent program (full circle, symmetry 2).
#[test]
fn batches_agree_with_the_independent_program() {
    let data: Value = serde_json::from_str(CASES).expect("valid JSON");
    let cases = data["cases"].as_array().expect("a list of cases");
    assert!(cases.len() >= 50);
    let mut wrong = Vec::new();
    for case in cases {
        let name = case["name"].as_str().unwrap_or("?");
        let rig = rig(case);
        let scenario = Scenario::new(&rig, Policy::of(&rig), number(case, "target_deg"));
        let batch = Batch {
            trials: TRIALS,
            seed: SEED,
        };
        let tally = run_batch(&scenario, batch, &Unattended);
        assert_eq!(tally.trials, TRIALS);
        compare(name, &tally, case, &mut wrong);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn compare(name: &str, tally: &Tally, case: &Value, wrong: &mut Vec<String>) {
    let figures = &case["figures"];
    let their_trials = number(case, "trials");
    let rates = [
        ("settled", tally.settled),
        ("unsettled", tally.unsettled),
        ("unsolved", tally.unsolved),
        ("refused", tally.refused),
        ("hunting", tally.hunting),
    ];
    for (rate, mine) in rates {
        let theirs = number(&figures["rates"], rate);
        if !rate_agrees(mine, theirs, their_trials) {
            wrong.push(format!(
                "{name}: {rate} {} against {theirs}",
                mine as f64 / TRIALS as f64
            ));
        }
    }
    let means = [
        ("settle_time_s", tally.settle_time_s.moments()),
        ("true_error_deg", tally.true_error_deg.moments()),
        ("elapsed_s", tally.elapsed_s().moments()),
        ("solves", tally.solves().moments()),
        ("long_swings", tally.long_swings.moments()),
        ("travel_deg", tally.travel_deg.moments()),
        ("winding_deg", tally.winding_deg.moments()),
        ("outside_arc_deg", tally.outside_arc_deg.moments()),
        ("keep_out_deg", tally.keep_out_deg.moments()),
        ("moves", tally.moves.moments()),
        ("failed_attempts", tally.failed_attempts.moments()),
    ];
    for (figure, mine) in means {
        if !mean_agrees(&mine, &figures[figure]) {
            wrong.push(format!(
                "{name}: mean {figure} {:?} against {}",
                mine.mean(),
                figures[figure]
            ));
        }
    }
    for (q, quantile) in [(0.5, "p50"), (0.9, "p90"), (0.99, "p99")] {
        let theirs = &figures["settle_time_s"];
        if !quantile_agrees(&tally.settle_time_s, q, theirs, quantile) {
            wrong.push(format!(
                "{name}: {quantile} {:?} against {theirs}",
                tally.settle_time_s.histogram().quantile(q)
            ));
        }
    }
}
