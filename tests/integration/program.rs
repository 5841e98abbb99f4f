//! The program as a user runs it.

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

fn halfturn(dir: &Path, args: &[&str]) -> std::process::Output {
    Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .current_dir(dir)
        .args(args)
        .output()
        .expect("the program starts")
}

fn json(output: &std::process::Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| {
        panic!(
            "{e}: {}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        )
    })
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

fn write(dir: &Path, name: &str, text: &str) {
    std::fs::write(dir.join(name), text).expect("a file can be written");
}

#[test]
fn the_demo_shows_the_trouble_and_the_cure() {
    let dir = folder();
    let out = halfturn(dir.path(), &["advise", "--json", "-", "--trials", "5000"]);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let advice = json(&out);
    assert!(
        advice["before"]["will_hunt"].as_u64() >= Some(1),
        "{advice}"
    );
    assert_eq!(advice["after"]["will_hunt"], 0);
    assert_eq!(advice["after"]["safe"], 8);
    assert_eq!(advice["advised"]["clear_of_keep_outs"], true);
    let report = dir.path().join("halfturn-report");
    for file in ["report.html", "summary.json", "targets.csv"] {
        assert!(report.join(file).is_file(), "{file}");
    }
    let pictures = |ending: &str| {
        std::fs::read_dir(&report)
            .expect("the report folder")
            .filter_map(Result::ok)
            .filter(|e| e.path().extension().is_some_and(|x| x == ending))
            .count()
    };
    assert!(pictures("svg") >= 5);
    assert_eq!(pictures("svg"), pictures("png"));
    // No temporary file is left behind.
    assert!(
        std::fs::read_dir(&report)
            .expect("the report folder")
            .flatten()
            .all(|e| !e.file_name().to_string_lossy().starts_with('.'))
    );
    let page = std::fs::read_to_string(report.join("report.html")).expect("the report");
    assert!(page.contains("NGC 6992 Eastern Veil"));
    assert!(page.contains("arc_start_deg = 276.5"));
    let rows = csv::Reader::from_path(report.join("targets.csv"))
        .expect("a table")
        .records()
        .count();
    assert_eq!(rows, 8);
}

#[test]
fn an_answer_that_is_bad_news_exits_with_1() {
    let dir = folder();
    // Targets all around: every seam is near one of them, and the tolerance is too small for a swing.
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..90 {
        list.push_str(&format!("T{i},{}\n", i * 2));
    }
    write(dir.path(), "targets.csv", &list);
    assert!(halfturn(dir.path(), &["init", "rig"]).status.success());
    let out = halfturn(
        dir.path(),
        &[
            "advise",
            "rig/rig.toml",
            "targets.csv",
            "--trials",
            "1000",
            "--quiet",
        ],
    );
    assert_eq!(
        out.status.code(),
        Some(1),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    assert!(out.stderr.is_empty());
}

#[test]
fn wrong_input_exits_with_2_and_writes_nothing() {
    let dir = folder();
    write(dir.path(), "bad.toml", "[drive]\nspeed_deg_per_s = -3\n");
    write(dir.path(), "good.toml", "format = 1\n");
    write(dir.path(), "empty.csv", "name,position_angle_deg\n");
    let cases: &[(&[&str], &str)] = &[
        (
            &["advise", "bad.toml"],
            "bad.toml:2: drive.speed_deg_per_s = -3",
        ),
        (
            &["advise", "good.toml", "empty.csv"],
            "empty.csv: there is no target",
        ),
        (&["advise", "missing.toml"], "missing.toml: cannot be read"),
        (
            &["advise", "--set", "loop.tolerance_deg=-1"],
            "loop.tolerance_deg = -1",
        ),
        (&["advise", "--trials", "0"], "--trials"),
        (&["advise", "--threads", "0"], "--threads"),
        (&["advise", "--max-ping-pong", "nan"], "--max-ping-pong"),
        (&["batch", "--target", "nan"], "--target"),
        (&["batch", "--target", "inf"], "--target"),
        (
            &["batch", "--target", "0", "--rules", "half"],
            "must be one of full-circle",
        ),
        (&["batch", "--target", "0", "--seed", "-1"], "'-1'"),
        (&["trace"], "--target"),
        (
            &[
                "trace",
                "--target",
                "90",
                "--hunting",
                "--set",
                "loop.tolerance_deg=5",
            ],
            "ping-pongs",
        ),
        (
            &["trace", "--target", "0", "--plot", "x.gif"],
            "x.gif: the name of a picture must end in .svg or .png",
        ),
        (
            &["advise", "--trials", "10", "--out", "good.toml"],
            "good.toml",
        ),
        (
            &[
                "batch",
                "--target",
                "0",
                "--trials",
                "10",
                "--json",
                "no/such/folder/x.json",
            ],
            "cannot be written",
        ),
        (&["nonsense"], "nonsense"),
    ];
    for (args, message) in cases {
        let out = halfturn(dir.path(), args);
        let stderr = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {stderr}");
        assert!(stderr.contains(message), "{args:?}: {stderr}");
        assert!(out.stdout.is_empty(), "{args:?}");
    }
    let mut left: Vec<_> = std::fs::read_dir(dir.path())
        .expect("the folder")
        .flatten()
        .map(|e| e.file_name())
        .collect();
    left.sort();
    assert_eq!(left, ["bad.toml", "empty.csv", "good.toml"]);
}

#[test]
fn batch_prints_the_json_of_the_interface() {
    let dir = folder();
    let out = halfturn(
        dir.path(),
        &[
            "batch",
            "--target",
            "0",
            "--trials",
            "4000",
            "--seed",
            "3",
            "--rules",
            "half-circle,full-circle",
            "--json",
            "-",
        ],
    );
    assert_eq!(out.status.code(), Some(0));
    let batch = json(&out);
    assert_eq!(
        (&batch["format"], &batch["seed"], &batch["trials"]),
        (&1.into(), &3.into(), &4000.into())
    );
    assert_eq!(batch["target_deg"], 0.0);
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
        for rate in ["settled", "ping_pong", "unsettled", "unsolved", "refused"] {
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
                assert!(policy[figure][key].is_number(), "{figure}.{key}");
            }
        }
    }
}

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
    let trial = batch["policies"][0]["first_ping_pong_trial"]
        .as_u64()
        .expect("the demo ping-pongs");
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
    for name in [
        "settle-time.svg",
        "settle-time.png",
        "seam-distance.svg",
        "seam-distance.png",
    ] {
        assert!(dir.path().join("plots").join(name).is_file(), "{name}");
    }
}

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

