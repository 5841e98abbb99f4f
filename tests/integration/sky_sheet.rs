//! The run sheet of a night, and the night of docs/sky.md from first log to morning.

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, in_root, output};
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

/// Runs every command of the section with what its reader has, and looks for the lines that the page shows. `…` stands for lines left out.
/// Shows (sky): a night from first log to morning, as the page shows it. Source: the page; the frames are those of
/// tests/reference/make_night_frames.py.
#[test]
fn the_page_shows_what_the_commands_say() {
    let page = std::fs::read_to_string(in_root("docs/sky.md")).expect("the page");
    let (_, section) = page
        .split_once("## From first log to morning")
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
    assert!(count >= 7, "{count}");
}
