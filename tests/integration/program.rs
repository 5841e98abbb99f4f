//! The program as a user runs it.

use crate::binary::{folder, halfturn, json, output};

/// Shows (model 5): symmetry not set: a full circle has 1, the others 2; a result names it. Source: none: own rule.
/// Shows (README): `halfturn batch` puts the four rules side by side; `--out` draws them. With:
/// `pictures_are_drawn_in_both_formats`. Source: none: own rule; its figures: see docs/model.md.
/// Shows (README): commands that compute something take `--json`; `serve` does not. With:
/// `sweep::pictures_and_json_hold_the_rows`, `fit_program::the_json_is_that_of_the_interface`,
/// `judge_program::the_same_seed_gives_the_same_result`, `sky::panels_are_those_of_astropy`,
/// `serve::wrong_arguments_are_told_at_once`. Source: none: own rule.
#[test]
fn batch_prints_the_json_of_the_interface() {
    let dir = folder();
    let command = [
        "batch",
        "--target",
        "0",
        "--trials",
        "4000",
        "--seed",
        "3",
        "--rules",
        "half-circle,full-circle",
    ];
    let out = halfturn(dir.path(), &[&command[..], &["--json", "-"]].concat());
    assert_eq!(out.status.code(), Some(0));
    let batch = json(&out);
    assert_eq!(
        (&batch["format"], &batch["seed"], &batch["trials"]),
        (&1.into(), &3.into(), &4000.into())
    );
    assert_eq!(batch["target_deg"], 0.0);
    assert_eq!(batch["complete"], true);
    assert_eq!(batch["rig_digest"].as_str().map(str::len), Some(64));
    let policies = batch["policies"].as_array().expect("policies");
    let rules: Vec<_> = policies
        .iter()
        .map(|p| (p["rule"].as_str(), p["symmetry"].as_u64()))
        .collect();
    assert_eq!(
        rules,
        [
            (Some("half-circle"), Some(2)),
            (Some("full-circle"), Some(1))
        ]
    );
    for policy in policies {
        assert_eq!(policy["method"], "monte-carlo");
        for rate in ["settled", "hunting", "unsettled", "unsolved", "refused"] {
            let [value, low, high] =
                ["rate", "low", "high"].map(|k| policy[rate][k].as_f64().unwrap_or(f64::NAN));
            assert!(
                0.0 <= low && low <= value && value <= high && high <= 1.0,
                "{rate}"
            );
        }
        for figure in [
            "settle_time_s",
            "solves",
            "long_swings",
            "travel_deg",
            "true_error_deg",
            "outside_arc_deg",
            "keep_out_deg",
        ] {
            for key in ["mean", "p50", "p90", "p99"] {
                // Where fewer than 90 % of the runs settle there is no such time.
                let never = figure == "settle_time_s" && key.starts_with("p9");
                let value = &policy[figure][key];
                assert!(
                    value.is_number() || never && value.is_null(),
                    "{figure}.{key}"
                );
            }
        }
    }
    // The text has the difference in per cent.
    let text = output(&halfturn(dir.path(), &command));
    let mean = batch["differences"][0]["hunting"]["mean"].as_f64();
    let percent = format!("{:+.2}", 100.0 * mean.expect("a difference"));
    assert!(text.contains(&percent), "{percent}: {text}");
}

/// Shows (model 6): the mean settle time and the true error over settled runs, the quantiles of the settle time and all
/// else over all runs. With: `reference_program::batches_agree_with_the_independent_program`. Source: independent
/// program.
#[test]
fn figures_of_settled_runs_are_null_where_none_settles() {
    let dir = folder();
    let out = halfturn(
        dir.path(),
        &[
            "batch",
            "--target",
            "0",
            "--trials",
            "100",
            "--json",
            "-",
            "--set",
            "solve.failure_rate=1",
        ],
    );
    let policy = &json(&out)["policies"][0];
    assert_eq!(policy["unsolved"]["rate"], 1.0);
    assert!(policy["settle_time_s"]["mean"].is_null());
    assert!(policy["true_error_deg"]["p50"].is_null());
    assert_eq!(policy["solves"]["mean"], 0.0);
}

/// Shows (README): the same seed gives the same bits, whatever the threads. With:
/// `sky_night::the_number_of_threads_makes_no_difference`, `uncertain::same_seed_same_rigs_whatever_the_threads`.
/// Source: none: internal consistency.
#[test]
fn same_seed_same_bits_whatever_the_threads() {
    let dir = folder();
    let run = |threads: &str, rules: &str| {
        let args = [
            "batch",
            "--target",
            "0.2",
            "--trials",
            "30000",
            "--threads",
            threads,
            "--rules",
            rules,
            "--json",
            "-",
        ];
        json(&halfturn(dir.path(), &args))
    };
    let one = run("1", "half-circle,fold-once");
    assert_eq!(one, run("2", "half-circle,fold-once"));
    assert_eq!(one, run("5", "half-circle,fold-once"));
    let turned = run("2", "fold-once,half-circle");
    assert_eq!(one["policies"][0], turned["policies"][1]);
    let advise = |threads: &str| {
        let args = [
            "advise",
            "--trials",
            "500",
            "--threads",
            threads,
            "--json",
            "-",
        ];
        json(&halfturn(dir.path(), &args))
    };
    assert_eq!(advise("1"), advise("3"));
}

