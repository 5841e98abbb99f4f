//! `halfturn sweep`: the table, going on with it, and what is refused.

use std::path::Path;
use std::process::Output;

use serde_json::Value;

use crate::program::{folder, halfturn, json};

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

/// Fails with exit 2 and a message; leaves the folder as it was.
pub(crate) fn refused(dir: &Path, args: &[&[&str]], message: &str) {
    let state = || {
        let files = std::fs::read_dir(dir).expect("the folder").flatten();
        let mut files: Vec<_> = files
            .map(|e| (e.file_name(), std::fs::read(e.path()).unwrap_or_default()))
            .collect();
        files.sort();
        files
    };
    let before = state();
    let all: Vec<&str> = args.iter().copied().flatten().copied().collect();
    let out = halfturn(dir, &all);
    let stderr = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{all:?}: {stderr}");
    assert!(stderr.contains(message), "{all:?}: {stderr}");
    assert!(out.stdout.is_empty(), "{all:?}");
    assert!(state() == before, "{all:?} changed a file");
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
    assert!(String::from_utf8_lossy(&default.stdout).contains("table: halfturn-sweep.csv"));
}

/// Every column of a row against `batch` for the same rig, target and seed.
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
fn a_table_of_something_else_is_left_alone() {
    let dir = folder();
    let table = whole(dir.path(), SMALL);
    let resume: &[&str] = &["--resume", "--out", "whole.csv"];
    let changed = |from: &str, to: &str| -> Vec<String> {
        let words = SMALL.iter().map(|w| w.replace(from, to));
        words.collect()
    };
    let cases = [
        (
            changed("60", "61"),
            "it has \"trials: 60\", not \"trials: 61\"",
        ),
        (
            changed("0.5:1:4", "0.5:1:7"),
            "it has \"vary: target=-0.5:1:4\"",
        ),
        (
            changed("half-circle,", ""),
            "it has \"rules: half-circle,fold-once\"",
        ),
    ];
    for (args, message) in &cases {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        refused(dir.path(), &[&["sweep"], &args, resume], message);
    }
    let more: [(&[&str], &str); 3] = [
        (&["--seed", "2"], "it has \"seed: 1\""),
        (&["--set", "drive.step_deg=0.1"], "it has \"rig: "),
        (&["--shard", "1/2"], "is for all cells, not for shard 1/2"),
    ];
    for (args, message) in more {
        refused(dir.path(), &[&["sweep"], SMALL, resume, args], message);
    }
    // Without --resume, whatever it is.
    refused(
        dir.path(),
        &[&["sweep"], SMALL, &["--out", "whole.csv"]],
        "is there already",
    );
    write(dir.path(), "note.txt", "my notes\n");
    refused(
        dir.path(),
        &[&["sweep"], SMALL, &["--out", "note.txt"]],
        "is there already",
    );
    let note: &[&str] = &["--resume", "--out", "note.txt"];
    refused(
        dir.path(),
        &[&["sweep"], SMALL, note],
        "is not the table of a sweep",
    );
    write(
        dir.path(),
        "newer.csv",
        &table.replace("format 1", "format 2"),
    );
    let newer: &[&str] = &["--resume", "--out", "newer.csv"];
    refused(
        dir.path(),
        &[&["sweep"], SMALL, newer],
        "this program reads format 1",
    );
    let damaged = [
        (
            table.replace("\n3,", "\n4,"),
            "where cell 3, half-circle belongs",
        ),
        (
            table.replace("fold-once,2,60,", "fold-once,2,"),
            "where cell 0, fold-once belongs",
        ),
        (
            format!("{table}8,1\n"),
            "has more lines after its last cell",
        ),
        (
            table.replace("# seed: 1", "# seed: 3"),
            "do not match their digest",
        ),
        (
            table.replace("halfturn 0", "halfturn 99"),
            "it has \"program: halfturn 99",
        ),
    ];
    for (text, message) in &damaged {
        write(dir.path(), "damaged.csv", text);
        let args: &[&str] = &["--resume", "--out", "damaged.csv"];
        refused(dir.path(), &[&["sweep"], SMALL, args], message);
    }
    succeeds(&sweep(
        dir.path(),
        &[SMALL, &["--force", "--out", "note.txt"]],
    ));
    assert_eq!(read(dir.path(), "note.txt"), table);
    write(dir.path(), "long.csv", &table.repeat(2));
    succeeds(&sweep(
        dir.path(),
        &[SMALL, &["--force", "--out", "long.csv"]],
    ));
    assert_eq!(read(dir.path(), "long.csv"), table);
}

