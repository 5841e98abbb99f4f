//! The samples of earlier formats, kind by kind.
//! Shows (trust): every sample of every format is read, and means what it meant. Source: none: own rule.

use std::path::Path;
use std::process::Output;

use halfturn_engine::judge::{InProcess, Reference, play};
use halfturn_engine::rig::{Rig, RigSettings, Rule, read};
use halfturn_report::judge::read_cases;
use serde_json::Value;

use super::{copy, folders, text};
use crate::binary::{complaint, folder, halfturn, json, names};

/// Keys and values of a rig as they are hashed, a line each.
fn lines(rig: &Rig) -> Vec<(String, String)> {
    rig.key_values()
        .into_iter()
        .map(|(k, v)| (k, v.to_string()))
        .collect()
}

/// Beside NAME.toml lies NAME.keys: the digest that its rig had, and every key with its value. A later version may know more keys, which
/// then have their defaults; where it does not, the digest is the same.
#[test]
fn rigs_mean_what_they_meant() {
    let default = Rig::new(RigSettings::default()).expect("a rig");
    for dir in folders() {
        let dir = dir.join("rigs");
        let mut found = 0;
        for name in names(&dir).iter().filter(|n| n.ends_with(".toml")) {
            let rig = read(&text(&dir.join(name)), name, &[]).unwrap_or_else(|e| panic!("{e}"));
            let kept = text(&dir.join(name.replace(".toml", ".keys")));
            let (digest, keys) = kept.split_once('\n').expect("a digest and keys");
            let then: Vec<(String, String)> = keys
                .lines()
                .map(|line| line.split_once(" = ").expect("a key"))
                .map(|(k, v)| (k.to_owned(), v.to_owned()))
                .collect();
            let now = lines(&rig);
            for (key, value) in then.iter().filter(|(key, _)| key != "format") {
                let today = now.iter().find(|(k, _)| k == key).map(|(_, v)| v);
                assert_eq!(today, Some(value), "{}/{name}: {key}", dir.display());
            }
            let news = now.iter().filter(|(k, _)| then.iter().all(|(t, _)| t != k));
            let defaults = lines(&default);
            let mut more = 0;
            for (key, value) in news {
                assert!(
                    defaults.contains(&(key.clone(), value.clone())),
                    "{name}: {key} = {value} is new"
                );
                more += 1;
            }
            let format =
                |all: &[(String, String)]| all.iter().find(|(k, _)| k == "format").cloned();
            if more == 0 && format(&then) == format(&now) {
                assert_eq!(rig.digest(), digest, "{}/{name}", dir.display());
            }
            found += 1;
        }
        assert!(found >= 3, "{}", dir.display());
    }
}

#[test]
fn targets_and_logs_are_read() {
    for dir in folders() {
        let list =
            halfturn_engine::scenario::read_targets(&text(&dir.join("targets.csv")), "targets.csv")
                .unwrap_or_else(|e| panic!("{e}"));
        let told: Vec<(&str, f64)> = list
            .iter()
            .map(|t| (t.name.as_str(), t.position_angle_deg))
            .collect();
        assert_eq!(
            told,
            [
                ("Hook Nebula", 12.5),
                ("Ring, wide field", 178.0),
                ("by name", -45.25)
            ]
        );
        let log = halfturn_engine::fit::read_log(&text(&dir.join("log.csv")), "log.csv")
            .unwrap_or_else(|e| panic!("{e}"));
        let solved = log.rows.iter().filter(|r| r.position_angle_deg.is_some());
        assert_eq!((log.rows.len(), solved.count()), (39, 35));
    }
}

/// A rig, with overrides, beside the certificate of a folder.
fn checked(dir: &Path, rig: &str, more: &[&str]) -> Output {
    let args = [
        "advise",
        "--check",
        "advice.toml",
        rig,
        "--quiet",
        "--json",
        "-",
    ];
    halfturn(dir, &[&args[..], more].concat())
}

/// The certificate is proved again: the rig and the targets are those that it was made for, and the rig with the changes is known as such.
#[test]
fn certificates_are_proved_again() {
    for dir in folders() {
        let work = folder();
        copy(&dir.join("advice"), work.path());
        for (rig, stands) in [("rig.toml", "as-it-was"), ("rig.advised.toml", "advised")] {
            let out = checked(work.path(), rig, &[]);
            // Whether the promises hold is up to the version; it must say so.
            assert!(
                matches!(out.status.code(), Some(0 | 1)),
                "{}",
                complaint(&out)
            );
            let found = json(&out);
            assert_eq!(
                (&found["rig"], &found["same_targets"]),
                (&stands.into(), &true.into()),
                "{found:#}"
            );
            assert_eq!(found["changed_keys"], Value::Array(Vec::new()));
        }
        let out = checked(work.path(), "rig.toml", &["--set", "drive.step_deg=0.3"]);
        assert_eq!(json(&out)["rig"], "changed");
    }
}

