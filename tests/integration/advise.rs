//! `advise` as a user runs it: the verdicts, the decision, and the files that it leaves.

use std::collections::HashMap;

use serde_json::Value;

use crate::binary::{folder, halfturn, json, write};

/// Shows (README): `halfturn advise` judges every target, finds arc, tolerance, band, rule and approach, writes the
/// report. With: `every_face_says_the_same`. Source: see docs/advice.md.
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
    let hunts = |t: &&Value| t["verdict"] == "hunts";
    let targets = advice["before"]["targets"].as_array().expect("targets");
    assert_eq!(targets.iter().filter(hunts).count(), 2, "{advice}");
    assert_eq!(advice["after"]["safe"], 8);
    assert_eq!(advice["holds"], true);
    assert_eq!(advice["after"]["clear_of_keep_outs"], true);
    let report = dir.path().join("halfturn-report");
    for file in ["report.html", "summary.json", "targets.csv"] {
        assert!(report.join(file).is_file(), "{file}");
    }
    let entries = || {
        std::fs::read_dir(&report)
            .expect("the report folder")
            .flatten()
    };
    let is_picture = |e: &std::fs::DirEntry| e.path().extension().is_some_and(|x| x == "svg");
    assert!(entries().filter(is_picture).count() >= 5);
    // No temporary file is left behind.
    assert!(entries().all(|e| !e.file_name().to_string_lossy().starts_with('.')));
    let page = std::fs::read_to_string(report.join("report.html")).expect("the report");
    assert!(page.contains("NGC 6992 Eastern Veil"));
    assert!(page.contains("arc_start_deg = 277.0"));
    // The table has the shares of the JSON.
    let mut table = csv::Reader::from_path(report.join("targets.csv")).expect("a table");
    let rows: Vec<HashMap<String, String>> = table.deserialize().flatten().collect();
    assert_eq!(rows.len(), 8);
    for (row, target) in rows.iter().zip(targets) {
        for fault in target["faults"].as_array().expect("faults") {
            let column = match fault["fault"].as_str().expect("a name") {
                "hunting" => "hunting_before",
                "late" => "late_before",
                "keep-out" => "keep_out_before",
                "winding" => "overwound_before",
                _ => continue,
            };
            assert_eq!(row[column].parse().ok(), fault["rate"].as_f64(), "{column}");
        }
    }
}

/// Targets all around, and backlash: every seam is near one of them. No arc serves, another rule does.
/// Shows (files): exit codes. With: `wrong_use::wrong_input_exits_with_2_and_writes_nothing`,
/// `faults::ctrl_c_twice_ends_at_once`. Source: none: own rule.
#[test]
fn an_answer_that_is_bad_news_exits_with_1() {
    let dir = folder();
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..180 {
        list.push_str(&format!("T{i},{}\n", i * 4 % 180 + i / 45));
    }
    write(dir.path(), "targets.csv", &list);
    assert!(halfturn(dir.path(), &["init", "rig"]).status.success());
    for (change, code) in [("arc", 1), ("arc,rule", 0)] {
        let args = "advise rig/rig.toml targets.csv --trials 5000 --quiet --set drive.backlash_deg=0.6 --set loop.tolerance_deg=0.35 --change";
        let args: Vec<&str> = args.split(' ').chain([change]).collect();
        let out = halfturn(dir.path(), &args);
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(code), "{change}: {said}");
        assert!(said.is_empty());
    }
}

/// Pictures that only some reports have do not outlive the report that had them.
#[test]
fn a_second_report_leaves_no_picture_of_the_first() {
    let dir = folder();
    let report = dir.path().join("halfturn-report");
    let sometimes = report.join("loop-after.svg");
    halfturn(dir.path(), &["advise", "--trials", "4000"]);
    assert!(sometimes.is_file());
    write(&report, "notes.txt", "mine");
    let full_circle = "wrap.rule=full-circle";
    halfturn(
        dir.path(),
        &["advise", "--trials", "4000", "--set", full_circle],
    );
    assert!(!sometimes.exists());
    assert!(report.join("notes.txt").is_file() && report.join("loop-before.svg").is_file());
}

