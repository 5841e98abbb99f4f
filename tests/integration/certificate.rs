//! The certificate of an advice, and the rig file with the changes, as a user meets them.

use std::path::Path;

use crate::binary::{complaint, folder, halfturn, json, write};

/// Few runs, but enough that a target without trouble is safe.
const FEW: [&str; 2] = ["--trials", "4000"];

fn advise(dir: &Path, more: &[&str]) -> std::process::Output {
    halfturn(dir, &[&["advise", "--quiet"], &FEW[..], more].concat())
}

fn text(output: &std::process::Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Shows (README): `advise --write` makes the new rig file. Source: none: own rule.
#[test]
fn the_new_rig_file_keeps_comments_and_never_replaces_one() {
    let dir = folder();
    assert!(halfturn(dir.path(), &["init", "rig"]).status.success());
    let list = "rig/targets.csv";
    let old = std::fs::read_to_string(dir.path().join("rig/rig.toml")).expect("the rig");
    let out = advise(dir.path(), &["rig/rig.toml", list, "--write"]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let path = dir.path().join("rig/rig.advised.toml");
    let new = std::fs::read_to_string(&path).expect("the new rig");
    // One line differs.
    let differs: Vec<(&str, &str)> = old
        .lines()
        .zip(new.lines())
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(old.lines().count(), new.lines().count());
    assert_eq!(differs.len(), 1, "{differs:?}");
    assert!(differs[0].1.starts_with("arc_start_deg = 277.0 ") && differs[0].1.contains('#'));
    assert_eq!(
        old,
        std::fs::read_to_string(dir.path().join("rig/rig.toml")).expect("the rig")
    );

    // A second time it is refused before any work.
    let again = advise(
        dir.path(),
        &["rig/rig.toml", list, "--write", "--out", "second"],
    );
    assert_eq!(again.status.code(), Some(2));
    assert!(complaint(&again).contains("rig.advised.toml: exists already"));
    assert!(!dir.path().join("second").exists());
    let named = advise(dir.path(), &["rig/rig.toml", list, "--write=other.toml"]);
    assert_eq!(named.status.code(), Some(0), "{}", complaint(&named));
    assert_eq!(
        std::fs::read_to_string(dir.path().join("other.toml")).ok(),
        Some(new)
    );
}

/// A pipe can be read only once: the new file still has the comments of the old one.
#[cfg(unix)]
#[test]
fn a_rig_from_a_pipe_keeps_its_comments() {
    let dir = folder();
    write(dir.path(), "rig.toml", halfturn_engine::rig::DEMO_RIG);
    write(dir.path(), "targets.csv", "name,position_angle_deg\nA,0\n");
    let rig = std::fs::File::open(dir.path().join("rig.toml")).expect("the rig");
    std::process::Command::new(crate::binary::program())
        .current_dir(dir.path())
        .args([
            "advise",
            "/dev/stdin",
            "targets.csv",
            "--trials",
            "500",
            "--write=new.toml",
        ])
        .stdin(rig)
        .output()
        .expect("the program runs");
    let new = std::fs::read_to_string(dir.path().join("new.toml")).expect("the new file");
    assert!(new.contains("# A small refractor on a pier"), "{new}");
    assert!(new.contains("name = \"travel refractor\""), "{new}");
}

/// Shows (README): `advise --check` proves an advice again. Source: none: internal consistency.
/// Shows (advice 7): a certificate is proved again; another rig or list is named. With:
/// `a_broken_certificate_is_an_error_with_its_place`. Source: none: own rule.
#[test]
fn a_certificate_is_proved_again_and_fails_when_the_rig_got_worse() {
    let dir = folder();
    assert!(halfturn(dir.path(), &["init", "."]).status.success());
    let made = advise(dir.path(), &["rig.toml", "targets.csv", "--write"]);
    assert_eq!(made.status.code(), Some(0), "{}", complaint(&made));
    let certificate = "halfturn-report/advice.toml";
    let check = |more: &[&str]| {
        halfturn(
            dir.path(),
            &[&["advise", "--quiet", "--check", certificate], more].concat(),
        )
    };

    let same = check(&[]);
    assert_eq!(same.status.code(), Some(0), "{}", text(&same));
    assert!(text(&same).contains("The rig is as it was. The proof puts in"));
    assert!(text(&same).contains("The advice holds."));
    let merged = check(&["rig.advised.toml"]);
    assert_eq!(merged.status.code(), Some(0), "{}", text(&merged));
    assert!(text(&merged).contains("with the advised changes"));
    assert_eq!(check(&["--seed", "99"]).status.code(), Some(0));

    // The solver became so noisy that the loop no longer settles in time.
    let noisy = check(&["--set", "solve.noise_deg=0.3"]);
    assert_eq!(noisy.status.code(), Some(1), "{}", text(&noisy));
    let said = text(&noisy);
    assert!(
        said.contains("The rig has changed since: solve.noise_deg from 0.02 to 0.3"),
        "{said}"
    );
    assert!(said.contains("at risk, late in 3"), "{said}");
    assert!(said.contains("The advice no longer holds."), "{said}");

    // Another list.
    write(dir.path(), "other.csv", "name,position_angle_deg\nNew,40\n");
    let other = check(&["rig.toml", "other.csv", "--json", "-"]);
    assert_eq!(other.status.code(), Some(0), "{}", text(&other));
    let said = json(&other);
    assert_eq!(said["same_targets"], false);
    assert_eq!(said["setting"]["targets"].as_array().map(Vec::len), Some(1));
    assert_eq!(
        (&said["rig"], &said["holds"]),
        (&"as-it-was".into(), &true.into())
    );

    // A wider tolerance than the frame bears.
    let wide = check(&["--set", "loop.tolerance_deg=3"]);
    assert_eq!(wide.status.code(), Some(1));
    assert!(text(&wide).contains("The tolerance of 3° is more than"));
}

#[test]
fn a_broken_certificate_is_an_error_with_its_place() {
    let dir = folder();
    let made = advise(dir.path(), &[]);
    assert_eq!(made.status.code(), Some(0), "{}", complaint(&made));
    let good = std::fs::read_to_string(dir.path().join("halfturn-report/advice.toml")).expect("it");
    let table = [
        ("trials = 4000", "trials = 0", "trials = 0: must be above 0"),
        (
            "format = 1",
            "format = 9",
            "format = 9: this program reads format 1. A newer version made this file",
        ),
        ("format = 1", "format = 0", "format = 0: must be 1"),
        ("seed = \"1\"", "seed = \"x\"", "broken.toml:16: "),
        (
            "tail = 0.001",
            "tail = 2.0",
            "limits.tail: is out of its range",
        ),
        ("holds = true", "holes = true", "unknown field"),
        (
            "arc_start_deg = 277.0",
            "arc_start = 277.0",
            "wrap.arc_start = 277.0: unknown key",
        ),
        (
            "arc_start_deg = 277.0",
            "arc_start_deg = nan",
            "error: broken.toml: [change]: wrap.arc_start_deg = nan: must be",
        ),
        // A value that looks like a part of the message.
        (
            "arc_start_deg = 277.0",
            "arc_start_deg = \"a: b\"",
            "error: broken.toml: [change]: wrap.arc_start_deg = \"a: b\": must be",
        ),
    ];
    for (from, to, says) in table {
        assert!(good.contains(from), "{from}");
        write(dir.path(), "broken.toml", &good.replacen(from, to, 1));
        let out = halfturn(dir.path(), &["advise", "--check", "broken.toml"]);
        assert_eq!(out.status.code(), Some(2), "{to}");
        assert!(complaint(&out).contains(says), "{to}: {}", complaint(&out));
    }
    // Its own seed, unless the user gives one, be it that of the program.
    write(
        dir.path(),
        "five.toml",
        &good.replacen("seed = \"1\"", "seed = \"5\"", 1),
    );
    for (given, seed) in [(&[][..], 5), (&["--seed", "1"], 1)] {
        let check = ["advise", "--check", "five.toml", "--json", "-"];
        let out = halfturn(dir.path(), &[&check, given].concat());
        assert_eq!(json(&out)["seed"], seed);
    }
    let out = halfturn(dir.path(), &["advise", "--check", "nowhere.toml"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(complaint(&out).contains("nowhere.toml: cannot be read"));
}

/// With symmetry 1 a flip needs the drive half a turn on.
/// Shows (advice 3): `--flips` puts every target into the list at 180° more, for the other side of the pier. Source:
/// common practice, no published source.
#[test]
fn flips_double_the_list() {
    let dir = folder();
    write(
        dir.path(),
        "t.csv",
        "name,position_angle_deg\nA,30\nB,100\n",
    );
    let rig = "[wrap]\nsymmetry = 1\nrule = \"full-circle\"\n[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 370\n";
    write(dir.path(), "rig.toml", rig);
    let out = advise(dir.path(), &["rig.toml", "t.csv", "--flips", "--json", "-"]);
    let found = json(&out);
    let targets = found["before"]["targets"].as_array().expect("targets");
    let angles: Vec<(&str, f64)> = targets
        .iter()
        .map(|t| {
            (
                t["name"].as_str().unwrap_or(""),
                t["drive_deg"].as_f64().unwrap_or(-1.0),
            )
        })
        .collect();
    assert_eq!(
        angles,
        [
            ("A", 30.0),
            ("A (flipped)", 210.0),
            ("B", 100.0),
            ("B (flipped)", 280.0)
        ]
    );
    let check = [
        "advise",
        "--check",
        "halfturn-report/advice.toml",
        "--quiet",
    ];
    let again = halfturn(dir.path(), &check);
    assert!(
        text(&again).contains("The list is the same: 4 targets."),
        "{}",
        text(&again)
    );
}

/// Shows (advice 2, credibility): an empty window ranks what to improve: halving each error. With:
/// `crates/engine/src/advise/source.rs::every_source_is_gone_when_it_is_taken_away`. Source: none: internal
/// consistency.
#[test]
fn an_empty_window_says_what_to_improve() {
    let dir = folder();
    let options = ["--max-corner-px", "2", "--json", "-"];
    let found = json(&advise(dir.path(), &options));
    let window = &found["plan"]["window"];
    assert_eq!(window["empty"], true);
    let best = &window["improvements"][0];
    let sentence = window["sentence"].as_str().expect("a sentence");
    let what = best["what"].as_str().expect("an error");
    assert!(
        sentence.contains(&format!("Improve the {} first", what.replace('-', " "))),
        "{sentence}"
    );
    let ratios: Vec<f64> = window["improvements"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|i| i["ratio"].as_f64())
        .collect();
    assert!(
        ratios.is_sorted() && ratios.iter().all(|r| *r < 1.0),
        "{ratios:?}"
    );
    assert_eq!(found["plan"]["holds"], false);
    let page = std::fs::read_to_string(dir.path().join("halfturn-report/report.html")).expect("it");
    assert!(page.contains("No tolerance serves: "));
}

#[test]
fn wrong_wishes_are_refused() {
    let dir = folder();
    for (option, value) in [
        ("--max-solves", "0"),
        ("--settle-chance", "1"),
        ("--tail-probability", "0"),
        ("--max-lost-area", "nan"),
        ("--min-overlap", "-1"),
        ("--max-corner-px", "inf"),
        ("--flats-within", "91"),
    ] {
        let out = halfturn(dir.path(), &["advise", &format!("{option}={value}")]);
        assert_eq!(out.status.code(), Some(2), "{option} {value}");
        assert!(complaint(&out).contains(option), "{}", complaint(&out));
    }
    // What a certificate says itself, and what has no effect on a check.
    for (option, value) in [
        ("--trials", "5"),
        ("--tail-probability", "0.01"),
        ("--settle-chance", "0.9"),
        ("--out", "x"),
        ("--draws", "5"),
        ("--min-share", "0.5"),
    ] {
        let both = ["advise", "--check", "a.toml", option, value];
        let both = halfturn(dir.path(), &both);
        assert_eq!(both.status.code(), Some(2));
        let told = format!("'{option} <");
        assert!(complaint(&both).contains(&told), "{}", complaint(&both));
    }
    assert!(!dir.path().join("halfturn-report").exists());
}
