//! `halfturn sweep`: what is refused, with what words, and that nothing is touched then.

use std::path::Path;

use crate::binary::{folder, halfturn};
use crate::sweep::{SMALL, read, succeeds, sweep, whole, write};

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
        "exists already",
    );
    write(dir.path(), "note.txt", "my notes\n");
    refused(
        dir.path(),
        &[&["sweep"], SMALL, &["--out", "note.txt"]],
        "exists already",
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
            "don't match their digest",
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
            "--vary loop.tolerance_deg=0:1:5: loop.tolerance_deg = 0: must be a number from 0.000001 to 180 deg",
        ),
        (
            &[&["--target", "0", "--vary", "drive.periodic.1.cycles=1:2:2"]],
            "the rig has 1 drive.periodic entries, numbered from 0 to 0",
        ),
        (
            &[&["--target", "0", "--vary", "drive.step=1:2:2"]],
            "drive.step: unknown key. Did you mean drive.step_deg?",
        ),
        (&[vary], "--target: is missing"),
        (&[&["--target", "0"]], "--vary"),
        (
            &[vary, vary, &["--target", "0"]],
            "stands twice: loop.tolerance_deg",
        ),
        (
            &[vary, &["--vary", "target=0:1:2", "--target", "0"]],
            "leave it out, because --vary varies the target",
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
            "the grid has 100000000 cells, but may have at most 10000000",
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
            "takes one of them",
        ),
        (
            &[vary, &["--target", "0", "--out", "no/such/x.csv"]],
            "no/such/x.csv: cannot be written",
        ),
        (
            &[&["--vary", "target=0:1:40001", "--plot", "x.svg"]],
            "show at most 40000 cells, but this sweep has 40001",
        ),
    ];
    for (args, message) in cases {
        let args: Vec<&str> = args.iter().copied().flatten().copied().collect();
        refused(dir.path(), &[&["sweep"], &args], message);
    }
}