/// Pictures that only some reports have do not outlive the report that had them.
#[test]
fn a_second_report_leaves_no_picture_of_the_first() {
    let dir = folder();
    let report = dir.path().join("halfturn-report");
    let sometimes = [
        "loop-after.svg",
        "loop-after.png",
        "before-after.svg",
        "before-after.png",
    ];
    halfturn(dir.path(), &["advise", "--trials", "4000"]);
    assert!(sometimes.iter().all(|name| report.join(name).is_file()));
    write(&report, "notes.txt", "mine");
    let full_circle = "wrap.rule=full-circle";
    halfturn(
        dir.path(),
        &["advise", "--trials", "4000", "--set", full_circle],
    );
    assert!(!sometimes.iter().any(|name| report.join(name).exists()));
    assert!(report.join("notes.txt").is_file() && report.join("loop-before.svg").is_file());
}

/// Screen, JSON and page say the same sentence.
#[test]
fn every_face_says_the_same() {
    let dir = folder();
    let small = "loop.tolerance_deg=0.01";
    let cases: [(&[&str], &str, bool, bool); 5] = [
        (&[], "cures", true, false),
        (&["--set", "loop.tolerance_deg=2"], "spare", false, false),
        (&["--set", "solve.failure_rate=1"], "no-help", true, true),
        (&["--set", small], "helps", true, false),
        (&["--set", "wrap.rule=full-circle"], "fine", false, true),
    ];
    for (options, decision, needed, kept) in cases {
        let mut args = vec!["advise", "--trials", "5000", "--quiet"];
        args.extend(options);
        let text = String::from_utf8(halfturn(dir.path(), &args).stdout).expect("text");
        let report = dir.path().join("halfturn-report");
        let summary = std::fs::read(report.join("summary.json")).expect("the summary");
        let summary: Value = serde_json::from_slice(&summary).expect("JSON");
        let advised = &summary["advised"];
        let sentence = advised["sentence"].as_str().expect("a sentence");
        let page = std::fs::read_to_string(report.join("report.html")).expect("the page");
        assert!(text.contains(sentence), "{text}");
        assert!(page.replace('\u{a0}', " ").contains(sentence), "{sentence}");
        assert_eq!(advised["decision"], decision, "{sentence}");
        assert_eq!(
            (&advised["needed"], &advised["kept_present"]),
            (&needed.into(), &kept.into())
        );
        assert_eq!(text.contains("ADVISED"), needed && !kept, "{text}");
        if kept {
            assert_eq!(advised["arc_start_deg"], summary["before"]["arc_start_deg"]);
        }
    }
}

