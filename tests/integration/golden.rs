//! The bits of what comes out, held against a table that is kept: `tests/data/golden.txt`.
//!
//! The table says nothing of right or wrong; other tests do. It says that nothing has changed, on this machine, with these options of
//! the compiler, and with any number of threads. `tests/golden.sh` holds other builds and processors against it.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::binary::{folder, skipped, write};

const TABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/golden.txt");
const SITE: &str = "--site 47.32,12.08,1180 --date 2026-10-14";

/// Files that name another file with its folder, in the way of the system.
const WITH_PATHS: [&str; 4] = [
    "advise/stdout",
    "advise-uncertain/stdout",
    "advise-uncertain/report/advice.toml",
    "advise-uncertain/report/report.html",
];

/// Decimals of the figures of the sky that are compared: its positions come through the system's sine, whose last bit differs.
const SKY_DECIMALS: i32 = 5;

/// Name and command line. Every file that the command writes into its folder counts, and its standard output.
fn cases() -> Vec<(&'static str, String)> {
    let line = |name, text: &str| (name, text.to_owned());
    vec![
        line(
            "batch",
            "batch --target 0 --trials 3000 --json out.json --out pictures",
        ),
        line(
            "batch-all-errors",
            "batch hard.toml --target 17.3 --trials 2000 --seed 7 --json out.json",
        ),
        line(
            "batch-until",
            "batch --target 0.4 --half-width 0.01 --rules half-circle --json out.json",
        ),
        line(
            "batch-exact",
            "batch --target 0 --method exact --precision map --json out.json",
        ),
        line(
            "trace",
            "trace --target 0 --hunting --json out.json --plot out.svg",
        ),
        line(
            "trace-all-errors",
            "trace hard.toml --target 17.3 --trial 5 --json out.json --plot out.svg",
        ),
        line(
            "sweep",
            "sweep --vary loop.tolerance_deg=0.1:0.5:3 --vary target=-2:2:5 --trials 300 --out out.csv --plot out.svg --json out.json",
        ),
        line(
            "sweep-exact",
            "sweep --vary loop.tolerance_deg=0.2:0.4:2 --target 0.1 --method exact --rules half-circle --out out.csv",
        ),
        line(
            "advise",
            "advise night.toml few.csv --trials 300 --out report --json out.json --write=new.toml",
        ),
        line(
            "advise-uncertain",
            "advise night.toml few.csv --uncertain log.csv --trials 100 --draws 2 --out report --json out.json",
        ),
        line(
            "fit",
            "fit log.csv --json out.json --out fitted.toml --plot out.svg",
        ),
        line(
            "fit-plan",
            "fit --plan --rehearse log-made.csv --json out.json --out plan.csv",
        ),
        line(
            "judge",
            "judge --scenarios 60 --json out.json -- python3 controller.py",
        ),
        line("vectors", "vectors"),
        line(
            "panels",
            "sky panels --center 83.8,-5.4 --grid 3x2 --frame-deg 2.8x1.9 --position-angle 35 --out panels.csv --json out.json --plot out.svg",
        ),
        (
            "sky-night",
            format!(
                "sky night night.toml night.csv {SITE} --trials 20 --slips-per-hour 0.5 --clouds 0.2 --json out.json --plot out.svg"
            ),
        ),
        (
            "sky-field",
            format!(
                "sky field-rotation --object M31 {SITE} --trials 200 --json out.json --plot out.svg"
            ),
        ),
    ]
}

/// A rig with every error, between stops.
const HARD: &str = r#"
drive.step_deg = 0.03
drive.acceleration_deg_per_s2 = 2.5
drive.backlash_deg = 0.31
drive.repeatability_deg = 0.025
drive.gain_error = 0.0015
drive.periodic = [
  { cycles = 1, amplitude_deg = 0.14, phase_deg = 40.0 },
  { cycles = 7.3, amplitude_deg = 0.03, phase_deg = 200.0 },
]
drive.travel = "stops"
drive.stop_from_deg = -200.0
drive.stop_to_deg = 380.0
solve.bias_deg = 0.01
solve.outlier_rate = 0.03
solve.failure_rate = 0.1
loop.tolerance_deg = 0.2
loop.confirm = 2
loop.correction = 0.9
loop.approach = "from-below"
loop.field_rotation_deg_per_s = 0.0004
wrap.arc_start_deg = 17.0
keep_out = [{ from_deg = 100.0, to_deg = 112.0 }]
"#;

/// Targets on the seam, off it, and half a turn away.
const FEW: &str = "name,position_angle_deg\nHook,0.2\nRing,91.5\nVeil,178.9\n";

/// The program, or another build of it as `HALFTURN_GOLDEN_PROGRAM` says, with an emulator before it if need be.
fn program() -> Command {
    let Ok(other) = std::env::var("HALFTURN_GOLDEN_PROGRAM") else {
        return Command::new(env!("CARGO_BIN_EXE_halfturn"));
    };
    let mut words = other.split_whitespace();
    let mut command = Command::new(words.next().expect("a program"));
    command.args(words);
    command
}

