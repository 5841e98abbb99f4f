//! The program killed at any moment, and stopped twice: what is on disk is whole or absent, and going on gives the same bytes.
#![cfg(unix)]

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use halfturn_engine::sample::stream;
use rand::RngExt as _;

use crate::binary::{complaint, folder, halfturn, names, sized, write};
use crate::binary::{example, there_is};

/// Starts the program with nobody listening.
pub(crate) fn start(dir: &Path, args: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_halfturn"))
        .current_dir(dir)
        .args(args)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

/// SIGKILL, which no program can answer; true if it was still running.
fn kill(child: &mut Child) -> bool {
    let running = child.try_wait().expect("it can be asked").is_none();
    child.kill().expect("it can be killed");
    child.wait().expect("it ends");
    running
}

pub(crate) fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill")
        .args([name, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill runs").success());
}

/// Every file that is there under its own name has the bytes that it has after an undisturbed run. A kill may leave a temporary
/// file, which nobody reads.
fn whole_or_absent(dir: &Path, reference: &Path) {
    if !dir.exists() {
        return;
    }
    for name in names(dir).iter().filter(|n| !n.starts_with(".halfturn-")) {
        let (here, there) = (dir.join(name), reference.join(name));
        let there = std::fs::read(there).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(
            std::fs::read(here).expect("a file") == there,
            "{name} is not whole"
        );
    }
}

/// 200 kills of a sweep at random points, each followed by `--resume`: the table on disk is always the beginning of the finished one,
/// cut at the end of a line, and comes to the same bytes, as do picture and JSON. The delays are drawn from a fixed seed; how far the program gets in that time
/// is up to the machine.
/// Shows (trust): the table of faults: killed, stopped, a full disk, a clock set back. With:
/// `a_killed_advice_leaves_whole_files`, `a_killed_judge_leaves_whole_files`, `ctrl_c_twice_ends_at_once`,
/// `the_wall_clock_is_nowhere`, `tests/integration/faults_disk.rs`. Source: none: own rule.
#[test]
fn a_sweep_killed_again_and_again_is_the_same_sweep() {
    let dir = folder();
    let sweep = |stem: &str| -> Vec<String> {
        let start = "sweep --vary target=0:2:60 --rules half-circle --trials 2000 --threads 1 --quiet --resume";
        let outputs = format!("--out {stem}.csv --plot {stem}.svg --json {stem}.json");
        let words = start.split(' ').chain(outputs.split(' '));
        words.map(str::to_owned).collect()
    };
    let (calm, killed) = (sweep("calm"), sweep("killed"));
    let calm: Vec<&str> = calm.iter().map(String::as_str).collect();
    let args: Vec<&str> = killed.iter().map(String::as_str).collect();
    let begun = Instant::now();
    let whole = halfturn(dir.path(), &calm);
    assert_eq!(whole.status.code(), Some(0), "{}", complaint(&whole));
    // On a machine with other work to do a sweep takes longer, and so many of them would.
    let length_s = begun.elapsed().as_secs_f64().min(0.6);
    let reference = std::fs::read(dir.path().join("calm.csv")).expect("the table");
    let path = dir.path().join("killed.csv");
    let mut delays = stream(2026, 200);
    let (mut kills, mut cuts) = (0, std::collections::BTreeSet::new());
    let most = sized(30, 200);
    while kills < most {
        let mut child = start(dir.path(), &args);
        let delay_s = delays.random_range(0.0..0.6 * length_s);
        std::thread::sleep(Duration::from_secs_f64(delay_s));
        if kill(&mut child) {
            kills += 1;
        }
        let there = std::fs::read(&path).unwrap_or_default();
        assert!(
            reference.starts_with(&there),
            "kill {kills}: {} bytes are not those of the sweep",
            there.len()
        );
        assert!(
            there.is_empty() || there.ends_with(b"\n"),
            "kill {kills}: torn"
        );
        cuts.insert(there.len());
        if there == reference {
            finish(dir.path(), &args);
        }
    }
    finish(dir.path(), &args);
    assert!(
        cuts.len() >= sized(4, 10),
        "the kills fell on {} places only",
        cuts.len()
    );
}

const ENDINGS: [&str; 3] = ["csv", "svg", "json"];

fn all_of(dir: &Path, stem: &str) -> Vec<Vec<u8>> {
    let read = |ending| std::fs::read(dir.join(format!("{stem}.{ending}")));
    ENDINGS.map(|e| read(e).expect("it is there")).into()
}

/// Goes on to the end, compares all that is written with an undisturbed run, and clears it away.
fn finish(dir: &Path, args: &[&str]) {
    let out = halfturn(dir, args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    assert!(all_of(dir, "killed") == all_of(dir, "calm"));
    for ending in ENDINGS {
        std::fs::remove_file(dir.join(format!("killed.{ending}"))).expect("it is there");
    }
}

/// An advice that takes no time: one target, and a rig without luck. [`quick`] makes the files.
pub(crate) const QUICK: &[&str] = &[
    "advise",
    "quick.toml",
    "quick.csv",
    "--trials",
    "100",
    "--quiet",
];

pub(crate) fn quick(dir: &Path) {
    let rig = "[drive]\nrepeatability_deg = 0\nzero_point_sigma_deg = 0\n[solve]\nnoise_deg = 0\n";
    write(dir, "quick.toml", rig);
    write(dir, "quick.csv", "name,position_angle_deg\nA,50\n");
}

/// Kills of `advise`, three in four while it writes its report.
#[test]
fn a_killed_advice_leaves_whole_files() {
    let dir = folder();
    quick(dir.path());
    let args = |out: &'static str| [QUICK, &["--json", "advice.json", "--out", out]].concat();
    let begun = Instant::now();
    let out = halfturn(dir.path(), &args("report"));
    assert!(out.status.code() < Some(2), "{}", complaint(&out));
    let length_s = begun.elapsed().as_secs_f64();
    let reference = folder();
    let kept = reference.path().join("report");
    std::fs::rename(dir.path().join("report"), &kept).expect("it can be moved");
    let json = std::fs::read(dir.path().join("advice.json")).expect("the JSON");
    std::fs::remove_file(dir.path().join("advice.json")).expect("it is there");
    let report = dir.path().join("report");
    let mut delays = stream(2026, 16);
    let mut partly = 0;
    // On a busy machine few kills fall between two files: it goes on until one has.
    for i in 0..96 {
        if i >= sized(8, 16) && partly > 0 {
            break;
        }
        let mut child = start(dir.path(), &args("report"));
        if i % 4 == 0 {
            let delay_s = delays.random_range(0.0..length_s);
            std::thread::sleep(Duration::from_secs_f64(delay_s));
        } else {
            while !report.exists() && child.try_wait().expect("it can be asked").is_none() {
                std::thread::sleep(Duration::from_micros(200));
            }
            std::thread::sleep(Duration::from_micros(delays.random_range(0..1_000)));
        }
        kill(&mut child);
        whole_or_absent(&report, &kept);
        let there = std::fs::read(dir.path().join("advice.json"));
        assert!(there.is_err() || there.is_ok_and(|t| t == json));
        partly += u32::from(report.exists() && !report.join("report.html").exists());
        // A quarter of the kills meets an older report.
        if i % 4 != 3 {
            let _ = std::fs::remove_dir_all(&report);
        }
    }
    assert!(partly > 0, "no kill fell between two files");
    let out = halfturn(dir.path(), &args("report"));
    assert!(out.status.code() < Some(2), "{}", complaint(&out));
    whole_or_absent(&report, &kept);
    let own = |dir: &Path| {
        let mut all = names(dir);
        all.retain(|n| !n.starts_with(".halfturn-"));
        all
    };
    assert_eq!(own(&report), own(&kept));
}

/// Kills of `judge` with a wrong controller: what it keeps of failures is whole, and its controller ends with it.
#[test]
fn a_killed_judge_leaves_whole_files() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let wrong = example("wrong_band.py");
    let args = |out: &'static str| {
        vec![
            "judge",
            "--scenarios",
            "60",
            "--quiet",
            "--junit",
            "junit.xml",
            "--out",
            out,
            "--",
            "python3",
            wrong.as_str(),
        ]
    };
    let begun = Instant::now();
    let out = halfturn(dir.path(), &args("kept"));
    assert_eq!(out.status.code(), Some(1), "{}", complaint(&out));
    let length_s = begun.elapsed().as_secs_f64();
    let reference = folder();
    let safe = reference.path().join("kept");
    std::fs::rename(dir.path().join("kept"), &safe).expect("it can be moved");
    let kept = dir.path().join("kept");
    let mut delays = stream(2026, 8);
    for i in 0..8 {
        let mut child = start(dir.path(), &args("kept"));
        let delay_s = delays.random_range(0.0..length_s);
        let begun = Instant::now();
        while begun.elapsed().as_secs_f64() < delay_s || (i % 2 == 1 && !kept.exists()) {
            if child.try_wait().expect("it can be asked").is_some() {
                break;
            }
            std::thread::sleep(Duration::from_micros(300));
        }
        kill(&mut child);
        whole_or_absent(&kept, &safe);
        let junit = std::fs::read_to_string(dir.path().join("junit.xml")).expect("the first one");
        assert!(roxmltree::Document::parse(&junit).is_ok());
        let _ = std::fs::remove_dir_all(&kept);
    }
    let again = halfturn(dir.path(), &args("kept"));
    assert_eq!(again.status.code(), Some(1), "{}", complaint(&again));
    whole_or_absent(&kept, &safe);
    assert_eq!(names(&kept), names(&safe));
}

/// A second Ctrl-C, and a polite end: 130 at once, and no file torn.
#[test]
fn ctrl_c_twice_ends_at_once() {
    let dir = folder();
    let endless = "1000000000";
    for signals in [&["-INT", "-INT"][..], &["-TERM"]] {
        let args = [
            "sweep",
            "--vary",
            "target=0:1:60",
            "--trials",
            endless,
            "--force",
            "--out",
            "t.csv",
        ];
        let child = start(dir.path(), &args);
        let table = dir.path().join("t.csv");
        while std::fs::read(&table).map_or(0, |t| t.len()) == 0 {
            std::thread::sleep(Duration::from_millis(5));
        }
        let begun = Instant::now();
        for name in signals {
            signal(&child, name);
            std::thread::sleep(Duration::from_millis(10));
        }
        let out = child.wait_with_output().expect("it ends");
        assert_eq!(out.status.code(), Some(130), "{}", complaint(&out));
        assert!(begun.elapsed() < Duration::from_secs(10));
        let text = std::fs::read_to_string(&table).expect("the table");
        assert!(text.ends_with('\n') && text.starts_with("# halfturn sweep"));
        std::fs::remove_file(&table).expect("it is there");
    }
    let mut child = start(dir.path(), &["advise", "--trials", endless]);
    std::thread::sleep(Duration::from_millis(600));
    signal(&child, "-INT");
    let out = loop {
        // Once is enough, if it comes after the handler is there.
        match child.try_wait().expect("it can be asked") {
            Some(_) => break child.wait_with_output().expect("it ends"),
            None => std::thread::sleep(Duration::from_millis(20)),
        }
    };
    assert_eq!(out.status.code(), Some(130), "{}", complaint(&out));
    assert!(complaint(&out).contains("stopped before the end. Nothing was written"));
    assert_eq!(names(dir.path()), Vec::<String>::new());
}

/// Nothing reads the clock on the wall, so that nothing can go wrong where it is set back: no source names it, and a table from the
/// future or from 1970 is gone on with.
#[test]
fn the_wall_clock_is_nowhere() {
    let root = crate::binary::root();
    let parts = [
        "src",
        "crates/engine/src",
        "crates/sky/src",
        "crates/report/src",
    ];
    let mut folders: Vec<_> = parts.iter().map(|part| root.join(part)).collect();
    let mut sources = 0;
    while let Some(dir) = folders.pop() {
        for entry in std::fs::read_dir(dir).expect("a folder").flatten() {
            if entry.path().is_dir() {
                folders.push(entry.path());
                continue;
            }
            let text = std::fs::read_to_string(entry.path()).unwrap_or_default();
            sources += 1;
            for name in [
                "SystemTime",
                "UNIX_EPOCH",
                "chrono::",
                "modified()",
                "from_entropy",
            ] {
                assert!(!text.contains(name), "{}: {name}", entry.path().display());
            }
        }
    }
    assert!(sources > 100);
    let dir = folder();
    let args = [
        "sweep",
        "--vary",
        "target=0:1:6",
        "--trials",
        "500",
        "--resume",
        "--out",
        "t.csv",
    ];
    let path = dir.path().join("t.csv");
    halfturn(dir.path(), &args);
    let whole = std::fs::read(&path).expect("the table");
    let epoch = std::time::SystemTime::UNIX_EPOCH;
    for time in [epoch, epoch + Duration::from_secs(4_000_000_000)] {
        std::fs::write(&path, &whole[..whole.len() * 2 / 3]).expect("it can be cut");
        let file = std::fs::File::options()
            .write(true)
            .open(&path)
            .expect("it is there");
        file.set_modified(time).expect("a time can be set");
        drop(file);
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        assert!(std::fs::read(&path).expect("the table") == whole);
    }
}