/// A drive that must turn through a keep-out is bad news, and every file says how far.
#[test]
fn a_keep_out_on_the_way_is_bad_news() {
    let dir = folder();
    write(dir.path(), "t.csv", "name,position_angle_deg\nA,60\n");
    // Both ways to 60, and to 240, lead through a sector.
    let rig = "[[keep_out]]\nfrom_deg = 70\nto_deg = 75\nwhy = \"pier\"\n\
        [[keep_out]]\nfrom_deg = 100\nto_deg = 110\nwhy = \"drawer\"\n";
    write(dir.path(), "rig.toml", rig);
    let out = halfturn(
        dir.path(),
        &["advise", "rig.toml", "t.csv", "--trials", "4000"],
    );
    assert_eq!(out.status.code(), Some(1));
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(text.contains("in keep-outs  deg a run"), "{text}");
    assert!(
        text.contains("Every run turns through the keep-out from 70 to 75 deg (pier)"),
        "{text}"
    );
    let report = dir.path().join("halfturn-report");
    let summary = std::fs::read(report.join("summary.json")).expect("the summary");
    let summary: Value = serde_json::from_slice(&summary).expect("JSON");
    let target = &summary["before"]["targets"][0];
    assert_eq!(target["verdict"], "at-risk");
    assert_eq!(
        (&target["keep_out"]["rate"], &target["keep_out_mean_deg"]),
        (&1.0.into(), &5.0.into())
    );
    let mut table = csv::Reader::from_path(report.join("targets.csv")).expect("a table");
    let header = table.headers().expect("a header").clone();
    let row = table.records().next().expect("a row").expect("a row");
    let field = |name: &str| row.get(header.iter().position(|h| h == name).expect("the column"));
    assert_eq!(
        (field("keep_out_before"), field("keep_out_deg_before")),
        (Some("1"), Some("5"))
    );
}

/// Sixty targets that never settle, each at its own distance from the seam.
#[test]
fn the_screen_is_not_flooded_with_reasons() {
    let dir = folder();
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..60 {
        list.push_str(&format!("T{i},{}\n", 0.01 * f64::from(i)));
    }
    write(dir.path(), "t.csv", &list);
    assert!(halfturn(dir.path(), &["init", "rig"]).status.success());
    let narrow = "loop.tolerance_deg=0.05";
    let args = [
        "advise",
        "rig/rig.toml",
        "t.csv",
        "--trials",
        "500",
        "--set",
        narrow,
    ];
    let text = String::from_utf8(halfturn(dir.path(), &args).stdout).expect("text");
    let now = text.split("ADVISED").next().unwrap_or_default();
    assert!(now.matches(" of the runs ").count() <= 10, "{now}");
    assert!(now.contains(" more; the report has their reasons"), "{now}");
}

/// Ten thousand targets are answered, not refused; far fewer runs keep the test short.
#[test]
fn ten_thousand_targets_are_judged() {
    let dir = folder();
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..10_000 {
        list.push_str(&format!("T{i},{}\n", f64::from(i) * 0.018));
    }
    write(dir.path(), "many.csv", &list);
    write(dir.path(), "rig.toml", "format = 1\n");
    let out = halfturn(
        dir.path(),
        &["advise", "rig.toml", "many.csv", "--trials", "20"],
    );
    assert_eq!(
        out.status.code(),
        Some(1),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let rows = csv::Reader::from_path(dir.path().join("halfturn-report/targets.csv"))
        .expect("a table")
        .records()
        .count();
    assert_eq!(rows, 10_000);
    let page = std::fs::metadata(dir.path().join("halfturn-report/report.html"))
        .expect("the report")
        .len();
    assert!(page < 1_000_000, "{page} bytes");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(text.lines().count() < 110, "{text}");
}
