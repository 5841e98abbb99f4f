//! Disks that are full or may not be written, and readers that go away: a clear message, the right exit code, and nothing torn.
#![cfg(unix)]

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use crate::binary::{complaint, folder, halfturn, names, skipped, write};
use crate::faults::{QUICK, quick, start};

/// A command with its arguments, in a shell script before it.
fn after(dir: &Path, script: &str, args: &[&str]) -> Output {
    Command::new("sh")
        .current_dir(dir)
        .args(["-c", &format!("{script} exec \"$0\" \"$@\"")])
        .arg(env!("CARGO_BIN_EXE_halfturn"))
        .args(args)
        .output()
        .expect("a shell runs")
}

/// Files of at most 4 KiB, which every Unix can ask for; the signal that would end the program is ignored, as on a full disk there is
/// none.
const SMALL_FILES: &str = "trap '' XFSZ; ulimit -f 8;";

/// So small files stop each command that writes more: exit code 2, the file named, what was there before untouched, and no
/// temporary file left.
#[test]
fn a_disk_that_fills_up_tears_nothing() {
    let dir = folder();
    quick(dir.path());
    for args in [
        &[QUICK, &["--out", "report"]].concat()[..],
        &["trace", "--target", "0", "--plot", "old.svg"],
        &[
            "batch", "--target", "0", "--trials", "500", "--json", "old.json",
        ],
        &["vectors", "--out", "vectors"],
    ] {
        for name in ["old.svg", "old.json"] {
            write(dir.path(), name, "what was there");
        }
        let out = after(dir.path(), SMALL_FILES, args);
        let said = complaint(&out);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {said}");
        assert!(
            said.contains("cannot be written: ") && said.contains("large"),
            "{said}"
        );
        for name in ["old.svg", "old.json"] {
            let text = std::fs::read_to_string(dir.path().join(name)).expect("it is there");
            assert_eq!(text, "what was there", "{args:?}");
        }
        for sub in ["", "report", "vectors"] {
            let sub = dir.path().join(sub);
            if sub.exists() {
                let left: Vec<_> = names(&sub)
                    .into_iter()
                    .filter(|n| n.starts_with('.'))
                    .collect();
                assert!(left.is_empty(), "{args:?}: {left:?}");
            }
        }
    }
    // The page is the last file: without it nothing looks finished.
    assert!(!dir.path().join("report/report.html").exists());
}

/// A sweep on a full disk says so, and goes on when there is room again.
#[test]
fn a_sweep_goes_on_after_a_full_disk() {
    let dir = folder();
    let sweep = |out: &'static str| {
        [
            "sweep",
            "--vary",
            "target=0:1:20",
            "--trials",
            "300",
            "--resume",
            "--out",
            out,
        ]
    };
    let out = after(dir.path(), SMALL_FILES, &sweep("t.csv"));
    assert_eq!(out.status.code(), Some(2));
    assert!(
        complaint(&out).contains("t.csv: cannot be written: "),
        "{}",
        complaint(&out)
    );
    let torn = std::fs::read(dir.path().join("t.csv")).expect("a beginning");
    assert!(torn.len() == 4096 || torn.len() == 8192, "{}", torn.len());
    assert_eq!(halfturn(dir.path(), &sweep("t.csv")).status.code(), Some(0));
    assert_eq!(
        halfturn(dir.path(), &sweep("calm.csv")).status.code(),
        Some(0)
    );
    let read = |name: &str| std::fs::read(dir.path().join(name)).expect("a table");
    assert!(read("t.csv") == read("calm.csv"));
}

/// /dev/full takes no byte (Linux): as standard output, as JSON, as the table of a sweep, behind a link.
#[cfg(target_os = "linux")]
#[test]
fn no_space_is_told() {
    let dir = folder();
    quick(dir.path());
    std::os::unix::fs::symlink("/dev/full", dir.path().join("full.svg")).expect("a link");
    let trace = &["trace", "--target", "0"][..];
    let sweep = &["sweep", "--vary", "target=0:1:3", "--trials", "100"][..];
    let table: [(&[&str], &[&str], &str); 5] = [
        (
            trace,
            &["--json", "/dev/full"],
            "/dev/full: cannot be written",
        ),
        (
            trace,
            &["--plot", "full.svg"],
            "full.svg: cannot be written",
        ),
        (
            sweep,
            &["--force", "--out", "/dev/full"],
            "/dev/full: cannot be written",
        ),
        (
            QUICK,
            &["--json", "/dev/full"],
            "/dev/full: cannot be written",
        ),
        (
            &["vectors"],
            &["--json", "/dev/full"],
            "/dev/full: cannot be written",
        ),
    ];
    for (command, options, message) in table {
        let out = halfturn(dir.path(), &[command, options].concat());
        let said = complaint(&out);
        assert_eq!(out.status.code(), Some(2), "{options:?}: {said}");
        assert!(
            said.contains(message) && said.contains("No space left"),
            "{said}"
        );
    }
    let json: &[&str] = &["--json", "-"];
    for (command, options) in [
        (trace, json),
        (&["batch", "--target", "0", "--trials", "100"], json),
        (sweep, json),
        (&["init", "x"], &[]),
    ] {
        let out = after(dir.path(), "exec >/dev/full;", &[command, options].concat());
        assert_eq!(out.status.code(), Some(2), "{command:?}");
        assert!(
            complaint(&out).contains("standard output: No space left"),
            "{}",
            complaint(&out)
        );
        let _ = std::fs::remove_file(dir.path().join("halfturn-sweep.csv"));
    }
}

