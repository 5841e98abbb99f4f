//! The frames of a night against its run sheet.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, output, write};
use crate::sky_values::{list, number};

/// A night by hand: sense 1, half circle, parking reading 90, zero point 10; the second target after a flip.
pub(crate) const SHEET: &str = "\
time,moves,target,position_angle_deg,reading_deg,turn_deg,cable_deg,zero_point_deg,flats,watch,sense,period_deg,tolerance_deg,cable_limit_deg,rig_digest
2026-10-14T18:00:00Z,slew,One,50,90,0,0,10,1,,1,180,0.25,60,0a1b
2026-10-14T18:05:00Z,turn,One,50,40,-50,-50,10,1,,1,180,0.25,60,0a1b
2026-10-14T19:00:00Z,slew,Two,80,40,0,-50,190,2,,1,180,0.25,60,0a1b
2026-10-14T19:05:00Z,turn,Two,80,70,30,-20,190,2,,1,180,0.25,60,0a1b
";

/// A solved frame without data. Its second axis has the position angle.
fn frame(dir: &Path, name: &str, time: &str, object: &str, reading: f64, position_angle_deg: f64) {
    let (sine, cosine) = position_angle_deg.to_radians().sin_cos();
    let cards = [
        "SIMPLE  = T".to_owned(),
        "BITPIX  = 8".to_owned(),
        "NAXIS   = 0".to_owned(),
        format!("DATE-OBS= '2026-10-14T{time}'"),
        format!("OBJECT  = '{object}'"),
        format!("ROTANGLE= {reading}"),
        "CTYPE1  = 'RA---TAN'".to_owned(),
        "CTYPE2  = 'DEC--TAN'".to_owned(),
        "CRVAL1  = 10.0".to_owned(),
        "CRVAL2  = 20.0".to_owned(),
        format!("CD1_1   = {:.12}", -0.001 * cosine),
        format!("CD1_2   = {:.12}", 0.001 * sine),
        format!("CD2_1   = {:.12}", 0.001 * sine),
        format!("CD2_2   = {:.12}", 0.001 * cosine),
        "END".to_owned(),
    ];
    let mut text = String::new();
    for card in cards {
        let _ = write!(text, "{card:80}");
    }
    std::fs::write(dir.join(name), format!("{text:2880}")).expect("a file");
}

fn against(dir: &Path) -> (Option<i32>, Value, String) {
    let out = halfturn(
        dir,
        &[
            "sky",
            "fits",
            "frames",
            "--against",
            "sheet.csv",
            "--json",
            "-",
        ],
    );
    let shown = halfturn(dir, &["sky", "fits", "frames", "--against", "sheet.csv"]);
    assert!(out.status.code() != Some(2), "{}", complaint(&out));
    (
        out.status.code(),
        json(&out)["against"].clone(),
        output(&shown),
    )
}

/// A folder with the sheet by hand and a folder for frames.
fn morning() -> tempfile::TempDir {
    let dir = folder();
    write(dir.path(), "sheet.csv", SHEET);
    std::fs::create_dir(dir.path().join("frames")).expect("a folder");
    dir
}

