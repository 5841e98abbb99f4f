//! `--method exact` and `auto` as a user meets them.

use crate::binary::{complaint, folder, halfturn, json};

fn figure(value: &serde_json::Value, keys: [&str; 2]) -> f64 {
    value[keys[0]][keys[1]].as_f64().unwrap_or(f64::NAN)
}

/// Shows (exact): `batch` and `sweep` with the exact method. With:
/// `a_sweep_has_the_same_rows_whatever_the_threads_and_knows_its_method`. Source: none: internal consistency.
#[test]
fn batch_prints_probabilities_with_bounds_that_hold_the_rates_of_runs() {
    let dir = folder();
    let exact = json(&halfturn(
        dir.path(),
        &["batch", "--target", "0", "--method", "exact", "--json", "-"],
    ));
    let runs = json(&halfturn(
        dir.path(),
        &[
            "batch", "--target", "0", "--trials", "200000", "--json", "-",
        ],
    ));
    assert_eq!(exact["trials"], 0);
    for rule in 0..4 {
        let (e, r) = (&exact["policies"][rule], &runs["policies"][rule]);
        assert_eq!(e["method"], "exact");
        assert_eq!(e["rule"], r["rule"]);
        for rate in ["settled", "hunting", "unsettled", "unsolved", "refused"] {
            let p = figure(e, [rate, "rate"]);
            assert!(figure(e, [rate, "low"]) <= p && p <= figure(e, [rate, "high"]));
            // Five standard deviations of the runs, and one run: two-sided error probability below 1e-6 each.
            let sd = (p * (1.0 - p) / 200_000.0).sqrt();
            assert!(
                (p - figure(r, [rate, "rate"])).abs() <= 5.0 * sd + 5e-6,
                "{rate}"
            );
        }
        let sum: f64 = e["exact"]["solves_shares"]
            .as_array()
            .map_or(0.0, |shares| shares.iter().filter_map(|s| s.as_f64()).sum());
        assert!((sum - 1.0).abs() < 1e-12, "{sum}");
        let persistence = e["exact"]["long_run"]["persistence"]
            .as_f64()
            .unwrap_or(-1.0);
        assert!((0.0..=1.0).contains(&persistence));
    }
    let persistence = |rule: usize| {
        figure(
            &exact["policies"][rule]["exact"],
            ["long_run", "persistence"],
        )
    };
    // Full circle, half circle: only the second hunts at this target.
    assert!(persistence(0) < 0.01 && persistence(1) > 0.999_999);
}

/// Shows (exact): what is not held is named, and run if asked. With:
/// `options_about_runs_do_not_go_with_the_exact_method`. Source: none: own rule.
#[test]
fn a_feature_that_is_not_held_is_named_and_run_only_if_asked() {
    let dir = folder();
    let turning = ["--set", "loop.field_rotation_deg_per_s=0.001"];
    let batch = ["batch", "--target", "0", "--trials", "2000", "--method"];
    let with = |method: &str| {
        let args = [&batch[..], &[method, "--json", "-"], &turning].concat();
        halfturn(dir.path(), &args)
    };
    let refused = with("exact");
    assert_eq!(refused.status.code(), Some(2));
    assert!(refused.stdout.is_empty());
    let words = complaint(&refused);
    assert!(
        words.contains("loop.field_rotation_deg_per_s") && words.contains("--method auto"),
        "{words}"
    );
    let run = json(&with("auto"));
    assert_eq!(run["policies"][0]["method"], "monte-carlo");
    assert_eq!(run["policies"][0]["trials"], 2000);
}

#[test]
fn a_sweep_has_the_same_rows_whatever_the_threads_and_knows_its_method() {
    let dir = folder();
    let sweep = |out: &str, more: &[&str]| {
        let args = [
            "sweep",
            "--vary",
            "target=-1:1:9",
            "--vary",
            "loop.tolerance_deg=0.25:0.5:3",
            "--out",
            out,
        ];
        halfturn(dir.path(), &[&args[..], more].concat())
    };
    assert_eq!(
        sweep("one.csv", &["--method", "exact", "--threads", "1"])
            .status
            .code(),
        Some(0)
    );
    assert_eq!(
        sweep("four.csv", &["--method", "exact", "--threads", "4"])
            .status
            .code(),
        Some(0)
    );
    let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).unwrap_or_default();
    let one = read("one.csv");
    assert_eq!(one, read("four.csv"));
    assert!(one.contains("method: exact, reach 4.5 sigma"), "{one}");
    assert_eq!(
        one.lines()
            .filter(|l| l.contains(",half-circle,2,"))
            .count(),
        27
    );
    // A table of runs is not gone on with exactly.
    assert_eq!(
        sweep("runs.csv", &["--trials", "50"]).status.code(),
        Some(0)
    );
    let mixed = sweep(
        "runs.csv",
        &["--trials", "50", "--method", "exact", "--resume"],
    );
    assert_eq!(mixed.status.code(), Some(2));
    // A cell that is not held is named before anything is written.
    let field = [
        "--method",
        "exact",
        "--set",
        "loop.field_rotation_deg_per_s=0.001",
    ];
    let refused = sweep("none.csv", &field);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        complaint(&refused).contains("target = -1"),
        "{}",
        complaint(&refused)
    );
    assert!(!dir.path().join("none.csv").exists());
}

#[test]
fn options_about_runs_do_not_go_with_the_exact_method() {
    let dir = folder();
    for option in [["--half-width", "0.01"], ["--out", "pictures"]] {
        let args = [
            &["batch", "--target", "0", "--method", "exact"][..],
            &option,
        ]
        .concat();
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(2));
        assert!(complaint(&out).contains(option[0]), "{}", complaint(&out));
    }
}
