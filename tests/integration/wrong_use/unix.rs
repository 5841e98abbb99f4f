//! Links, and what only Unix has of wrong use.

use crate::binary::{complaint, folder, halfturn, json, names, write};
use crate::wrong_use::MANY;

const BATCH: [&str; 5] = ["batch", "--target", "0", "--trials", "20"];

fn batch_to(dir: &std::path::Path, path: &str) -> std::process::Output {
    let out = halfturn(dir, &[&BATCH[..], &["--json", path]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    out
}

#[test]
fn links_are_followed_and_stay() {
    let dir = folder();
    std::fs::create_dir(dir.path().join("there")).expect("a folder can be made");
    write(dir.path(), "there/old.json", "old");
    for (link, goal) in [
        ("to-old", "there/old.json"),
        ("to-new", "there/new.json"),
        ("to-link", "to-new"),
    ] {
        std::os::unix::fs::symlink(goal, dir.path().join(link)).expect("a link can be made");
        batch_to(dir.path(), link);
        assert!(dir.path().join(link).is_symlink(), "{link}");
    }
    for file in ["there/old.json", "there/new.json"] {
        let text = std::fs::read_to_string(dir.path().join(file)).unwrap_or_default();
        assert!(text.contains("policies"), "{file}");
    }
    assert_eq!(names(dir.path()).len(), 4);
}

#[test]
fn an_input_behind_a_link_is_spared() {
    let dir = folder();
    write(dir.path(), "rig.toml", "format = 1\n");
    std::os::unix::fs::symlink("rig.toml", dir.path().join("link")).expect("a link");
    let out = halfturn(
        dir.path(),
        &["batch", "rig.toml", "--target", "0", "--json", "link"],
    );
    assert_eq!(out.status.code(), Some(2));
    let text = std::fs::read_to_string(dir.path().join("rig.toml"));
    assert_eq!(text.ok().as_deref(), Some("format = 1\n"));
}

#[test]
fn a_pipe_gets_the_bytes_and_stays_a_pipe() {
    use std::os::unix::fs::FileTypeExt as _;
    let dir = folder();
    let pipe = dir.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.is_ok_and(|s| s.success()), "mkfifo is in POSIX");
    let reader = std::thread::spawn({
        let pipe = pipe.clone();
        move || std::fs::read_to_string(pipe)
    });
    batch_to(dir.path(), "pipe");
    let text = reader.join().expect("no panic").unwrap_or_default();
    assert!(text.contains("policies"), "{text}");
    let kind = std::fs::metadata(&pipe).map(|m| m.file_type().is_fifo());
    assert_eq!(kind.ok(), Some(true));
    batch_to(dir.path(), "/dev/null");
    assert!(json(&batch_to(dir.path(), "/dev/stdout"))["policies"].is_array());
}

#[test]
fn an_endless_input_is_refused() {
    let dir = folder();
    for (args, most) in [
        (&["batch", "/dev/zero", "--target", "0"][..], 4_194_304),
        (&["advise", "--check", "/dev/zero"], 4_194_304),
        (&["advise", "rig.toml", "/dev/zero"], 67_108_864),
        (&["fit", "/dev/zero"], 67_108_864),
    ] {
        write(dir.path(), "rig.toml", "format = 1\n");
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(2));
        assert_eq!(
            complaint(&out).trim_end(),
            format!("error: /dev/zero: is too long. Give a file of at most {most} bytes")
        );
    }
}

/// Ctrl-C once: the runs that are done are shown and marked, and nothing is drawn from them.
/// Shows (files): Ctrl-C: what is kept. With: `sweep::a_stop_keeps_the_finished_cells`,
/// `judge_faults::ctrl_c_ends_it_cleanly`. Source: none: own rule.
#[test]
fn a_batch_that_is_stopped_says_so() {
    use std::process::Stdio;
    let dir = folder();
    let child = std::process::Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .current_dir(dir.path())
        .args(["batch", "--target", "0", "--trials", MANY])
        .args(["--json", "part.json", "--out", "pictures"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // Long enough for the first runs; the batch would take weeks.
    std::thread::sleep(std::time::Duration::from_secs(2));
    let id = child.id().to_string();
    let sent = std::process::Command::new("kill")
        .args(["-INT", &id])
        .status();
    assert!(sent.is_ok_and(|s| s.success()));
    let out = child.wait_with_output().expect("the program ends");
    assert_eq!(out.status.code(), Some(130), "{}", complaint(&out));
    assert!(complaint(&out).contains("stopped: no pictures"));
    assert_eq!(names(dir.path()), ["part.json"]);
    let text = std::fs::read_to_string(dir.path().join("part.json")).unwrap_or_default();
    let part: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    assert_eq!(part["complete"], false);
    let policies = part["policies"].as_array().expect("policies");
    // All rules go side by side, and stop at the same run.
    assert_eq!(policies.len(), 4);
    let trials = part["trials"].as_u64();
    assert!(trials > Some(0) && trials < MANY.parse().ok());
    assert!(policies.iter().all(|p| p["trials"].as_u64() == trials));
}
