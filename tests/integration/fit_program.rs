//! `halfturn fit` as a user runs it: the log file, the JSON, the files it writes.

use crate::binary::{complaint, folder, halfturn, json, names, write};

/// A log in which the reading is the position angle less 10 degrees, up and down.
fn plain_log() -> String {
    let mut text = "reading_deg,position_angle_deg\n".to_owned();
    for i in 0..60 {
        let up = i % 30;
        let reading = if i < 30 {
            12.13 * f64::from(up)
        } else {
            350.07 - 11.91 * f64::from(up)
        };
        // Nothing that comes back with the reading.
        let wiggle = 0.001 * f64::from((i * i * 17) % 101 - 50);
        let angle = (reading + 10.0 + wiggle).rem_euclid(360.0);
        text.push_str(&format!("{reading:.2},{angle:.3}\n"));
    }
    text
}

/// Shows (files): the log, the JSON of `fit`, `judge`, `sky`. With:
/// `judge_program::the_same_seed_gives_the_same_result`, `sky_night::eight_objects_from_targets_file_to_report`.
/// Source: none: own rule.
#[test]
fn the_json_is_that_of_the_interface() {
    let dir = folder();
    write(dir.path(), "log.csv", &plain_log());
    let out = halfturn(dir.path(), &["fit", "log.csv", "--json", "-"]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let fit = json(&out);
    assert_eq!(
        (&fit["format"], &fit["rows"], &fit["sense"]),
        (&1.into(), &60.into(), &1.into())
    );
    let near = |value: &serde_json::Value, truth: f64, by: f64| {
        value["value"]
            .as_f64()
            .is_some_and(|v| (v - truth).abs() < by)
    };
    assert!(near(&fit["parameters"]["zero_point_deg"], 10.0, 0.05));
    for name in [
        "zero_point_deg",
        "gain_error",
        "backlash_deg",
        "repeatability_deg",
        "noise_deg",
        "outlier_rate",
        "step_deg",
    ] {
        let parameter = &fit["parameters"][name];
        assert!(parameter["value"].is_number(), "{name}");
        assert!(parameter["identifiable"].is_boolean(), "{name}");
        for key in ["se", "low", "high"] {
            assert!(parameter.get(key).is_some(), "{name}.{key}");
        }
    }
    for (k, harmonic) in fit["periodic"]
        .as_array()
        .expect("a list")
        .iter()
        .enumerate()
    {
        assert_eq!(harmonic["cycles"], k + 1);
        assert!(harmonic["amplitude_deg"]["value"].is_number());
        assert!(harmonic["phase_deg"]["value"].is_number());
    }
    let findings = fit["diagnoses"].as_array().expect("a list");
    assert!(
        findings
            .iter()
            .all(|d| d["kind"] == "not-identifiable" && d["evidence"].is_string())
    );
    let named: Vec<_> = findings
        .iter()
        .filter_map(|d| d["parameter"].as_str())
        .collect();
    assert_eq!(named, ["repeatability_deg", "noise_deg"]);
}

/// Shows (fit): a log may have columns in any order, a byte-order mark, comments, carriage returns, dates, and failed
/// solves in three forms. With: `faults_of_a_log_are_named`, `crates/engine/src/fit/log.rs::dates_become_seconds`,
/// `crates/engine/src/fit/log.rs::decimals_are_counted_as_written`. Source: GNU coreutils 9.1 (`date`).
#[test]
fn logs_are_read_as_people_write_them() {
    let dir = folder();
    write(dir.path(), "plain.csv", &plain_log());
    let mut text =
        "\u{feff}# a night\r\nrun, solved_ok ,position_angle_deg,time,reading_deg\r\n".to_owned();
    for (i, line) in plain_log().lines().skip(1).enumerate() {
        let (reading, angle) = line.split_once(',').expect("two columns");
        text.push_str(&format!(
            "first,true,{angle},2031-03-01T22:{i:02}:00,{reading}\r\n"
        ));
        // What failed tells nothing, and takes nothing away.
        match i % 3 {
            0 => text.push_str(&format!("first,0,nonsense,,{reading}\r\n")),
            1 => text.push_str(&format!("first,,,2031-03-01T22:{i:02}:30,{reading}\r\n")),
            _ => text.push_str(&format!(
                "first,no,12,,{reading}\r\n  # and a comment\r\n\r\n"
            )),
        }
    }
    write(dir.path(), "other.csv", &text);
    let read = |name: &str| json(&halfturn(dir.path(), &["fit", name, "--json", "-"]));
    let (plain, other) = (read("plain.csv"), read("other.csv"));
    assert_eq!(other["rows"], 120);
    assert_eq!(other["solved"], 60);
    for key in ["zero_point_deg", "gain_error", "backlash_deg"] {
        let value = |fit: &serde_json::Value| fit["parameters"][key]["value"].as_f64();
        let (a, b) = (
            value(&plain).unwrap_or(f64::NAN),
            value(&other).unwrap_or(f64::NAN),
        );
        assert!((a - b).abs() < 1e-9, "{key}: {a} {b}");
    }
}

#[test]
fn faults_of_a_log_are_named() {
    let dir = folder();
    let cases = [
        (
            "reading_deg\n1\n",
            "bad.csv:1: position_angle_deg: is missing: add this column to the header",
        ),
        (
            "reading_deg,position_angle_deg,angle\n1,2,3\n",
            "bad.csv:1: angle: unknown column. Use reading_deg",
        ),
        (
            "reading_deg;position_angle_deg\n1;2\n",
            "commas must part the fields",
        ),
        (
            "reading_deg,position_angle_deg\n# c\n1,x\n",
            "bad.csv:3: position_angle_deg = \"x\": must be a number from -360000",
        ),
        (
            "reading_deg,position_angle_deg\n,1\n",
            "bad.csv:2: reading_deg: must not be empty",
        ),
        (
            "reading_deg,position_angle_deg\nnan,1\n",
            "bad.csv:2: reading_deg = \"nan\"",
        ),
        (
            "reading_deg,position_angle_deg\n1,inf\n",
            "bad.csv:2: position_angle_deg = \"inf\"",
        ),
        (
            "reading_deg,position_angle_deg\n1\n",
            "bad.csv:2: this row has 1 column, but the header has 2",
        ),
        (
            "reading_deg,position_angle_deg,solved_ok\n1,2,maybe\n",
            "bad.csv:2: solved_ok = \"maybe\": must be 1 or 0",
        ),
        (
            "reading_deg,position_angle_deg,solved_ok\n1,,1\n",
            "bad.csv:2: position_angle_deg: must not be empty in a row with a good solve",
        ),
        (
            "reading_deg,position_angle_deg,time\n1,2,5\n1,2,4\n",
            "bad.csv:3: time = \"4\": goes back",
        ),
        (
            "reading_deg,position_angle_deg,time\n1,2,noon\n",
            "bad.csv:2: time = \"noon\": must be a number of seconds",
        ),
        ("reading_deg,position_angle_deg\n", "bad.csv: holds no row"),
        (
            "reading_deg,position_angle_deg\n1,2\n2,\n",
            "bad.csv: has 1 solved rows, but fit needs",
        ),
    ];
    for (text, message) in cases {
        write(dir.path(), "bad.csv", text);
        let out = halfturn(dir.path(), &["fit", "bad.csv", "--out", "rig.toml"]);
        assert_eq!(out.status.code(), Some(2), "{text}");
        assert!(
            complaint(&out).contains(message),
            "{text}: {}",
            complaint(&out)
        );
        assert_eq!(names(dir.path()), ["bad.csv"], "{text}");
    }
    let out = halfturn(dir.path(), &["fit", "missing.csv"]);
    assert!(complaint(&out).contains("missing.csv: cannot be read"));
    assert_eq!(halfturn(dir.path(), &["fit"]).status.code(), Some(2));
}

/// Shows (fit): `fit --out` writes a rig that keeps the other keys of its rig, and spares what is there. Source: none:
/// own rule.
#[test]
fn a_rig_file_is_written_and_nothing_lost() {
    let dir = folder();
    write(dir.path(), "log.csv", &plain_log());
    write(
        dir.path(),
        "old.toml",
        "name = \"mine\"\n[drive]\nspeed_deg_per_s = 1.5\n",
    );
    let args = [
        "fit", "log.csv", "--rig", "old.toml", "--out", "new.toml", "--plot", "left.svg",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let text = std::fs::read_to_string(dir.path().join("new.toml")).expect("the rig");
    assert!(text.contains("# fitted, from "), "{text}");
    let rig = halfturn_engine::rig::read(&text, "new.toml", &[]).expect("it is a rig");
    let s = rig.settings();
    assert_eq!((s.name.as_str(), s.drive.speed_deg_per_s), ("mine", 1.5));
    assert!(
        (s.drive.zero_point_deg - 10.0).abs() < 0.05,
        "{}",
        s.drive.zero_point_deg
    );
    // Known far better than the 0.5° that a rig file supposes.
    let sigma_deg = s.drive.zero_point_sigma_deg;
    assert!(sigma_deg > 0.0 && sigma_deg < 0.05, "{sigma_deg}");
    assert!(
        text.contains("# fitted: the standard error of the zero point"),
        "{text}"
    );
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(
        said.contains("give your control program this zero point too: "),
        "{said}"
    );
    let svg = std::fs::read_to_string(dir.path().join("left.svg")).expect("the picture");
    assert!(roxmltree::Document::parse(&svg).is_ok());

    let again = halfturn(dir.path(), &args);
    assert_eq!(again.status.code(), Some(2));
    assert!(complaint(&again).contains("new.toml: exists already"));
    let forced = halfturn(dir.path(), &[&args[..], &["--force"]].concat());
    assert_eq!(forced.status.code(), Some(0), "{}", complaint(&forced));
    for (input, option) in [
        ("old.toml", "--out"),
        ("log.csv", "--out"),
        ("log.csv", "--json"),
    ] {
        let args = [
            "fit", "log.csv", "--rig", "old.toml", "--force", option, input,
        ];
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(2), "{option} {input}");
        assert!(
            complaint(&out).contains("is an input of this command"),
            "{}",
            complaint(&out)
        );
    }
}

/// Shows (fit): `--rehearse` made the demo log, and what `fit` says of its rig is right. Source: none: internal
/// consistency.
#[test]
fn the_demo_log_is_made_and_fitted() {
    let dir = folder();
    let root = env!("CARGO_MANIFEST_DIR");
    let kept = std::fs::read_to_string(format!("{root}/assets/demo-log.csv")).expect("the log");
    let command = kept
        .lines()
        .find_map(|l| l.strip_prefix("# made by: halfturn "))
        .expect("a command");
    let demo = format!("{root}/assets/demo-rig.toml");
    let args: Vec<&str> = command
        .split(' ')
        .map(|a| {
            if a == "assets/demo-rig.toml" {
                &demo
            } else {
                a
            }
        })
        .collect();
    let made = args.last().expect("a name");
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let rows = |text: &str| -> Vec<String> {
        text.lines()
            .filter(|l| !l.starts_with('#'))
            .map(str::to_owned)
            .collect()
    };
    let made = std::fs::read_to_string(dir.path().join(made)).expect("the log");
    assert_eq!(rows(&made), rows(&kept));
    let out = halfturn(
        dir.path(),
        &["fit", &format!("{root}/assets/demo-log.csv"), "--json", "-"],
    );
    let fit = json(&out);
    let holds = |e: &serde_json::Value, truth: f64| {
        e["low"].as_f64().is_some_and(|l| l <= truth)
            && e["high"].as_f64().is_some_and(|h| truth <= h)
    };
    assert!(holds(&fit["parameters"]["backlash_deg"], 0.2), "{fit:#}");
    assert!(holds(&fit["periodic"][0]["amplitude_deg"], 0.15), "{fit:#}");
    assert_eq!(fit["diagnoses"], serde_json::json!([]));
}

/// A rig parked at 90 with a keep-out from 200 to 240, without step and backlash of note.
const RIG: &str = "[drive]\npark_deg = 90.0\nstep_deg = 0.02\nbacklash_deg = 0.2\n[[keep_out]]\nfrom_deg = 200.0\nto_deg = 240.0\nwhy = \"drawer\"\n";

/// Half a step (0.01) at every limit; at keep-outs a degree and the backlash (1.2) more; an overrun of 2 on its side.
/// Shows (fit): what a plan may not do is refused, with the limit. With: `unsafe_plans_are_refused`. Source: by hand.
#[test]
fn plans_keep_the_limits_of_the_rig() {
    let dir = folder();
    write(dir.path(), "rig.toml", RIG);
    let free: &[&str] = &["keep_out=[]"];
    let stops: &[&str] = &[
        "drive.travel=\"stops\"",
        "drive.stop_from_deg=-5",
        "drive.stop_to_deg=500",
        "keep_out=[]",
    ];
    let limited = "drive.winding_limit_deg=135";
    let from_below = "loop.approach=\"from-below\"";
    let from_above = "loop.approach=\"from-above\"";
    let overrun = "loop.overrun_deg=2";
    type Ends = [(f64, &'static str); 2];
    let cases: [(&[&str], &[&str], Ends); 9] = [
        (&[], &[], [(-118.79, "keep-out"), (198.79, "keep-out")]),
        (&[limited], &[], [(-44.99, "cable"), (198.79, "keep-out")]),
        (
            &["drive.winding_limit_deg=100"],
            &[],
            [(-9.99, "cable"), (189.99, "cable")],
        ),
        (
            &["drive.winding_limit_deg=30"],
            &[],
            [(60.01, "cable"), (119.99, "cable")],
        ),
        (
            &[limited, from_below, overrun],
            &[],
            [(-42.99, "cable"), (198.79, "keep-out")],
        ),
        (
            &[limited, from_above, overrun],
            &[],
            [(-44.99, "cable"), (196.79, "keep-out")],
        ),
        (free, &[], [(0.0, "turn"), (360.0, "turn")]),
        (stops, &[], [(0.0, "turn"), (360.0, "turn")]),
        (
            &[],
            &["--from", "10", "--to", "170"],
            [(10.0, "asked"), (170.0, "asked")],
        ),
    ];
    for (changes, more, ends) in cases {
        let set = changes.iter().flat_map(|c| ["--set", *c]);
        let args = ["fit", "--plan", "--rig", "rig.toml", "--json", "-"];
        let args: Vec<&str> = args.into_iter().chain(set).chain(more.to_vec()).collect();
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(0), "{args:?}: {}", complaint(&out));
        let plan = json(&out);
        for ((at, limit), (deg, name)) in ends
            .into_iter()
            .zip([("from_deg", "from_limit"), ("to_deg", "to_limit")])
        {
            assert_eq!(plan[deg], at, "{args:?}");
            assert_eq!(plan[name], limit, "{args:?}");
        }
        let moves = plan["steps"].as_array().expect("a list");
        let to = |m: &serde_json::Value| m["move_to_deg"].as_f64().unwrap_or(f64::NAN);
        let within = |x: f64| x >= ends[0].0 && x <= ends[1].0;
        assert!(
            moves.iter().all(|m| within(to(m)) || to(m) == 90.0),
            "{args:?}"
        );
    }
    let out = halfturn(
        dir.path(),
        &["fit", "--plan", "--rig", "rig.toml", "--set", limited],
    );
    let said = "Readings from -44.99° (the cable limit) to 198.79° (near a keep-out), once up";
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(text.contains(said), "{text}");
    assert!(
        text.contains("# Begin at the parking reading, 90°"),
        "{text}"
    );
}

#[test]
fn unsafe_plans_are_refused() {
    let dir = folder();
    write(dir.path(), "rig.toml", RIG);
    let cases: [(&[&str], &str); 7] = [
        (
            &["--from", "-120"],
            "the plan can't go to -120°. The rig allows readings from -118.79° (near a keep-out) to 198.79° (near a keep-out)",
        ),
        // Free, but behind the keep-out.
        (&["--to", "300"], "the plan can't go to 300°"),
        (
            &["--to", "150", "--set", "drive.winding_limit_deg=50"],
            "The rig allows readings from 40.01° (the cable limit) to 139.99° (the cable limit)",
        ),
        (
            &["--set", "drive.park_deg=210"],
            "drive.park_deg = 210: this is inside a keep-out",
        ),
        (
            &["--set", "drive.winding_limit_deg=1"],
            "the readings from 89.01° (the cable limit) to 90.99° (the cable limit) leave no room",
        ),
        (
            &[
                "--set",
                "loop.approach=\"from-below\"",
                "--set",
                "loop.overrun_deg=175",
            ],
            "loop.overrun_deg = 175: too far for a plan",
        ),
        (
            &["--accuracy", "0.001", "--set", "drive.winding_limit_deg=30"],
            "no plan over the readings from 60.01° (the cable limit) to 119.99° (the cable limit) reaches ±0.001°. Use --accuracy 0.0209",
        ),
    ];
    let base = ["fit", "--plan", "--rig", "rig.toml", "--out", "plan.csv"];
    for (more, said) in cases {
        let out = halfturn(dir.path(), &[&base[..], more].concat());
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        assert!(
            complaint(&out).contains(said),
            "{more:?}: {}",
            complaint(&out)
        );
        assert_eq!(complaint(&out).lines().count(), 1, "{}", complaint(&out));
        assert_eq!(names(dir.path()), ["rig.toml"], "{more:?}");
    }
    // What is said can be had.
    let more = [
        "--accuracy",
        "0.0209",
        "--set",
        "drive.winding_limit_deg=30",
        "--quiet",
    ];
    let out = halfturn(dir.path(), &[&base[..], &more].concat());
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
}
