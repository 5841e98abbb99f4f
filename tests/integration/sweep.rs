//! `halfturn sweep`: the table, and going on with it.

use std::path::Path;
use std::process::Output;

use serde_json::Value;

use crate::binary::{folder, halfturn, json};

/// Eight cells of two rules: quick, and with rows of different lengths.
pub(crate) const SMALL: &[&str] = &[
    "--vary",
    "target=-0.5:1:4",
    "--vary",
    "loop.max_solves=2:20:2",
    "--rules",
    "half-circle,fold-once",
    "--trials",
    "60",
];

pub(crate) fn sweep(dir: &Path, args: &[&[&str]]) -> Output {
    let mut all = vec!["sweep"];
    all.extend(args.iter().copied().flatten());
    halfturn(dir, &all)
}

pub(crate) fn succeeds(output: &Output) {
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{stderr}");
}

pub(crate) fn read(dir: &Path, name: &str) -> String {
    std::fs::read_to_string(dir.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

pub(crate) fn write(dir: &Path, name: &str, text: &str) {
    std::fs::write(dir.join(name), text).expect("a file can be written");
}

/// The table of a whole sweep.
pub(crate) fn whole(dir: &Path, args: &[&str]) -> String {
    succeeds(&sweep(dir, &[args, &["--out", "whole.csv"]]));
    read(dir, "whole.csv")
}

#[test]
fn threads_and_standard_output_make_no_difference() {
    let dir = folder();
    let table = whole(dir.path(), SMALL);
    assert!(table.ends_with('\n') && table.is_ascii());
    for threads in ["1", "2", "5"] {
        let out = sweep(dir.path(), &[SMALL, &["--threads", threads, "--out", "-"]]);
        succeeds(&out);
        assert_eq!(String::from_utf8_lossy(&out.stdout), table, "{threads}");
    }
    let default = sweep(dir.path(), &[SMALL]);
    succeeds(&default);
    assert_eq!(read(dir.path(), "halfturn-sweep.csv"), table);
    assert!(String::from_utf8_lossy(&default.stdout).contains("Written: halfturn-sweep.csv"));
}

/// Shows (README): `halfturn sweep` varies one or two numbers, or the target; a table, and a picture. With:
/// `pictures_and_json_hold_the_rows`, `edges::every_key_is_swept_from_end_to_end`. Source: none: internal consistency.
/// Shows (files): the table of a sweep: every column of a row is what `batch` finds for the same rig, target and seed.
/// With: `crates/report/src/sweep/line.rs::a_line_has_every_column_and_reads_back`,
/// `sweep_refusals::a_table_of_something_else_is_left_alone`. Source: none: internal consistency.
#[test]
fn a_row_is_what_batch_finds() {
    let dir = folder();
    let table = whole(dir.path(), &[SMALL, &["--seed", "7"]].concat());
    let text: String = table
        .lines()
        .filter(|l| !l.starts_with('#'))
        .fold(String::new(), |all, line| all + line + "\n");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<csv::StringRecord> = reader.records().flatten().collect();
    assert_eq!(rows.len(), 16);
    let cells = [-0.5, 0.0, 0.5, 1.0].iter().flat_map(|t| [(t, 2), (t, 20)]);
    for (cell, (target, solves)) in cells.enumerate() {
        let batch = json(&halfturn(
            dir.path(),
            &[
                "batch",
                "--target",
                &target.to_string(),
                "--set",
                &format!("loop.max_solves={solves}"),
                "--seed",
                "7",
                "--trials",
                "60",
                "--rules",
                "half-circle,fold-once",
                "--json",
                "-",
            ],
        ));
        for (i, policy) in batch["policies"]
            .as_array()
            .expect("policies")
            .iter()
            .enumerate()
        {
            let row = &rows[2 * cell + i];
            for (name, field) in header.iter().zip(row) {
                let expected = match name {
                    "cell" => cell.into(),
                    "target" | "target_deg" => (*target).into(),
                    "loop.max_solves" => solves.into(),
                    _ => figure(policy, name),
                };
                let found: Value = match field.parse::<f64>() {
                    Ok(number) => number.into(),
                    Err(_) if field.is_empty() => Value::Null,
                    Err(_) => field.into(),
                };
                let same = match (expected.as_f64(), found.as_f64()) {
                    // The JSON reader of this test may be off by a last digit.
                    (Some(a), Some(b)) => (a - b).abs() <= 2.0 * f64::EPSILON * b.abs(),
                    _ => expected == found,
                };
                assert!(same, "cell {cell}, {name}: {found} is not {expected}");
            }
        }
    }
}

/// The figure of a column in the JSON of a policy.
fn figure(policy: &Value, column: &str) -> Value {
    for (end, unit) in [("_s", "_s"), ("_deg", "_deg"), ("", "")] {
        let Some(stem) = column.strip_suffix(end) else {
            continue;
        };
        for part in ["rate", "low", "high", "mean", "p50", "p90", "p99"] {
            if let Some(name) = stem.strip_suffix(&format!("_{part}")) {
                return policy[format!("{name}{unit}")][part].clone();
            }
        }
    }
    policy[column].clone()
}

#[test]
fn a_cut_table_is_gone_on_with_to_the_same_bytes() {
    let dir = folder();
    let table = whole(dir.path(), SMALL);
    let ends: Vec<usize> = table.match_indices('\n').map(|(i, _)| i).collect();
    let near_ends = ends.iter().flat_map(|e| [*e, e + 1, e + 2]);
    let cuts = near_ends
        .chain((0..table.len()).step_by(151))
        .chain([table.len()]);
    for cut in cuts {
        let cut = cut.min(table.len());
        write(dir.path(), "cut.csv", &table[..cut]);
        let out = sweep(dir.path(), &[SMALL, &["--resume", "--out", "cut.csv"]]);
        succeeds(&out);
        assert_eq!(read(dir.path(), "cut.csv"), table, "cut at {cut}");
    }
    // A torn line that is no text at all.
    let mut torn = table.as_bytes()[..ends[13] + 1].to_vec();
    torn.extend([0, 0xff, 0, 0]);
    std::fs::write(dir.path().join("cut.csv"), torn).expect("a file can be written");
    succeeds(&sweep(
        dir.path(),
        &[SMALL, &["--resume", "--out", "cut.csv"]],
    ));
    assert_eq!(read(dir.path(), "cut.csv"), table);
    // Nothing is there yet.
    succeeds(&sweep(
        dir.path(),
        &[SMALL, &["--resume", "--out", "new.csv"]],
    ));
    assert_eq!(read(dir.path(), "new.csv"), table);
}

/// Only what is missing is run: rows that are there are kept as they are.
#[test]
fn rows_that_are_there_are_kept() {
    let dir = folder();
    let table = whole(dir.path(), SMALL);
    let first = table
        .lines()
        .find(|l| l.starts_with("0,"))
        .unwrap_or_default();
    let marked = first.replacen(",60,", ",61,", 1);
    assert_ne!(marked, first);
    let changed = table.replacen(first, &marked, 1);
    write(dir.path(), "cut.csv", &changed[..changed.len() - 400]);
    succeeds(&sweep(
        dir.path(),
        &[SMALL, &["--resume", "--out", "cut.csv"]],
    ));
    assert_eq!(read(dir.path(), "cut.csv"), changed);
}

#[test]
fn pictures_and_json_hold_the_rows() {
    let dir = folder();
    let one: &[&str] = &[
        "--vary",
        "drive.periodic.0.amplitude_deg=0:0.2:3",
        "--target",
        "0",
        "--trials",
        "500",
    ];
    let out = sweep(
        dir.path(),
        &[
            one,
            &["--plot", "one.svg", "--json", "-", "--out", "one.csv"],
        ],
    );
    succeeds(&out);
    let found = json(&out);
    assert_eq!(found["format"], 1);
    assert_eq!(found["cells"], 3);
    assert_eq!(found["cells_done"], 3);
    assert_eq!(found["target_deg"], 0.0);
    assert_eq!(found["vary"][0]["key"], "drive.periodic.0.amplitude_deg");
    assert_eq!(found["vary"][0]["count"], 3);
    assert_eq!(found["rows"].as_array().map(Vec::len), Some(12));
    let row = &found["rows"][5];
    assert_eq!(row["rule"], "half-circle");
    assert_eq!(row["drive.periodic.0.amplitude_deg"], 0.1);
    assert!(row["hunting_rate"].as_f64() > Some(0.0), "{row}");
    let svg = read(dir.path(), "one.svg");
    assert!(svg.contains("drive.periodic.0.amplitude (°)"));
    // The same picture from a table of which half was there.
    let table = read(dir.path(), "one.csv");
    write(dir.path(), "cut.csv", &table[..table.len() - 2000]);
    let args: &[&str] = &["--plot", "cut.svg", "--resume", "--out", "cut.csv"];
    succeeds(&sweep(dir.path(), &[one, args]));
    assert_eq!(read(dir.path(), "cut.svg"), svg);
    succeeds(&sweep(dir.path(), &[SMALL, &["--plot", "two.png"]]));
    let png = std::fs::read(dir.path().join("two.png")).expect("the picture");
    assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
}

/// Shows (README): a sweep stopped by Ctrl-C keeps its whole cells, and goes on later. With:
/// `a_cut_table_is_gone_on_with_to_the_same_bytes`. Source: none: internal consistency.
#[cfg(unix)]
#[test]
fn a_stop_keeps_the_finished_cells() {
    let dir = folder();
    // The machine may be fast: more runs until the stop comes before the end.
    for trials in ["20000", "200000", "2000000"] {
        let args: &[&str] = &[
            "--vary",
            "target=0:1:60",
            "--rules",
            "half-circle",
            "--trials",
            trials,
            "--out",
            "stopped.csv",
        ];
        let child = std::process::Command::new(env!("CARGO_BIN_EXE_halfturn"))
            .current_dir(dir.path())
            .arg("sweep")
            .args(args)
            .stderr(std::process::Stdio::piped())
            .stdout(std::process::Stdio::null())
            .spawn()
            .expect("the program starts");
        let rows = || {
            let text = std::fs::read_to_string(dir.path().join("stopped.csv"));
            let text = text.unwrap_or_default();
            text.lines()
                .filter(|l| l.starts_with(char::is_numeric))
                .count()
        };
        while rows() == 0 {
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
        let signal = std::process::Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        assert!(signal.is_ok());
        let out = child.wait_with_output().expect("the program ends");
        let stopped = out.status.code() == Some(130);
        if stopped {
            let stderr = String::from_utf8_lossy(&out.stderr);
            let done = rows();
            assert!(
                stderr.contains(&format!("stopped.csv holds {done} of 60 cells")),
                "{stderr}"
            );
            assert!(stderr.contains("--resume"), "{stderr}");
            assert!(read(dir.path(), "stopped.csv").ends_with('\n'));
            succeeds(&sweep(dir.path(), &[args, &["--resume"]]));
        }
        let resumed = read(dir.path(), "stopped.csv");
        std::fs::remove_file(dir.path().join("stopped.csv")).expect("the file is there");
        if stopped {
            succeeds(&sweep(dir.path(), &[args]));
            assert_eq!(read(dir.path(), "stopped.csv"), resumed);
            return;
        }
        assert_eq!(out.status.code(), Some(0));
    }
    panic!("no sweep could be stopped before its end");
}