/// Shows (README): `halfturn init` writes starters with every key, and leaves files alone that are there. With:
/// `limits::the_starter_has_every_key`. Source: none: own rule.
#[test]
fn the_starters_run_as_they_are() {
    let dir = folder();
    assert!(halfturn(dir.path(), &["init", "mine"]).status.success());
    let out = halfturn(
        dir.path(),
        &[
            "advise",
            "mine/rig.toml",
            "mine/targets.csv",
            "--trials",
            "4000",
            "--json",
            "-",
        ],
    );
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    // The starter is the demo rig: same digest, though its text differs.
    let demo = halfturn(
        dir.path(),
        &["batch", "--target", "0", "--trials", "10", "--json", "-"],
    );
    assert_eq!(json(&out)["rig_digest"], json(&demo)["rig_digest"]);
    let again = halfturn(dir.path(), &["init", "mine"]);
    assert_eq!(
        again.status.code(),
        Some(2),
        "files that are there are left alone"
    );
}

/// Shows (README): `halfturn trace` shows one loop; `--hunting` finds one that hunts, `--plot` draws it. With:
/// `pictures_are_drawn_in_both_formats`, `wrong_use::a_search_in_vain_says_how_far_it_went`. Source: none: internal
/// consistency.
/// Shows (files): a run is replayed alone; `--hunting` has an end. With:
/// `wrong_use::a_search_in_vain_says_how_far_it_went`. Source: none: internal consistency.
#[test]
fn a_trace_can_be_replayed_from_a_batch() {
    let dir = folder();
    let batch = json(&halfturn(
        dir.path(),
        &[
            "batch",
            "--target",
            "0",
            "--trials",
            "4096",
            "--rules",
            "half-circle",
            "--json",
            "-",
        ],
    ));
    let trial = batch["policies"][0]["first_hunting_trial"]
        .as_u64()
        .expect("the demo hunts");
    let trace = json(&halfturn(
        dir.path(),
        &[
            "trace",
            "--target",
            "0",
            "--trial",
            &trial.to_string(),
            "--json",
            "-",
        ],
    ));
    assert!(trace["figures"]["long_swings"].as_u64() >= Some(2));
    let found = json(&halfturn(
        dir.path(),
        &["trace", "--target", "0", "--hunting", "--json", "-"],
    ));
    assert_eq!(found, trace);
    let rows = trace["rows"].as_array().expect("rows");
    assert_eq!(
        rows.len() as u64,
        trace["figures"]["solves"].as_u64().unwrap_or(0)
    );
}

#[test]
fn pictures_are_drawn_in_both_formats() {
    let dir = folder();
    for name in ["loop.svg", "loop.png"] {
        let out = halfturn(
            dir.path(),
            &["trace", "--target", "0", "--hunting", "--plot", name],
        );
        assert_eq!(
            out.status.code(),
            Some(0),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
    }
    let svg = std::fs::read_to_string(dir.path().join("loop.svg")).expect("the picture");
    assert!(roxmltree::Document::parse(&svg).is_ok());
    let png = std::fs::read(dir.path().join("loop.png")).expect("the picture");
    assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
    let out = halfturn(
        dir.path(),
        &[
            "batch", "--target", "0", "--trials", "2000", "--out", "plots",
        ],
    );
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    for name in ["settle-time.svg", "seam-distance.svg"] {
        assert!(dir.path().join("plots").join(name).is_file(), "{name}");
    }
}

/// Shows (README): `halfturn completions` prints completions, `halfturn man` manual pages. With:
/// `sky_field::the_manual_has_pages_of_nested_commands`. Source: none: own rule.
#[test]
fn help_completions_and_manual_are_there() {
    let dir = folder();
    for args in [
        &["--help"][..],
        &["--version"],
        &["completions", "bash"],
        &["completions", "powershell"],
        &["man"],
        &["help", "advise"],
    ] {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(0), "{args:?}");
        assert!(!out.stdout.is_empty(), "{args:?}");
    }
    assert!(
        halfturn(dir.path(), &["man", "--out", "pages"])
            .status
            .success()
    );
    assert!(dir.path().join("pages/halfturn-advise.1").is_file());
}
