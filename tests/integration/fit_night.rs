//! What `fit` says of a night's log: the loops in it, those that hunt, those that never end.

use std::path::PathBuf;

use halfturn_engine::fit::{Diagnosis, DiagnosisKind, Fit, fit, read_log};
use halfturn_engine::rig::read;

use crate::binary::{complaint, folder, halfturn, json};

/// First and last row of a run.
type Rows = (usize, usize);

/// The logs whose name begins like this: name, text, and the rows that hunt.
fn logs(begins: &str) -> Vec<(String, String, Vec<Rows>)> {
    let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/night_logs");
    let mut found = Vec::new();
    for entry in std::fs::read_dir(&dir).expect("the logs") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        if name.starts_with(begins) {
            let text = std::fs::read_to_string(&path).expect("a log");
            let said = text
                .lines()
                .next()
                .and_then(|l| l.split_once("Rows that hunt: "));
            let said = said.map_or("", |(_, s)| s).trim_end_matches('.');
            let spans = said.split(", ").filter_map(|s| s.split_once(" to "));
            let spans = spans.map(|(a, b)| (a.parse().unwrap_or(0), b.parse().unwrap_or(0)));
            let spans = spans.collect();
            found.push((name, text, spans));
        }
    }
    found.sort();
    found
}

/// Fits with the defaults; only of the reversed rigs the sense is believed.
fn fitted(name: &str, text: &str) -> Fit {
    let sense = if name.contains("reversed") {
        "loop.believed_sense = -1"
    } else {
        ""
    };
    let rig = read(sense, "test", &[]).unwrap_or_else(|e| panic!("{e}"));
    let log = read_log(text, name).unwrap_or_else(|e| panic!("{e}"));
    fit(&log, rig.settings()).unwrap_or_else(|e| panic!("{e}"))
}

fn of_runs(found: &Fit) -> Vec<&Diagnosis> {
    found
        .diagnoses
        .iter()
        .filter(|d| d.last_row.is_some())
        .collect()
}

/// Shows (fit): a log that hunts: ten nights are recognised with their rows, ten others are not. With:
/// `a_loop_that_never_ends_is_named`, `the_words_name_rows_places_and_cure`. Source: the model a second time, in
/// Python (`tests/reference/make_night_logs.py`), which counts the long swings of docs/model.md, section 6.
#[test]
fn nights_that_hunt_are_recognised_and_others_are_not() {
    let hunting = logs("hunts-");
    assert_eq!(hunting.len(), 10);
    for (name, text, spans) in hunting {
        let found = fitted(&name, &text);
        let runs = of_runs(&found);
        assert!(
            runs.iter().all(|d| d.kind == DiagnosisKind::Hunting),
            "{name}: {runs:?}"
        );
        let rows: Vec<Rows> = runs
            .iter()
            .map(|d| (d.row.unwrap_or(0), d.last_row.unwrap_or(0)))
            .collect();
        assert_eq!(rows, spans, "{name}");
    }
    let good = logs("good-");
    assert_eq!(good.len(), 10);
    for (name, text, _) in good {
        let found = fitted(&name, &text);
        let all = found.diagnoses.iter();
        let wrong: Vec<_> = all
            .filter(|d| d.kind != DiagnosisKind::NotIdentifiable)
            .collect();
        // The only log with outliers in it.
        let allowed = |d: &&Diagnosis| name == "good-noisy" && d.kind == DiagnosisKind::Outliers;
        assert!(wrong.iter().all(allowed), "{name}: {wrong:?}");
    }
}

#[test]
fn a_loop_that_never_ends_is_named() {
    let expected = [
        (
            "endless-tight-tolerance",
            DiagnosisKind::NeverSettles,
            vec![(1, 8), (9, 28)],
        ),
        (
            "endless-wrong-sense",
            DiagnosisKind::WrongSense,
            vec![(1, 20)],
        ),
    ];
    for ((name, text, _), (known, kind, rows)) in logs("endless-").into_iter().zip(expected) {
        assert_eq!(name, known);
        let found = fitted(&name, &text);
        let runs = of_runs(&found);
        let told: Vec<_> = runs
            .iter()
            .map(|d| (d.row.unwrap_or(0), d.last_row.unwrap_or(0)))
            .collect();
        assert_eq!(told, rows, "{name}");
        assert!(runs.iter().all(|d| d.kind == kind), "{name}: {runs:?}");
    }
}

