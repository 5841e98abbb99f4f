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
        let wiggle = 0.01 * f64::from((i * 7) % 11 - 5);
        let angle = (reading + 10.0 + wiggle).rem_euclid(360.0);
        text.push_str(&format!("{reading:.2},{angle:.3}\n"));
    }
    text
}

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

/// Columns in another order, a byte-order mark, comments, lines ended by carriage returns, failed solves in three forms.
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
            "bad.csv:1: position_angle_deg: this column is missing",
        ),
        (
            "reading_deg,position_angle_deg,angle\n1,2,3\n",
            "bad.csv:1: angle: unknown column; allowed are reading_deg",
        ),
        (
            "reading_deg;position_angle_deg\n1;2\n",
            "fields are parted by commas",
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
            "bad.csv:2: this row has 1 column, the header has 2",
        ),
        (
            "reading_deg,position_angle_deg,solved_ok\n1,2,maybe\n",
            "bad.csv:2: solved_ok = \"maybe\": must be 1 or 0",
        ),
        (
            "reading_deg,position_angle_deg,solved_ok\n1,,1\n",
            "bad.csv:2: position_angle_deg: must not be empty where solved_ok",
        ),
        (
            "reading_deg,position_angle_deg,time\n1,2,5\n1,2,4\n",
            "bad.csv:3: time = \"4\": goes back",
        ),
        (
            "reading_deg,position_angle_deg,time\n1,2,noon\n",
            "bad.csv:2: time = \"noon\": must be a number of seconds",
        ),
        (
            "reading_deg,position_angle_deg\n",
            "bad.csv: there is no row",
        ),
        (
            "reading_deg,position_angle_deg\n1,2\n2,\n",
            "bad.csv: 1 solved rows are too few",
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

/// The fitted rig is a rig, keeps the other keys of the rig that it comes from, and spares what is there.
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
    let rig = halfturn::rig::read(&text, "new.toml", &[]).expect("it is a rig");
    let s = rig.settings();
    assert_eq!((s.name.as_str(), s.drive.speed_deg_per_s), ("mine", 1.5));
    assert!(
        (s.drive.zero_point_deg - 10.0).abs() < 0.05,
        "{}",
        s.drive.zero_point_deg
    );
    let svg = std::fs::read_to_string(dir.path().join("left.svg")).expect("the picture");
    assert!(roxmltree::Document::parse(&svg).is_ok());

    let again = halfturn(dir.path(), &args);
    assert_eq!(again.status.code(), Some(2));
    assert!(complaint(&again).contains("new.toml: is there already"));
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

/// The demo log is what the command beside it makes, and what it says of its rig is right.
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
