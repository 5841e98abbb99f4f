//! `judge` as a user runs it: the examples in three languages, reports, files, wrong use.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

use crate::binary::{complaint, example, folder, halfturn, json, names, there_is, write};

/// A controller of the examples in Rust, built like the test itself.
pub(crate) fn rust_example(name: &str) -> String {
    let test = std::env::current_exe().expect("the test has a path");
    let profile = test.parent().and_then(Path::parent).expect("a profile");
    let path: PathBuf = profile
        .join("examples")
        .join(format!("{name}{}", std::env::consts::EXE_SUFFIX));
    if !path.exists() {
        // `cargo test` builds all examples, but `cargo test --test integration` none.
        let built = Command::new(env!("CARGO"))
            .args(["build", "--profile", "test", "--example", name])
            .env(
                "CARGO_TARGET_DIR",
                profile.parent().expect("a target folder"),
            )
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .status();
        assert!(built.expect("cargo runs").success());
    }
    path.display().to_string()
}

fn judge(dir: &Path, options: &[&str], command: &[&str]) -> Output {
    let mut args = vec!["judge"];
    args.extend(options);
    args.push("--");
    args.extend(command);
    halfturn(dir, &args)
}

/// Failed scenarios for a property in the JSON of a session.
pub(crate) fn failed(result: &Value, property: &str) -> u64 {
    let properties = result["properties"].as_array().expect("properties");
    let found = properties.iter().find(|p| p["property"] == property);
    found
        .and_then(|p| p["failed"].as_u64())
        .expect("a property of that name")
}

fn assert_right(command: &[&str]) {
    let dir = folder();
    let out = judge(dir.path(), &["--json", "-"], command);
    let result = json(&out);
    assert_eq!(out.status.code(), Some(0), "{:#}", result["properties"]);
    assert_eq!(result["scenarios"], 2000);
    assert_eq!(result["passed"], true);
    assert!(names(dir.path()).is_empty(), "nothing is left behind");
}

fn assert_wrong(command: &[&str], property: &str, family: &str) {
    let dir = folder();
    let out = judge(dir.path(), &["--json", "-"], command);
    let result = json(&out);
    assert_eq!(out.status.code(), Some(1), "{command:?}");
    assert!(failed(&result, property) > 0, "{:#}", result["properties"]);
    let failures = result["failures"].as_array().expect("failures");
    assert!(failures.iter().any(|f| f["family"] == family));
}

/// Shows (README): `halfturn judge` tests a controller in any language. With:
/// `controllers_in_javascript_are_told_apart`, `controllers_in_rust_are_told_apart`. Source: see docs/judge.md.
/// Shows (judge): exit codes 0, 1, 2, 130. With: `wrong_use_is_refused_before_anything_is_played`,
/// `judge_faults::ctrl_c_ends_it_cleanly`. Source: none: own rule.
#[test]
fn controllers_in_python_are_told_apart() {
    if there_is("python3") {
        assert_right(&["python3", &example("correct.py")]);
        assert_wrong(
            &["python3", &example("wrong_band.py")],
            "long-swings",
            "seam",
        );
    }
}

#[test]
fn controllers_in_javascript_are_told_apart() {
    if there_is("node") {
        assert_right(&["node", &example("correct.js")]);
        assert_wrong(&["node", &example("wrong_end.js")], "arc", "multiples");
    }
}

#[test]
fn controllers_in_rust_are_told_apart() {
    assert_right(&[&rust_example("judged_correct")]);
    assert_wrong(&[&rust_example("judged_wrong")], "arc", "seam");
}

/// Shows (judge): examples below 80 lines, in three languages. Source: none: own rule.
#[test]
fn every_example_of_a_controller_is_short() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for dir in [root.clone(), root.join("controllers")] {
        for entry in std::fs::read_dir(&dir).expect("the folder").flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let judged = dir != root || name.starts_with("judged_");
            if entry.path().is_file() && judged {
                let text = std::fs::read_to_string(entry.path()).expect("text");
                assert!(text.lines().count() < 80, "{:?}", entry.path());
            }
        }
    }
}

