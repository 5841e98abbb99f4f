//! `advise` without a list, with several lists, and targets by their names.

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, write};

/// Shows (files): any target: the files, the exit code, and settings that serve. With:
/// `crates/engine/src/advise/anywhere/tests.rs::zones_agree_with_runs_at_random_angles`. Source: `advise` on a list of 30
/// random angles (seed: the digits of e), which must then hold without a change.
#[test]
fn a_rig_alone_is_judged_at_every_angle_and_its_settings_serve_any_list() {
    let dir = folder();
    write(dir.path(), "rig.toml", halfturn_engine::rig::DEMO_RIG);
    let args = [
        "advise", "rig.toml", "--trials", "2000", "--write", "--json", "-",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let found: Value = json(&out);
    assert_eq!(found["serves"], true);
    for name in ["any-target.html", "any-target.json", "any-target.svg"] {
        assert!(
            dir.path().join("halfturn-report").join(name).is_file(),
            "{name}"
        );
    }
    assert!(!dir.path().join("halfturn-report/advice.toml").exists());
    // The zones of each rule cover its circle once.
    for rule in found["rules"].as_array().expect("rules") {
        for circle in [&rule["now"], &rule["best"]] {
            let width = circle["width_deg"].as_f64().expect("a width");
            let zones = circle["zones"].as_array().expect("zones");
            let wide = |zone: &Value| {
                let end = |key: &str| zone[key].as_f64().expect("an angle");
                (end("to_deg") - end("from_deg") - 1e-12).rem_euclid(width) + 1e-12
            };
            let all: f64 = zones.iter().map(wide).sum();
            assert!((all - width).abs() < 1e-6, "{all} of {width}");
        }
    }
    let mut list = "name,position_angle_deg\n".to_owned();
    for (i, digits) in "718281828459045235360287471352662497757247093699959574966967"
        .as_bytes()
        .chunks(2)
        .enumerate()
    {
        let digits: f64 = std::str::from_utf8(digits)
            .expect("digits")
            .parse()
            .expect("a number");
        list.push_str(&format!("t{i},{}\n", 3.6 * digits + 0.01 * i as f64));
    }
    write(dir.path(), "list.csv", &list);
    let checked = halfturn(
        dir.path(),
        &[
            "advise",
            "rig.advised.toml",
            "list.csv",
            "--trials",
            "2000",
            "--json",
            "-",
        ],
    );
    assert_eq!(checked.status.code(), Some(0), "{}", complaint(&checked));
    assert_eq!(json(&checked)["outcome"], "not-needed");
    // What can't be cured is bad news, with the reason of each rule.
    let fixed = [
        "advise",
        "rig.toml",
        "--trials",
        "2000",
        "--change",
        "tolerance",
        "--json",
        "-",
    ];
    let out = halfturn(dir.path(), &fixed);
    assert_eq!(out.status.code(), Some(1), "{}", complaint(&out));
    let found = json(&out);
    assert_eq!(found["changes"], Value::Null);
    // Another rule would serve: the headline must not deny it.
    let headline = found["headline"].as_str().expect("a headline");
    assert!(
        headline.contains("The rule hysteresis-band would"),
        "{headline}"
    );
}

/// Shows (files): several lists are one, and a certificate proves them again; a name stands for its angle. Source: the same
/// command with one list, and with the angle.
#[test]
fn lists_go_together_and_names_stand_for_angles() {
    let dir = folder();
    write(dir.path(), "rig.toml", halfturn_engine::rig::DEMO_RIG);
    write(dir.path(), "a.csv", "name,position_angle_deg\nHook,12.5\n");
    write(
        dir.path(),
        "b.csv",
        "name,position_angle_deg,object\nOther,35,M 31\nOther wide,40,\n",
    );
    write(
        dir.path(),
        "both.csv",
        "name,position_angle_deg,object\nHook,12.5,\nOther,35,M 31\nOther wide,40,\n",
    );
    let advised = |lists: &[&str]| {
        let args = [
            &["advise", "rig.toml"],
            lists,
            &["--trials", "500", "--json", "-"],
        ]
        .concat();
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        json(&out)
    };
    assert_eq!(advised(&["both.csv"]), advised(&["a.csv", "b.csv"]));
    let check = ["advise", "--check", "halfturn-report/advice.toml"];
    let out = halfturn(dir.path(), &check);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let certificate = std::fs::read_to_string(dir.path().join(check[2])).expect("a certificate");
    assert!(
        certificate.contains("more_targets_files = [\"b.csv\"]"),
        "{certificate}"
    );
    let traced = |args: &[&str]| {
        let out = halfturn(
            dir.path(),
            &[&["trace", "rig.toml"], args, &["--json", "-"]].concat(),
        );
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        json(&out)
    };
    let by_angle = traced(&["--target", "35"]);
    for name in ["other", "M 31", "andromeda galaxy"] {
        assert_eq!(
            traced(&["a.csv", "b.csv", "--target", name]),
            by_angle,
            "{name}"
        );
    }
    assert_eq!(
        traced(&["b.csv", "--target", "wide"]),
        traced(&["--target", "40"])
    );
}

/// Shows (sky): one camera angle for a mosaic, and minutes on its panels. Source: by hand: all angles are that of the
/// middle; on the equator, in one column, the panels' own angles are the same.
#[test]
fn a_mosaic_can_have_one_camera_angle_and_minutes() {
    let dir = folder();
    let laid = |center: &str, grid: &str, more: &[&str]| {
        let args = [
            "sky",
            "panels",
            "--center",
            center,
            "--grid",
            grid,
            "--frame-deg",
            "2x1",
            "--position-angle",
            "-20",
            "--json",
            "-",
            "--out",
            "p.csv",
            "--force",
            "--minutes",
            "25",
        ];
        let out = halfturn(dir.path(), &[&args[..], more].concat());
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        json(&out)
    };
    let own = laid("210,70", "3x2", &[]);
    let alike = laid("210,70", "3x2", &["--common-angle"]);
    let angles = alike["panels"].as_array().expect("panels").iter();
    assert!(angles.clone().all(|p| p["position_angle_deg"] == 340.0));
    assert_eq!(alike["least_overlap_apart"], own["least_overlap"]);
    let least = |laid: &Value| laid["least_overlap"].as_f64().expect("an overlap");
    assert!(least(&alike) < least(&own) - 0.01);
    let csv = std::fs::read_to_string(dir.path().join("p.csv")).expect("a list");
    assert!(
        csv.starts_with("name,position_angle_deg,ra_deg,dec_deg,minutes\n"),
        "{csv}"
    );
    assert!(csv.lines().skip(1).all(|row| row.ends_with(",25")), "{csv}");
    let (own, alike) = (
        laid("10,0", "1x1", &[]),
        laid("10,0", "1x1", &["--common-angle"]),
    );
    assert_eq!(own["panels"], alike["panels"]);
}
