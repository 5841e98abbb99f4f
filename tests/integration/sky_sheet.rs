//! The run sheet of a night, and its frames in the morning.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, in_root, json, output, write};
use crate::sky_night::{SITE, example};
use crate::sky_values::{apart_deg, list, number};

/// The fields of a sheet, row by row, and the names of its columns.
fn table(text: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let names = reader
        .headers()
        .expect("a header")
        .iter()
        .map(str::to_owned);
    let names = names.collect();
    let rows = reader.records().map(|r| r.expect("a row"));
    let rows = rows.map(|r| r.iter().map(str::to_owned).collect());
    (names, rows.collect())
}

/// The times are those of the timetable and the set-up times, the readings those of the plan.
/// Shows (sky): the run sheet: a row for each thing that moves. Source: the JSON of the same night, by hand.
#[test]
fn a_sheet_has_a_row_for_each_thing_that_moves() {
    let dir = example();
    let args = [
        &[
            "sky",
            "night",
            "rig.toml",
            "targets.csv",
            "--trials",
            "1",
            "--quiet",
            "--json",
            "night.json",
        ],
        &SITE[..],
        &[
            "--local=-03:30",
            "--slew",
            "2",
            "--focus",
            "3",
            "--flip",
            "5",
            "--sheet",
            "s.csv",
            "--sheet",
            "s.html",
        ],
        &["--set", "wrap.rule=full-circle", "--rules", "full-circle"],
    ]
    .concat();
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(1), "{}", complaint(&out));
    let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).expect("a file");
    let night: Value = serde_json::from_str(&read("night.json")).expect("JSON");
    let (names, rows) = table(&read("s.csv"));
    let of = |row: &[String], name: &str| {
        let column = names.iter().position(|n| n == name);
        row[column.unwrap_or_else(|| panic!("{name}"))].clone()
    };
    let figure = |row: &[String], name: &str| of(row, name).parse::<f64>().expect("a number");
    // What moves, when it begins, the reading after it.
    let mut expected: Vec<(String, f64, f64)> = Vec::new();
    let seconds = |value: &Value| {
        halfturn_engine::fit::date_s(value.as_str().expect("a time")).expect("a time")
    };
    let rotations = list(&night["rules"][0]["rotations"]);
    for (stretch, r) in list(&night["stretches"]).iter().zip(rotations) {
        let begin = seconds(&stretch["begin"]);
        let (from, to) = (number(r, "from_deg"), number(r, "to_deg"));
        if stretch["after_flip"] == true {
            expected.push(("flip".to_owned(), begin - 300.0, from));
        } else {
            expected.push(("slew".to_owned(), begin - 300.0, from));
            expected.push(("focus".to_owned(), begin - 180.0, from));
        }
        if from != to {
            expected.push(("turn".to_owned(), begin, to));
        }
    }
    assert_eq!(rows.len(), expected.len());
    assert!(expected.iter().filter(|e| e.0 == "flip").count() >= 5);
    let mut above_deg = 90.0;
    for (row, (moves, at, reading)) in rows.iter().zip(&expected) {
        assert_eq!(&of(row, "moves"), moves);
        let time = halfturn_engine::fit::date_s(&of(row, "time")).expect("a time");
        let local = of(row, "time_local");
        assert!((time - at).abs() <= 1.0, "{row:?} {at}");
        assert!(local.ends_with("-03:30"));
        assert_eq!(halfturn_engine::fit::date_s(&local), Some(time));
        let reading_deg = figure(row, "reading_deg");
        assert!((reading_deg - reading).abs() < 6e-4, "{row:?}");
        assert!(
            (figure(row, "cable_deg") - (reading - 90.0)).abs() < 6e-4,
            "{row:?}"
        );
        assert!(
            (figure(row, "turn_deg") - (reading_deg - above_deg)).abs() < 2e-3,
            "{row:?}"
        );
        above_deg = reading_deg;
        // After its turn the camera frames its target, but for the pole of date.
        if moves == "turn" {
            let framed = figure(row, "zero_point_deg") + reading_deg;
            assert!(
                apart_deg(framed, figure(row, "position_angle_deg")) < 0.4,
                "{row:?}"
            );
        }
    }
    let watched = rows.iter().map(|row| of(row, "watch"));
    assert!(watched.filter(|w| w.contains("through a keep-out")).count() >= 3);
    let page = read("s.html");
    let rows_of_flats: std::collections::BTreeSet<String> =
        rows.iter().map(|r| of(r, "flats")).collect();
    assert_eq!(page.matches("☐").count(), rows.len() + rows_of_flats.len());
    for wanted in [
        "Run sheet: ridge refractor, night of 2026-10-14",
        "size: landscape",
        "Before the first turn",
        "Elephant&#39;s Trunk",
    ] {
        assert!(
            page.contains(wanted) || page.contains(&wanted.replace("&#39;", "'")),
            "{wanted}"
        );
    }
    assert!(!page.contains("<script") && page.contains("default-src 'none'"));
    for (more, wanted) in [
        (["--sheet", "s.txt"], "must end in .csv or .html"),
        (["--sheet", "none/s.csv"], "none"),
        (["--local", "25"], "must be hours and minutes"),
        (["--slew", "100"], "slew and focus take 100 min"),
    ] {
        let out = halfturn(
            dir.path(),
            &[
                &["sky", "night", "rig.toml", "targets.csv"],
                &SITE[..],
                &more[..],
            ]
            .concat(),
        );
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        assert!(complaint(&out).contains(wanted), "{}", complaint(&out));
    }
}

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

