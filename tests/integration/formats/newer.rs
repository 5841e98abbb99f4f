//! A file of a format that this program does not know: where it is, what it says, what is read, and what to do; and nothing is written.
//! Shows (trust): a newer format is refused in every kind of file. Source: none: own rule.

use std::path::Path;

use super::{copy, folders, text};
use crate::binary::{folder, halfturn, write};
use crate::sweep_refusals::refused;

const ADVICE: &str = "this program reads format 1. A newer version made this file: update halfturn";

/// Replaces what stands exactly once.
fn replaced(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

/// A rig file and a certificate whose rest only a newer version understands: it is the format that is told of.
#[test]
fn rigs_and_certificates() {
    let work = folder();
    let samples = folders().swap_remove(0);
    copy(&samples.join("advice"), work.path());
    let rig = replaced(
        &text(&work.path().join("rig.toml")),
        "format = 1",
        "format = 2",
    );
    let newer = rig + "\n[gears]\nteeth = 144\n";
    write(work.path(), "newer.toml", &newer);
    let line = newer
        .lines()
        .position(|l| l.starts_with("format"))
        .expect("a format")
        + 1;
    let said = format!("newer.toml:{line}: format = 2: {ADVICE}");
    let commands: [&[&str]; 7] = [
        &["advise", "newer.toml", "targets.csv", "--out", "report"],
        &["batch", "newer.toml", "--target", "1"],
        &["trace", "newer.toml", "--target", "1"],
        &[
            "sweep",
            "newer.toml",
            "--vary",
            "target=0:1:2",
            "--out",
            "s.csv",
        ],
        &["fit", "--plan", "--rig", "newer.toml", "--out", "plan.csv"],
        &["judge", "--rig", "newer.toml", "--", "true"],
        &["advise", "--check", "advice.toml", "newer.toml"],
    ];
    for command in commands {
        refused(work.path(), &[command], &said);
    }
    // Unknown keys before the format do not hide it.
    write(
        work.path(),
        "newer.toml",
        "name = \"x\"\nfuture = 1\nformat = 7\n",
    );
    let said = format!("newer.toml:3: format = 7: {ADVICE}");
    refused(
        work.path(),
        &[&["batch", "newer.toml", "--target", "1"]],
        &said,
    );

    let certificate = replaced(
        &text(&work.path().join("advice.toml")),
        "format = 1\nversion",
        "future = \"x\"\nformat = 12\nversion",
    );
    write(work.path(), "newer-advice.toml", &certificate);
    let line = certificate
        .lines()
        .position(|l| l == "format = 12")
        .expect("a format")
        + 1;
    let said = format!("newer-advice.toml:{line}: format = 12: {ADVICE}");
    refused(
        work.path(),
        &[&["advise", "--check", "newer-advice.toml"]],
        &said,
    );
}

#[test]
fn tables_of_sweeps() {
    let work = folder();
    let samples = folders().swap_remove(0);
    copy(&samples.join("sweep"), work.path());
    let args = text(&work.path().join("arguments"));
    let args: Vec<&str> = args.lines().collect();
    let to = |format: &str, name: &str| {
        let table = replaced(
            &text(&work.path().join(name)),
            "sweep, format 1",
            &format!("sweep, format {format}"),
        );
        write(work.path(), name, &table);
    };
    to("2", "part.csv");
    let resume: &[&str] = &["--resume", "--out", "part.csv"];
    refused(
        work.path(),
        &[&args, resume],
        &format!("part.csv:1: format = 2: {ADVICE}. It stays as it is"),
    );
    to("3", "2-of-2.csv");
    let merge: &[&str] = &["merge", "whole.csv", "1-of-2.csv", "2-of-2.csv"];
    refused(
        work.path(),
        &[merge],
        &format!("2-of-2.csv:1: format = 3: {ADVICE}"),
    );
}

#[test]
fn scenarios() {
    let work = folder();
    let sample = text(&folders().swap_remove(0).join("scenarios.json"));
    let judge = |dir: &Path, said: &str| {
        refused(
            dir,
            &[&["judge", "--replay", "newer.json", "--", "true"]],
            said,
        );
    };
    // The keys of a newer one are not known.
    let newer = replaced(
        &sample,
        "\"format\": 1,\n  \"kind\"",
        "\"future\": [],\n  \"format\": 4,\n  \"kind\"",
    );
    write(work.path(), "newer.json", &newer);
    judge(work.path(), &format!("newer.json:3: format = 4: {ADVICE}"));
    for (format, allowed) in [
        ("0", "must be 1"),
        ("\"1\"", "must be 1"),
        ("1.5", "must be 1"),
    ] {
        let text = replaced(
            &sample,
            "\"format\": 1,\n  \"kind\"",
            &format!("\"format\": {format},\n  \"kind\""),
        );
        write(work.path(), "newer.json", &text);
        judge(
            work.path(),
            &format!("newer.json:2: format = {format}: {allowed}"),
        );
    }
    write(
        work.path(),
        "newer.json",
        &replaced(&sample, "halfturn-scenarios", "something"),
    );
    judge(
        work.path(),
        "newer.json:3: kind: must be \"halfturn-scenarios\"",
    );
    // What failed before is read too, before anything is played.
    std::fs::create_dir(work.path().join("kept")).expect("a folder");
    write(&work.path().join("kept"), "regressions.json", &newer);
    let said = format!("regressions.json:3: format = 4: {ADVICE}");
    let out = halfturn(work.path(), &["judge", "--out", "kept", "--", "true"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(crate::binary::complaint(&out).contains(&said));
}