/// Twenty rows of one target: the errors get dashes, and the answer comes first.
#[test]
fn the_words_name_rows_places_and_cure() {
    let dir = folder();
    let (_, text, _) = logs("hunts-one-target").remove(0);
    std::fs::write(dir.path().join("log.csv"), text).expect("it is written");
    let out = halfturn(dir.path(), &["fit", "log.csv", "--out", "fitted.toml"]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let said = String::from_utf8_lossy(&out.stdout)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    let expected = [
        "What happened: - hunting, rows 1 to 20: the drive swings between 0.33° and 179.55°: 19 long swings after one target, position angle 0°. The target lies on the seam. An arc that starts at 90° would have ended it.",
        "zero point – – – – ° the log does not show it",
        "To replay rows 1 to 20 on this rig:",
        "halfturn trace fitted.toml --target 0 --hunting",
        "halfturn trace fitted.toml --target 0 --set wrap.arc_start_deg=90",
    ];
    for words in expected {
        assert!(said.contains(words), "{words}: {said}");
    }
    let fit = json(&halfturn(dir.path(), &["fit", "log.csv", "--json", "-"]));
    let found = &fit["diagnoses"][0];
    assert_eq!((&found["row"], &found["last_row"]), (&1.into(), &20.into()));
    assert_eq!(found["arc_start_deg"], 90.0);
}

/// The rigs of tests/reference/make_night_logs.py, each with the arc that the log of its night names: no run in 20 000
/// hunts at the target of that log.
/// Shows (fit): the arc that a finding names ends the hunting. Source: the simulator on the rigs that made the logs.
#[test]
fn the_arc_that_is_named_ends_it() {
    const WAVE: &str = "drive.periodic = [{ cycles = 1, amplitude_deg = 0.3, phase_deg = 90 }]\nloop.tolerance_deg = 0.2\n";
    let square = WAVE.replace("cycles = 1", "cycles = 2") + "wrap.symmetry = 4\n";
    let rigs = [
        ("hunts-one-target", WAVE.to_owned()),
        ("hunts-third-of-five", WAVE.to_owned()),
        (
            "hunts-backlash",
            "drive.backlash_deg = 1.0\nloop.tolerance_deg = 0.3\n".to_owned(),
        ),
        (
            "hunts-gain",
            "drive.gain_error = -0.005\nloop.tolerance_deg = 0.4\n".to_owned(),
        ),
        ("hunts-square", square),
        (
            "hunts-twice",
            format!("{WAVE}loop.confirm = 2\ndrive.step_deg = 0.1\n"),
        ),
    ];
    let dir = folder();
    for (name, rig) in rigs {
        let (_, text, _) = logs(name).remove(0);
        let found = fitted(name, &text);
        let run = of_runs(&found)[0];
        let (target, start) = (
            run.target_deg.unwrap_or(f64::NAN),
            run.arc_start_deg.unwrap_or(f64::NAN),
        );
        std::fs::write(dir.path().join("rig.toml"), rig).expect("it is written");
        let share = |start: f64| {
            let (target, start) = (format!("{target}"), format!("wrap.arc_start_deg={start}"));
            let args = [
                "batch",
                "rig.toml",
                "--rules",
                "half-circle",
                "--trials",
                "20000",
                "--target",
                &target,
                "--set",
                &start,
            ];
            let result = json(&halfturn(
                dir.path(),
                &[&args[..], &["--json", "-"]].concat(),
            ));
            result["policies"][0]["hunting"]["rate"]
                .as_f64()
                .unwrap_or(f64::NAN)
        };
        assert!(share(0.0) > 0.05, "{name}: {}", share(0.0));
        assert_eq!(share(start), 0.0, "{name}: {start}");
    }
}