/// A certificate of a version that knew a key less: the key counts as changed only where it has not its default.
#[test]
fn a_key_that_is_new_since_a_certificate_is_no_change() {
    for dir in folders() {
        let work = folder();
        copy(&dir.join("advice"), work.path());
        let certificate = text(&work.path().join("advice.toml"));
        let older: String = certificate
            .lines()
            .filter(|line| !line.starts_with("\"drive.winding_limit_deg\""))
            .map(|line| match line.split_once("_digest = ") {
                Some((which @ ("rig" | "advised_rig"), _)) => {
                    format!("{which}_digest = \"{}\"\n", "0".repeat(64))
                }
                _ => format!("{line}\n"),
            })
            .collect();
        assert_eq!(older.lines().count() + 1, certificate.lines().count());
        std::fs::write(work.path().join("advice.toml"), older).expect("a file");
        let cases: [(&str, &[&str], &str); 4] = [
            ("rig.toml", &[], "as-it-was"),
            ("rig.advised.toml", &[], "advised"),
            (
                "rig.toml",
                &["--set", "drive.winding_limit_deg=400"],
                "changed",
            ),
            ("rig.toml", &["--set", "wrap.symmetry=2"], "changed"),
        ];
        for (rig, more, stands) in cases {
            assert_eq!(
                json(&checked(work.path(), rig, more))["rig"],
                stands,
                "{rig} {more:?}"
            );
        }
    }
}

/// A part of a sweep, torn in a line, is gone on with to the bytes of a fresh one; or, by another version of the program, refused
/// with the version as the reason and left alone. Shards can be merged whatever version made them.
#[test]
fn sweeps_go_on_and_shards_merge() {
    for dir in folders() {
        let work = folder();
        copy(&dir.join("sweep"), work.path());
        let args = text(&work.path().join("arguments"));
        let args: Vec<&str> = args.lines().collect();
        let part = text(&work.path().join("part.csv"));
        let resumed = halfturn(
            work.path(),
            &[&args[..], &["--resume", "--out", "part.csv"]].concat(),
        );
        if resumed.status.success() {
            let fresh = halfturn(work.path(), &[&args[..], &["--out", "fresh.csv"]].concat());
            assert!(fresh.status.success(), "{}", complaint(&fresh));
            let finished = text(&work.path().join("part.csv"));
            assert_eq!(finished, text(&work.path().join("fresh.csv")));
            let head = part.lines().take_while(|line| line.starts_with('#'));
            assert!(head.zip(finished.lines()).all(|(a, b)| a == b));
        } else {
            let said = complaint(&resumed);
            assert_eq!(resumed.status.code(), Some(2));
            assert!(
                said.contains("belongs to another sweep: it has \"program: halfturn"),
                "{said}"
            );
            assert_eq!(text(&work.path().join("part.csv")), part);
        }
        let merged = halfturn(
            work.path(),
            &[
                "merge",
                "merged.csv",
                "1-of-2.csv",
                "2-of-2.csv",
                "--json",
                "-",
            ],
        );
        assert!(merged.status.success(), "{}", complaint(&merged));
        let found = json(&merged);
        assert_eq!(found["cells_done"], found["cells"]);
        assert_eq!(found["rows"].as_array().map(Vec::len), Some(6));
    }
}

/// Scenarios are read and played: a correct controller passes them all.
#[test]
fn scenarios_are_replayed() {
    for dir in folders() {
        let cases = read_cases(&text(&dir.join("scenarios.json")), "scenarios.json")
            .unwrap_or_else(|e| panic!("{e}"));
        assert!(!cases.is_empty());
        for case in &cases {
            let mut subject = InProcess::new(|| Reference::new(Rule::FoldOnce));
            let played = play(case, &mut subject).unwrap_or_else(|e| panic!("{e}"));
            assert!(played.failures.is_empty(), "{:?}", played.failures);
        }
    }
}

/// The test vectors are a format by themselves: their digest. Later ones come after them.
#[test]
fn the_test_vectors_are_those_of_then() {
    for dir in folders() {
        let kept = text(&dir.join("wrap-vectors.sha256"));
        let vectors = halfturn_engine::judge::vectors();
        let digest = halfturn_report::judge::vectors_digest(&vectors[..5316]);
        assert_eq!(kept, format!("{digest}  wrap-vectors.csv\n"));
    }
}