#[test]
fn wrong_input_is_refused_before_any_work() {
    let dir = folder();
    let vary: &[&str] = &["--vary", "loop.tolerance_deg=0.1:0.5:3"];
    let cases: &[(&[&[&str]], &str)] = &[
        (
            &[&["--target", "0", "--vary", "loop.tolerance_deg=0:1:5"]],
            "--vary loop.tolerance_deg=0:1:5: loop.tolerance_deg = 0: must be a number above 0, up to 180 deg",
        ),
        (
            &[&["--target", "0", "--vary", "drive.periodic.1.cycles=1:2:2"]],
            "the rig has 1 drive.periodic entries, numbered from 0 to 0",
        ),
        (
            &[&["--target", "0", "--vary", "drive.step=1:2:2"]],
            "drive.step: unknown key; did you mean drive.step_deg?",
        ),
        (&[vary], "--target: is needed"),
        (&[&["--target", "0"]], "--vary"),
        (
            &[vary, vary, &["--target", "0"]],
            "loop.tolerance_deg is given twice",
        ),
        (
            &[vary, &["--vary", "target=0:1:2", "--target", "0"]],
            "must not be given where the target is varied",
        ),
        (
            &[
                vary,
                &["--vary", "target=0:1:2", "--vary", "drive.park_deg=0:1:2"],
            ],
            "once or twice",
        ),
        (
            &[&[
                "--vary",
                "target=0:1:100000",
                "--vary",
                "drive.park_deg=0:1:1000",
            ]],
            "these are 100000000 cells; at most 10000000",
        ),
        (&[vary, &["--target", "0", "--shard", "3/2"]], "--shard"),
        (&[vary, &["--target", "0", "--trials", "0"]], "--trials"),
        (
            &[vary, &["--target", "0", "--rules", "half"]],
            "must be one of",
        ),
        (
            &[vary, &["--target", "0", "--plot", "x.gif"]],
            "must end in .svg or .png",
        ),
        (
            &[
                vary,
                &["--target", "0", "--plot", "x.svg", "--shard", "1/2"],
            ],
            "cannot be used with",
        ),
        (
            &[vary, &["--target", "0", "--resume", "--force"]],
            "cannot be used with",
        ),
        (
            &[vary, &["--target", "0", "--resume", "--out", "-"]],
            "--resume",
        ),
        (
            &[vary, &["--target", "0", "--json", "-", "--out", "-"]],
            "only one of them",
        ),
        (
            &[vary, &["--target", "0", "--out", "no/such/x.csv"]],
            "no/such/x.csv: cannot be written",
        ),
        (
            &[&["--vary", "target=0:1:40001", "--plot", "x.svg"]],
            "show at most 40000 cells; this sweep has 40001",
        ),
    ];
    for (args, message) in cases {
        let args: Vec<&str> = args.iter().copied().flatten().copied().collect();
        refused(dir.path(), &[&["sweep"], &args], message);
    }
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
    assert!(row["ping_pong_rate"].as_f64() > Some(0.0), "{row}");
    let svg = read(dir.path(), "one.svg");
    assert!(svg.contains("drive.periodic.0.amplitude_deg [deg]"));
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

/// Ctrl-C in the middle: whole cells stay, and the rest can be added.
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