/// Runs every command of the section with what its reader has, and looks for the lines that the page shows. `…` stands for lines left out.
/// Shows (sky): a night from plan to morning, as the page shows it. Source: the page; the frames are those of
/// tests/reference/make_night_frames.py.
#[test]
fn the_page_shows_what_the_commands_say() {
    let page = std::fs::read_to_string(in_root("docs/sky.md")).expect("the page");
    let (_, section) = page
        .split_once("## From plan to morning")
        .expect("the section");
    let section = section.split("\n## ").next().expect("the section");
    let dir = folder();
    let night = dir.path().join("examples/night");
    std::fs::create_dir_all(night.join("frames")).expect("a folder");
    for from in ["examples/night", "examples/night/frames"] {
        for entry in std::fs::read_dir(in_root(from))
            .expect("the examples")
            .flatten()
        {
            if entry.path().is_file() {
                std::fs::copy(entry.path(), dir.path().join(from).join(entry.file_name()))
                    .expect("a copy");
            }
        }
    }
    let mut count = 0;
    for part in section.split("```sh\n").skip(1) {
        let (command, rest) = part.split_once("```").expect("a fence");
        let words = command.trim().replace("\\\n", " ");
        let mut args: Vec<String> = Vec::new();
        for (i, piece) in words.split('"').enumerate() {
            match i % 2 {
                0 => args.extend(piece.split_whitespace().map(str::to_owned)),
                _ => args.push(piece.to_owned()),
            }
        }
        let args: Vec<&str> = args.iter().skip(1).map(String::as_str).collect();
        let out = halfturn(dir.path(), &args);
        assert!(
            matches!(out.status.code(), Some(0 | 1)),
            "{command}: {}",
            complaint(&out)
        );
        let Some((_, shown)) = rest.split_once("```text\n") else {
            continue;
        };
        let shown = shown.split("```").next().expect("a fence");
        let said = output(&out);
        let mut said: Vec<&str> = said.lines().map(str::trim_end).collect();
        for block in shown.split("…\n") {
            let wanted: Vec<&str> = block.lines().map(str::trim_end).collect();
            let found = said
                .windows(wanted.len().max(1))
                .position(|lines| lines == wanted);
            let at = found.unwrap_or_else(|| panic!("{command}\n{block}\n{}", said.join("\n")));
            said.drain(..at + wanted.len());
        }
        count += 1;
    }
    assert!(count >= 4, "{count}");
}