/// Shows (judge): failures are kept, replayed, played first. With:
/// `judge::a_file_of_scenarios_reads_back_and_says_what_is_wrong`. Source: none: own rule.
#[test]
fn failures_are_kept_replayed_and_played_first() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let wrong = example("wrong_band.py");
    let out = judge(dir.path(), &["--scenarios", "300"], &["python3", &wrong]);
    assert_eq!(out.status.code(), Some(1));
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    for part in ["FAIL", "long-swings", "LONG SWING", "--replay", "a second"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let kept = dir.path().join("halfturn-judge");
    let files = [
        "long-swings.json",
        "long-swings.svg",
        "regressions.json",
        "settles.json",
        "settles.svg",
    ];
    assert_eq!(names(&kept), files);
    let svg = std::fs::read_to_string(kept.join("long-swings.svg")).expect("a picture");
    assert!(roxmltree::Document::parse(&svg).is_ok());

    // Again: the same failure, and nothing else.
    let file = "halfturn-judge/long-swings.json";
    let replay = ["--replay", file, "--json", "-"];
    let out = judge(dir.path(), &replay, &["python3", &wrong]);
    let result = json(&out);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(result["scenarios"], 1);
    assert_eq!(failed(&result, "long-swings"), 1);
    let out = judge(dir.path(), &replay, &["python3", &example("correct.py")]);
    assert_eq!(out.status.code(), Some(0));

    // First next time, also where the seed has no such scenario, and once only.
    let options = [
        "--scenarios",
        "5",
        "--families",
        "arcs",
        "--seed",
        "9",
        "--json",
        "-",
    ];
    for _ in 0..2 {
        let out = judge(dir.path(), &options, &["python3", &wrong]);
        let result = json(&out);
        let remembered = result["scenarios"].as_u64().expect("a number") - 5;
        assert!(remembered == 1 || remembered == 2, "{remembered}");
        assert_eq!(result["failures"][0]["number"], 1);
        assert_eq!(result["failures"][0]["remembered"], true);
    }
}

/// Shows (judge): the same seed gives the same scenarios and luck. Source: none: internal consistency.
#[test]
fn the_same_seed_gives_the_same_result() {
    if !there_is("python3") {
        return;
    }
    let run = |seed: &str| {
        let dir = folder();
        let options = ["--scenarios", "300", "--json", "-", "--seed", seed];
        judge(
            dir.path(),
            &options,
            &["python3", &example("wrong_band.py")],
        )
        .stdout
    };
    assert_eq!(run("4"), run("4"));
    assert_ne!(run("4"), run("5"));
}

/// Shows (judge): JUnit XML and TAP are as build servers read them. With: `tap_is_well_formed`. Source: common schema
/// of build servers (testsuites, testsuite, testcase, failure), through a parser that is not the writer's; TAP version
/// 14, 2022.
#[test]
fn junit_is_what_build_servers_read() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let options = ["--scenarios", "450", "--junit", "result.xml", "--json", "-"];
    let out = judge(
        dir.path(),
        &options,
        &["python3", &example("wrong_band.py")],
    );
    let result = json(&out);
    let text = std::fs::read_to_string(dir.path().join("result.xml")).expect("a file");
    let xml = roxmltree::Document::parse(&text).expect("XML");
    let root = xml.root_element();
    assert_eq!(root.tag_name().name(), "testsuites");
    assert_eq!(root.attribute("tests"), Some("450"));
    let failures = result["failed"].to_string();
    assert_eq!(root.attribute("failures"), Some(failures.as_str()));
    assert_eq!(root.attribute("errors"), Some("0"));
    let elements = |name: &'static str| {
        root.descendants()
            .filter(move |n| n.is_element() && n.tag_name().name() == name)
    };
    assert_eq!(elements("testsuite").count(), 15);
    assert_eq!(elements("testcase").count(), 450);
    let mut seen = std::collections::HashSet::new();
    for case in elements("testcase") {
        let name = case.attribute("name").expect("a name");
        assert!(seen.insert(name.to_owned()), "{name} stands twice");
        assert!(
            case.attribute("classname")
                .is_some_and(|c| c.starts_with("halfturn.judge."))
        );
    }
    let failed: Vec<_> = elements("failure").collect();
    assert_eq!(failed.len().to_string(), failures);
    for failure in failed {
        assert_eq!(failure.attribute("type"), Some("long-swings"));
        assert!(
            failure
                .attribute("message")
                .is_some_and(|m| m.contains("long swing"))
        );
    }
    assert!(elements("system-out").any(|o| o.text().is_some_and(|t| t.contains("LONG SWING"))));
}