/// Screen, JSON and page say the same sentence.
#[test]
fn every_face_says_the_same() {
    let dir = folder();
    let unsolved: &[&str] = &["--set", "solve.failure_rate=1"];
    let tight: &[&str] = &[
        "--set",
        "loop.tolerance_deg=0.03",
        "--change",
        "arc,tolerance",
    ];
    let cases: [(&[&str], &str, i32); 4] = [
        (&[], "solves", 0),
        (tight, "solves", 0),
        (unsolved, "no-improvement", 1),
        (&["--set", "wrap.rule=full-circle"], "not-needed", 0),
    ];
    for (options, outcome, code) in cases {
        let mut args = vec!["advise", "--trials", "5000", "--quiet"];
        args.extend(options);
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(code), "{options:?}");
        let text = String::from_utf8(out.stdout).expect("text");
        let report = dir.path().join("halfturn-report");
        let summary = std::fs::read(report.join("summary.json")).expect("the summary");
        let summary: Value = serde_json::from_slice(&summary).expect("JSON");
        let headline = summary["headline"].as_str().expect("a headline");
        let page = std::fs::read_to_string(report.join("report.html")).expect("the page");
        assert!(text.contains(headline), "{text}");
        assert!(page.replace('\u{a0}', " ").contains(headline), "{headline}");
        assert_eq!(summary["outcome"], outcome, "{headline}");
        assert_eq!(summary["holds"], code == 0);
        // Every changed key is on the screen, and in the certificate.
        let certificate = std::fs::read_to_string(report.join("advice.toml")).expect("a file");
        for change in summary["plan"]["changes"].as_array().expect("changes") {
            let key = change["key"].as_str().expect("a key");
            let name = key.rsplit('.').next().expect("a name");
            let line = format!("{name} = {}", change["to"]);
            assert!(
                text.contains(&line) && certificate.contains(&line),
                "{line}"
            );
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
    assert!(
        text.contains("A turns through the keep-out from 70° to 75° (pier) in every run, 5° a run"),
        "{text}"
    );
    let report = dir.path().join("halfturn-report");
    let summary = std::fs::read(report.join("summary.json")).expect("the summary");
    let summary: Value = serde_json::from_slice(&summary).expect("JSON");
    let target = &summary["before"]["targets"][0];
    assert_eq!(target["verdict"], "turns-through-keep-out");
    assert_eq!(target["faults"][0]["fault"], "keep-out");
    let figure = |value: &Value| value.as_f64().expect("a number");
    assert!(figure(&target["faults"][0]["rate"]) > 0.9999);
    assert!((figure(&target["keep_out_mean_deg"]) - 5.0).abs() < 1e-3);
    let mut table = csv::Reader::from_path(report.join("targets.csv")).expect("a table");
    let header = table.headers().expect("a header").clone();
    let row = table.records().next().expect("a row").expect("a row");
    let field = |name: &str| row.get(header.iter().position(|h| h == name).expect("the column"));
    let number =
        |name: &str| -> f64 { field(name).and_then(|f| f.parse().ok()).expect("a number") };
    assert!(number("keep_out_before") > 0.9999);
    assert!((number("keep_out_deg_before") - 5.0).abs() < 1e-3);
}
/// Fourteen targets that never settle, each at its own distance from the seam.
#[test]
fn the_screen_is_not_flooded_with_reasons() {
    let dir = folder();
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..14 {
        list.push_str(&format!("T{i},{}\n", 0.02 * f64::from(i)));
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
        "--change",
        "arc",
        "--set",
        narrow,
    ];
    let text = String::from_utf8(halfturn(dir.path(), &args).stdout).expect("text");
    // Five reasons now, and no more than five with the advised settings.
    assert!(
        (5..=10).contains(&text.matches(" of the runs").count()),
        "{text}"
    );
    assert!(text.contains(" more, in the table of targets"), "{text}");
}

/// Two thousand targets are answered, not refused.
#[test]
fn two_thousand_targets_are_judged() {
    let dir = folder();
    let mut list = String::from("name,position_angle_deg\n");
    for i in 0..2_000 {
        list.push_str(&format!("T{i},{}\n", f64::from(i) * 0.09));
    }
    write(dir.path(), "many.csv", &list);
    write(
        dir.path(),
        "rig.toml",
        "format = 1\n[drive]\nbacklash_deg = 0.6\n[loop]\ntolerance_deg = 0.35\n",
    );
    let out = halfturn(
        dir.path(),
        &[
            "advise", "rig.toml", "many.csv", "--trials", "20", "--change", "arc",
        ],
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
    assert_eq!(rows, 2_000);
    let page = std::fs::metadata(dir.path().join("halfturn-report/report.html"))
        .expect("the report")
        .len();
    assert!(page < 1_000_000, "{page} bytes");
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(text.lines().count() < 110, "{text}");
}