/// A real file system of 96 KiB, then the same read-only: in a name space of its own, which needs no rights on most Linux machines; the
/// test says loudly where it cannot be had.
#[cfg(target_os = "linux")]
#[test]
fn a_tiny_disk_and_a_read_only_one() {
    let dir = folder();
    quick(dir.path());
    std::fs::create_dir(dir.path().join("disk")).expect("a folder");
    let inside = |size: &str, then: &str, args: &[&str]| {
        let script = format!(
            "mount -t tmpfs -o size={size} none disk || exit 77; echo old > disk/old.json; {then} \
             \"$0\" \"$@\"; code=$?; ls -A disk >&2; cat disk/old.json >&2; exit $code"
        );
        Command::new("unshare")
            .current_dir(dir.path())
            .args(["--user", "--map-root-user", "--mount", "sh", "-c", &script])
            .arg(env!("CARGO_BIN_EXE_halfturn"))
            .args(args)
            .output()
    };
    let first = inside("96k", "", &[QUICK, &["--out", "disk/report"]].concat());
    let Some(out) = first
        .ok()
        .filter(|o| matches!(o.status.code(), Some(0..=2)))
    else {
        skipped(
            "no name space with a file system of its own: full and read-only disks are not tried",
        );
        return;
    };
    assert_eq!(out.status.code(), Some(2), "{}", complaint(&out));
    assert!(
        complaint(&out).contains("cannot be written: no storage space"),
        "{}",
        complaint(&out)
    );
    for args in [
        &[QUICK, &["--out", "disk/report"]].concat()[..],
        &["trace", "--target", "0", "--json", "disk/old.json"],
        &["sweep", "--vary", "target=0:1:3", "--out", "disk/t.csv"],
        &["init", "disk"],
    ] {
        let out = inside("96k", "mount -o remount,ro disk;", args).expect("it ran before");
        let said = complaint(&out);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {said}");
        assert!(
            said.contains("cannot be written: read-only") || said.contains("Read-only"),
            "{said}"
        );
        assert!(
            said.ends_with("old.json\nold\n"),
            "something was left: {said}"
        );
    }
}

/// A folder that this user may not write to.
#[test]
fn a_folder_without_the_right_to_write() {
    use std::os::unix::fs::PermissionsExt as _;
    let dir = folder();
    let locked = dir.path().join("locked");
    std::fs::create_dir(&locked).expect("a folder");
    let mode = |bits| std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(bits));
    mode(0o555).expect("rights can be taken");
    if std::fs::write(locked.join("probe"), "").is_ok() {
        skipped("this user may write everywhere: a folder without rights is not tried");
        return;
    }
    for args in [
        &["advise", "--trials", "1000000000", "--out", "locked"][..],
        &[
            "batch",
            "--target",
            "0",
            "--trials",
            "1000000000",
            "--json",
            "locked/x.json",
        ],
        &["init", "locked"],
    ] {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(
            complaint(&out).contains("Permission denied"),
            "{}",
            complaint(&out)
        );
    }
    mode(0o755).expect("rights can be given");
}

/// The reader of standard output goes away, as `| head` does: no message, no panic, and the exit code of the answer.
#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let dir = folder();
    quick(dir.path());
    let commands: [(&[&str], i32); 8] = [
        (&["trace", "--target", "0", "--quiet"], 0),
        (
            &[
                "batch", "--target", "0", "--trials", "100", "--json", "-", "--quiet",
            ],
            0,
        ),
        (
            &[
                "sweep",
                "--vary",
                "target=0:1:40",
                "--trials",
                "50",
                "--out",
                "-",
                "--quiet",
            ],
            0,
        ),
        (QUICK, 0),
        (&["vectors", "--json", "-"], 0),
        (&["completions", "bash"], 0),
        (&["man"], 0),
        (&["--help"], 0),
    ];
    for (args, code) in commands {
        let mut child = start(dir.path(), args);
        drop(child.stdout.take());
        let out = child.wait_with_output().expect("it ends");
        assert_eq!(complaint(&out), "", "{args:?}");
        assert_eq!(out.status.code(), Some(code), "{args:?}");
    }
    // Nobody reads the messages, either, or all three are closed.
    for script in ["exec 2>&-;", "exec <&- >&- 2>&-;"] {
        let out = after(dir.path(), script, &["trace", "--target", "x"]);
        assert_eq!(out.status.code(), Some(2), "{script}");
        let out = after(
            dir.path(),
            script,
            &["batch", "--target", "0", "--trials", "50"],
        );
        assert_eq!(out.status.code(), Some(0), "{script}");
    }
    let mut child = Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .args(["trace", "--target", "0", "--set", "loop.confirm=30"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stderr.take());
    assert_eq!(child.wait().expect("it ends").code(), Some(0));
}

/// What could be written at the start cannot be at the end: a folder stands where the page should go.
#[test]
fn a_report_that_is_barred_on_the_way_is_told() {
    let dir = folder();
    let child = start(dir.path(), &["advise", "--trials", "20000", "--quiet"]);
    // The paths are probed within the first milliseconds; the runs take longer than this.
    std::thread::sleep(Duration::from_millis(400));
    let barred = dir.path().join("halfturn-report/report.html");
    std::fs::create_dir_all(&barred).expect("a folder");
    let out = child.wait_with_output().expect("it ends");
    assert_eq!(out.status.code(), Some(2), "{}", complaint(&out));
    assert!(
        complaint(&out).contains("report.html: cannot be written: it is a folder, not a file"),
        "{}",
        complaint(&out)
    );
}