/// The grammar of TAP 14 (Test Anything Protocol, version 14, 2022): version, plan, numbered test points, YAML blocks
/// that are indented by two.
#[test]
fn tap_is_well_formed() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let options = ["--scenarios", "150", "--tap"];
    let out = judge(
        dir.path(),
        &options,
        &["python3", &example("wrong_band.py")],
    );
    assert_eq!(out.status.code(), Some(1));
    let text = String::from_utf8(out.stdout).expect("UTF-8");
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("TAP version 14"));
    assert_eq!(lines.next(), Some("1..150"));
    let (mut points, mut failed, mut in_block) = (0, 0, false);
    for line in lines {
        match line {
            "  ---" => {
                assert!(!in_block && failed > 0);
                in_block = true;
            }
            "  ..." => in_block = false,
            inside if in_block => assert!(inside.starts_with("  "), "{inside}"),
            point => {
                points += 1;
                let ok = point.starts_with(&format!("ok {points} - "));
                let not_ok = point.starts_with(&format!("not ok {points} - "));
                assert!(ok || not_ok, "{point}");
                failed += u32::from(not_ok);
            }
        }
    }
    assert!(points == 150 && failed > 0 && !in_block);
}

/// A number sign begins a directive of TAP 14, and "# TODO" would excuse a failure; XML 1.0 has no U+FFFF.
#[test]
fn the_name_of_a_rig_breaks_no_format() {
    let dir = folder();
    write(dir.path(), "rig.toml", "name = \"pier # TODO \\uffff\"\n");
    let options = ["--rig", "rig.toml", "--tap", "--junit", "result.xml"];
    let out = judge(dir.path(), &options, &["false"]);
    let text = String::from_utf8(out.stdout).expect("UTF-8");
    assert!(text.contains("pier") && !text.contains('#'), "{text}");
    let xml = std::fs::read_to_string(dir.path().join("result.xml")).expect("a file");
    assert!(roxmltree::Document::parse(&xml).is_ok());
    assert!(xml.contains("pier # TODO") && !xml.contains('\u{ffff}'));
}