/// SHA-256 of everything that a command leaves, file by file.
fn digests(name: &str, line: &str, threads: u32) -> BTreeMap<String, String> {
    let dir = folder();
    for (file, text) in [
        ("hard.toml", HARD),
        ("few.csv", FEW),
        ("night.toml", include_str!("../../examples/night/rig.toml")),
        (
            "night.csv",
            include_str!("../../examples/night/targets.csv"),
        ),
        ("log.csv", include_str!("../../assets/demo-log.csv")),
        (
            "controller.py",
            include_str!("../../examples/controllers/correct.py"),
        ),
    ] {
        write(dir.path(), file, text);
    }
    let given: Vec<String> = files(dir.path()).into_keys().collect();
    // What stands after `--` belongs to the controller.
    let (own, others) = line.split_at(line.find(" -- ").unwrap_or(line.len()));
    let threads = threads.to_string();
    let common = ["--quiet", "--threads", &threads];
    // It takes no threads.
    let common = &common[..if name == "vectors" { 1 } else { 3 }];
    let out = program()
        .current_dir(dir.path())
        .args(own.split_whitespace())
        .args(common)
        .args(others.split_whitespace())
        .output()
        .expect("the program starts");
    assert!(
        matches!(out.status.code(), Some(0 | 1)),
        "{name}: {:?} {}",
        out.status,
        String::from_utf8_lossy(&out.stderr)
    );
    let mut found = files(dir.path());
    found.retain(|file, _| !given.contains(file));
    // `judge` says how long it took.
    if name != "judge" {
        found.insert("stdout".to_owned(), out.stdout);
    }
    found
        .into_iter()
        .map(|(file, bytes)| {
            let digest = Sha256::digest(made_comparable(name, &file, bytes));
            let hex = digest.iter().fold(String::new(), |mut hex, b| {
                let _ = write!(hex, "{b:02x}");
                hex
            });
            (format!("{name}/{file}"), hex)
        })
        .collect()
}

/// The files below a folder, by their paths with `/`.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(dir).expect("the folder").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.path().is_dir() {
            found.extend(
                files(&entry.path())
                    .into_iter()
                    .map(|(f, b)| (format!("{name}/{f}"), b)),
            );
        } else {
            found.insert(name, std::fs::read(entry.path()).expect("the file"));
        }
    }
    found
}

/// Without the version of the program, which a release changes, and of the sky the decimals that are compared.
fn made_comparable(name: &str, file: &str, bytes: Vec<u8>) -> Vec<u8> {
    let Ok(text) = String::from_utf8(bytes.clone()) else {
        return bytes;
    };
    if name.starts_with("sky-") && file.ends_with(".json") {
        let mut value: Value = serde_json::from_str(&text).expect("JSON");
        round(&mut value);
        return without_version(&value.to_string()).into_bytes();
    }
    without_version(&text).into_bytes()
}

fn without_version(text: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    text.replace(&format!("halfturn {version}"), "halfturn VERSION")
        .replace(&format!("\"{version}\""), "\"VERSION\"")
}

fn round(value: &mut Value) {
    match value {
        Value::Array(all) => all.iter_mut().for_each(round),
        Value::Object(all) => all.values_mut().for_each(round),
        Value::Number(n) if n.is_f64() => {
            let unit = 10_f64.powi(SKY_DECIMALS);
            *value = (n.as_f64().unwrap_or(f64::NAN) * unit).round().into();
        }
        _ => {}
    }
}

/// Shows (README): the same seed gives the same bits whatever the processor and the build. With: `tests/golden.sh`.
/// Source: IEEE 754; docs/trust.md says which were tried.
#[test]
fn the_bits_are_those_of_the_table() {
    let windows = std::env::var_os("HALFTURN_GOLDEN_WINDOWS").is_some();
    // A program for Windows that runs on another system cannot start the controller of that.
    let judges = !windows && Command::new("python3").arg("--version").output().is_ok();
    let mut found = BTreeMap::new();
    for (name, line) in cases() {
        if name == "judge" && !judges {
            skipped("golden judge: no python3 that the program can start");
            continue;
        }
        let three = digests(name, &line, 3);
        // An emulated program is slow; what threads do is seen on the one at hand.
        if std::env::var_os("HALFTURN_GOLDEN_PROGRAM").is_none() {
            let one = digests(name, &line, 1);
            assert_eq!(one, three, "{name}: threads change the result");
        }
        found.extend(three);
    }
    let table: String = found
        .iter()
        .map(|(file, hex)| format!("{hex}  {file}\n"))
        .collect();
    if std::env::var("HALFTURN_GOLDEN").is_ok_and(|v| v == "renew") {
        std::fs::write(TABLE, table).expect("the table can be written");
        return;
    }
    found.retain(|file, _| !(windows && WITH_PATHS.contains(&file.as_str())));
    let kept = std::fs::read_to_string(TABLE).expect("tests/data/golden.txt");
    let kept: BTreeMap<&str, &str> = kept
        .lines()
        .filter_map(|line| line.split_once("  "))
        .map(|(hex, file)| (file, hex))
        .filter(|(file, _)| judges || !file.starts_with("judge/"))
        .filter(|(file, _)| !(windows && WITH_PATHS.contains(file)))
        .collect();
    let other: Vec<String> = found
        .iter()
        .filter(|(file, hex)| kept.get(file.as_str()) != Some(&hex.as_str()))
        .map(|(file, _)| file.clone())
        .chain(
            kept.keys()
                .filter(|f| !found.contains_key(**f))
                .map(|f| format!("{f} (no longer written)")),
        )
        .collect();
    assert!(
        other.is_empty(),
        "{} outputs are not those of tests/data/golden.txt:\n  {}\nIf that is meant: `HALFTURN_GOLDEN=renew cargo test --test integration golden`, \
         and where figures changed, a line in CHANGELOG.md that begins with **results**.",
        other.len(),
        other.join("\n  ")
    );
}