/// A zero point that is 0.3 too large and grows by 0.1 an hour; the camera stands where the loop left it.
/// Shows (sky): frames against a sheet: readings, angles, drift of the zero point, what to change. With:
/// `a_slip_is_a_jump`, `what_differs_from_the_plan_is_named`, `the_other_sense_is_found`. Source: worked by hand.
#[test]
fn frames_stand_beside_their_sheet() {
    let dir = morning();
    let frames = dir.path().join("frames");
    for (name, time, object, reading, angle) in [
        ("a.fits", "18:10:00", "", 39.7, 50.0),
        ("b.fits", "18:40:00", "", 39.7, 50.05),
        // The sheet still has One at this time, but the header says Two. Upside down it is the same field.
        ("c.fits", "18:58:00", "two", 69.6, 259.98),
        ("d.fits", "19:40:00", "Two", 69.6, 260.05),
        ("late.fits", "23:59:00", "Two", 69.6, 260.0),
    ] {
        frame(&frames, name, time, object, reading, angle);
    }
    std::fs::remove_file(frames.join("late.fits")).expect("it is there");
    let (code, found, shown) = against(dir.path());
    assert_eq!(code, Some(0), "{shown}");
    let rows = list(&found["frames"]);
    let expected = [
        ("One", 40.0, -0.3, 0.0, 0.3, -50.3),
        ("One", 40.0, -0.3, 0.05, 0.35, -50.3),
        ("Two", 70.0, -0.4, -0.02, 0.38, -20.4),
        ("Two", 70.0, -0.4, 0.05, 0.45, -20.4),
    ];
    assert_eq!(rows.len(), expected.len());
    for (row, (target, planned, reading, angle, zero, cable)) in rows.iter().zip(expected) {
        assert_eq!(row["target"], target);
        for (key, value) in [
            ("planned_reading_deg", planned),
            ("reading_off_deg", reading),
            ("angle_off_deg", angle),
            ("zero_point_off_deg", zero),
            ("cable_deg", cable),
        ] {
            assert!(
                (number(row, key) - value).abs() < 1e-6,
                "{key} {value}: {row}"
            );
        }
        assert_eq!(row["other_side"], false);
    }
    // 0.1 an hour at 0, 0.5, 0.8 and 1.5 h: an exact line, with 0.45 at its end.
    for (key, value) in [
        ("zero_point_off_deg", 0.37),
        ("zero_point_end_deg", 0.45),
        ("drift_deg_per_h", 0.1),
        ("drift_half_width_deg_per_h", 0.0),
        ("zero_point_spread_deg", 0.062_716_292_8),
    ] {
        assert!(
            (number(&found, key) - value).abs() < 1e-6,
            "{key} {value}: {found}"
        );
    }
    for wanted in [
        "4 of 4 frames",
        "drifted by +0.15°",
        "Add +0.45° to drive.zero_point_deg",
        "at reading 39.7°: a.fits, b.fits",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
}

#[test]
fn a_slip_is_a_jump() {
    let dir = morning();
    let frames = dir.path().join("frames");
    for (i, off) in [0.0, 0.01, 0.02, 0.01, 1.5, 1.51, 1.5]
        .into_iter()
        .enumerate()
    {
        frame(
            &frames,
            &format!("{i}.fits"),
            &format!("18:{}0:00", i.min(5)),
            "One",
            40.0,
            50.0 + off,
        );
    }
    let (code, found, shown) = against(dir.path());
    assert_eq!(code, Some(1), "{shown}");
    assert!((number(&found, "zero_point_off_deg") - 4.51 / 3.0).abs() < 1e-6);
    assert_eq!(found["drift_deg_per_h"], Value::Null);
    let jumps: Vec<bool> = list(&found["frames"])
        .iter()
        .map(|f| f["after_jump"] == true)
        .collect();
    assert_eq!(jumps.iter().position(|j| *j), Some(4));
    assert_eq!(jumps.iter().filter(|j| **j).count(), 1);
    for wanted in [
        "4 of 7 frames",
        "jumped by +1.49° between 3.fits and 4.fits",
        "Add +1.50°",
        "3 frames off the angle",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
}

#[test]
fn what_differs_from_the_plan_is_named() {
    let dir = morning();
    let frames = dir.path().join("frames");
    // As planned; folded the other way, with the cable beyond its 60; not flipped yet.
    frame(&frames, "a.fits", "18:10:00", "One", 40.0, 50.0);
    frame(&frames, "b.fits", "18:40:00", "One", 220.0, 230.0);
    frame(&frames, "c.fits", "19:10:00", "Two", 70.0, 80.0);
    let (code, found, shown) = against(dir.path());
    assert_eq!(code, Some(1));
    assert_eq!(list(&found["frames"])[2]["other_side"], true);
    for wanted in [
        "3 of 3 frames",
        "1 frame framed the other way round than planned (b.fits)",
        "cable was wound beyond its 60° (1 frame: b.fits)",
        "1 frame on the other side of the pier than planned (c.fits)",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
}

/// A sheet that names other frames' targets says nothing of a target that it lacks.
#[test]
fn a_target_that_the_sheet_lacks_is_not_compared() {
    let dir = morning();
    let frames = dir.path().join("frames");
    frame(&frames, "a.fits", "18:10:00", "One", 40.0, 50.0);
    frame(&frames, "b.fits", "19:40:00", "Three", 100.0, 120.0);
    let (code, found, shown) = against(dir.path());
    assert_eq!(code, Some(0), "{shown}");
    assert_eq!(list(&found["frames"]).len(), 1);
    for wanted in [
        "1 of 1 frame",
        "Not in the sheet, and not compared: frames/b.fits",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
}

/// Position angle 100 less the reading.
#[test]
fn the_other_sense_is_found() {
    let dir = morning();
    let frames = dir.path().join("frames");
    for (i, reading) in [40.0, 55.0, 80.0, 120.0].into_iter().enumerate() {
        frame(
            &frames,
            &format!("{i}.fits"),
            &format!("18:{}0:00", i + 1),
            "One",
            reading,
            100.0 - reading,
        );
    }
    let (code, found, shown) = against(dir.path());
    assert_eq!(
        (code, &found["zero_point_off_deg"]),
        (Some(1), &Value::Null)
    );
    assert!(
        shown.contains("The readings fit the sense -1 and not 1"),
        "{shown}"
    );
}

/// Shows (sky): a sheet with a wrong row, of another rig or of another night is refused. Source: none: own rule.
#[test]
fn a_wrong_sheet_is_refused_by_its_line() {
    let dir = morning();
    frame(
        &dir.path().join("frames"),
        "a.fits",
        "18:10:00",
        "One",
        40.0,
        50.0,
    );
    write(dir.path(), "rig.toml", "format = 1\n");
    let refused = |sheet: &str, more: &[&str], wanted: &str| {
        write(dir.path(), "sheet.csv", sheet);
        let args = [&["sky", "fits", "frames", "--against", "sheet.csv"], more].concat();
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(2), "{wanted}");
        assert!(
            complaint(&out).contains(wanted),
            "{wanted}: {}",
            complaint(&out)
        );
    };
    for (from, to, wanted) in [
        (
            "One,50,40,-50,-50",
            "One,50,41,-50,-50",
            "sheet.csv:3: turn_deg = \"-50\": does not lead from 90°",
        ),
        (
            "One,50,40,-50,-50",
            "One,50,40,-50,-52",
            "sheet.csv:3: cable_deg = \"-52\": does not fit 40°",
        ),
        (
            "One,50,40,-50,-50",
            "One,5,40,-50,-50",
            "sheet.csv:3: position_angle_deg = \"5\": is 45.0° from",
        ),
        (
            "One,50,40,-50,-50",
            "One,50,,-50,-50",
            "sheet.csv:3: reading_deg: must not be empty",
        ),
        (
            "18:05",
            "17:05",
            "sheet.csv:3: time = \"2026-10-14T17:05:00Z\": goes back in time",
        ),
        ("2026-10-14T18:05", "today", "sheet.csv:3: time"),
        (
            "turn,Two",
            "park,Two",
            "sheet.csv:5: moves = \"park\": must be slew or focus or flip or turn",
        ),
        (
            "2,,1,180,0.25,60,0a1b\n2026-10-14T19:05",
            "2,,1,180,0.25,60,ffff\n2026-10-14T19:05",
            "sheet.csv:4: rig_digest = \"ffff\": is not that of the rows above",
        ),
        (
            "zero_point_deg,",
            "zero,",
            "sheet.csv:1: zero: unknown column",
        ),
        (",0a1b", ",night", "sheet.csv:2: rig_digest"),
        (
            "2026",
            "2025",
            "sheet.csv: no frame was made in its night, which begins at 2025-10-14T18:00:00Z",
        ),
    ] {
        refused(&SHEET.replace(from, to), &[], wanted);
    }
    refused(
        SHEET,
        &["--rig", "rig.toml"],
        "sheet.csv:2: rig_digest = 0a1b: the sheet is not of rig.toml as it is now",
    );
    refused(
        &SHEET[..SHEET.find('\n').expect("a line") + 1],
        &[],
        "holds no row",
    );
    frame(
        &dir.path().join("frames"),
        "a.fits",
        "18:10:00",
        "One",
        f64::from(40),
        50.0,
    );
    refused(
        SHEET,
        &["--reading-key", "NONE"],
        "NONE: is missing from the header",
    );
}