#[test]
fn wrong_use_is_refused_before_anything_is_played() {
    let dir = folder();
    write(dir.path(), "broken.json", "[]");
    write(dir.path(), "rig.toml", "");
    write(dir.path(), "steep.toml", "[drive]\ngain_error = 0.5\n");
    let cases: [(&[&str], &[&str], &str); 11] = [
        (
            &["--rig", "rig.toml", "--junit", "rig.toml"],
            &["true"],
            "--junit would overwrite it",
        ),
        (
            &[],
            &["no-such-program-7"],
            "no-such-program-7: does not start",
        ),
        (
            &["--replay", "broken.json"],
            &["true"],
            "broken.json:1: not a file of scenarios",
        ),
        (
            &["--replay", "none.json"],
            &["true"],
            "none.json: cannot be read",
        ),
        (
            &["--rig", "none.toml"],
            &["true"],
            "none.toml: cannot be read",
        ),
        (
            &["--rig", "steep.toml"],
            &["true"],
            "steep.toml: gain and periodic",
        ),
        (
            &["--set", "drive.step_deg=1"],
            &["true"],
            "--set: needs --rig",
        ),
        (
            &["--tap", "--json", "-"],
            &["true"],
            "standard output takes one of them",
        ),
        (
            &["--junit", "no/where.xml"],
            &["true"],
            "no/where.xml: cannot be written",
        ),
        (&["--answer-timeout", "0"], &["true"], "from 0.01 to 3600"),
        (
            &["--families", "seam,sea"],
            &["true"],
            "must be one of seam, arcs",
        ),
    ];
    for (options, command, expected) in cases {
        let out = judge(dir.path(), options, command);
        assert_eq!(out.status.code(), Some(2), "{options:?}");
        assert!(complaint(&out).contains(expected), "{}", complaint(&out));
        assert!(out.stdout.is_empty());
    }
    let out = halfturn(dir.path(), &["judge"]);
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(names(dir.path()), ["broken.json", "rig.toml", "steep.toml"]);
}

/// Shows (judge): with `--rig` the user's rig is judged with. Source: none: own rule.
#[test]
fn the_rig_of_the_user_is_judged_with() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    assert_eq!(halfturn(dir.path(), &["init"]).status.code(), Some(0));
    let options = [
        "--rig",
        "rig.toml",
        "--set",
        "loop.tolerance_deg=0.1",
        "--json",
        "-",
    ];
    let out = judge(dir.path(), &options, &["python3", &example("correct.py")]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    assert!(complaint(&out).contains("loop.tolerance_deg = 0.1 is below"));
    assert_eq!(json(&out)["rig"], "rig.toml");
    let out = judge(
        dir.path(),
        &options,
        &["python3", &example("wrong_band.py")],
    );
    assert_eq!(json(&out)["scenarios"], 2000);
}

/// Each of the wrong rules is told from the claimed one, and what failed under one claim is not held against another.
#[test]
fn a_claimed_rule_is_judged() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let right = example("correct.py");
    for (rule, exit) in [("half-circle", 1), ("hysteresis-band", 0), ("fold-once", 1)] {
        let options = ["--rule", rule, "--scenarios", "300", "--json", "-"];
        let out = judge(dir.path(), &options, &["python3", &right]);
        assert_eq!(out.status.code(), Some(exit), "{rule}: {}", complaint(&out));
        assert_eq!(failed(&json(&out), "rule") > 0, exit == 1, "{rule}");
    }
    let out = judge(
        dir.path(),
        &["--rule", "third-circle"],
        &["python3", &right],
    );
    assert_eq!(out.status.code(), Some(2));
    assert!(complaint(&out).contains("full-circle, half-circle, hysteresis-band, fold-once"));
}

#[test]
fn a_margin_has_its_cycle_on_the_screen_and_in_files() {
    let dir = folder();
    let right = rust_example("judged_correct");
    let options = ["--scenarios", "16", "--families", "arcs", "--margin"];
    let out = judge(dir.path(), &options, &[&right]);
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    for part in [
        "lower end: cannot be made to hunt for ever with 4° of swing error; with 4.13° it can",
        "upper end: cannot be made to hunt",
        "LONG SWING",
        "chosen errors of up to 2.06°",
        "nearer end of the arc lower with wanted angle in the band",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert_eq!(out.status.code(), Some(0), "{text}");
    let files = ["margin-lower.json", "margin-upper.json"];
    assert_eq!(names(&dir.path().join("halfturn-judge")), files);
    let replay = [
        "--replay",
        "halfturn-judge/margin-upper.json",
        "--json",
        "-",
    ];
    let result = json(&judge(dir.path(), &replay, &[&right]));
    assert_eq!(failed(&result, "long-swings"), 1);
    assert_eq!(result["margin"], Value::Null);
    assert_eq!(result["coverage"]["situations"], 272);
}
