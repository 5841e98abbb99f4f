//! Wrong input and wrong paths: exit code 2, at once, and nothing is written or lost.

use crate::binary::{complaint, folder, halfturn, names, write};

#[cfg(unix)]
mod unix;

/// So many runs that a command which begins them does not come back: paths are checked before.
const MANY: &str = "1000000000000";

#[test]
fn a_precision_that_is_not_reached_is_told() {
    let dir = folder();
    let until = ["batch", "--target", "0", "--trials", "500", "--half-width"];
    let out = halfturn(dir.path(), &[&until[..], &["0.001"]].concat());
    assert_eq!(out.status.code(), Some(0));
    let told = "--half-width 0.001: 500 runs were too few for 4 of 4 rules";
    assert!(complaint(&out).contains(told), "{}", complaint(&out));
    let out = halfturn(dir.path(), &[&until[..], &["0.2"]].concat());
    assert_eq!(complaint(&out), "");
}

/// A sweep looks at its paths before any work, too, and spares its inputs even with --force.
#[test]
fn a_sweep_spares_its_inputs_and_fails_early() {
    let dir = folder();
    write(dir.path(), "rig.toml", "format = 1\n");
    let vary = [
        "sweep",
        "rig.toml",
        "--vary",
        "target=0:1:2",
        "--trials",
        MANY,
    ];
    let cases: [(&[&str], &str); 4] = [
        (
            &["--out", "rig.toml", "--force"],
            "rig.toml: is an input of this command",
        ),
        (&["--plot", "no/x.svg"], "no/x.svg: cannot be written"),
        (&["--json", "no/x.json"], "no/x.json: cannot be written"),
        (
            &["--json", "rig.toml"],
            "rig.toml: is an input of this command",
        ),
    ];
    for (more, message) in cases {
        let out = halfturn(dir.path(), &[&vary[..], more].concat());
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        assert!(complaint(&out).contains(message), "{}", complaint(&out));
        assert_eq!(names(dir.path()), ["rig.toml"]);
    }
}

#[test]
fn wrong_input_exits_with_2_and_writes_nothing() {
    let dir = folder();
    write(dir.path(), "bad.toml", "[drive]\nspeed_deg_per_s = -3\n");
    write(dir.path(), "good.toml", "format = 1\n");
    write(dir.path(), "empty.csv", "name,position_angle_deg\n");
    std::fs::create_dir(dir.path().join("nest")).expect("a folder can be made");
    let cases: &[(&[&str], &str)] = &[
        (
            &["advise", "bad.toml"],
            "bad.toml:2: drive.speed_deg_per_s = -3",
        ),
        (
            &["advise", "good.toml", "empty.csv"],
            "empty.csv: holds no target",
        ),
        (&["advise", "missing.toml"], "missing.toml: cannot be read"),
        (
            &["advise", "--set", "loop.tolerance_deg=-1"],
            "loop.tolerance_deg = -1",
        ),
        (&["advise", "--trials", "0"], "--trials"),
        (&["advise", "--threads", "0"], "--threads"),
        (&["advise", "--max-fault", "nan"], "--max-fault"),
        (&["batch", "--target", "nan"], "--target"),
        (&["batch", "--target", "inf"], "--target"),
        (
            &["batch", "--target", "0", "--rules", "half"],
            "must be one of full-circle",
        ),
        (&["batch", "--target", "0", "--seed", "-1"], "'-1'"),
        (
            &["vectors", "--seed", "4"],
            "--seed: vectors has no random numbers",
        ),
        (
            &["vectors", "--threads", "2"],
            "--threads: vectors needs one thread only",
        ),
        (&["trace"], "--target"),
        (
            &[
                "trace",
                "--target",
                "90",
                "--hunting",
                "--set",
                "loop.tolerance_deg=5",
            ],
            "hunts",
        ),
        (
            &["trace", "--target", "0", "--plot", "x.gif"],
            "x.gif: the name of a picture must end in .svg or .png",
        ),
        (
            &["advise", "--trials", MANY, "--out", "good.toml"],
            "error: good.toml: cannot be written: it is a file, not a folder",
        ),
        (
            &["advise", "--trials", MANY, "--out", "good.toml/x"],
            "error: good.toml/x: cannot be written: ",
        ),
        (
            &["advise", "--trials", MANY, "--json", "nest"],
            "error: nest: cannot be written: it is a folder, not a file",
        ),
        (
            &[
                "batch",
                "--target",
                "0",
                "--trials",
                MANY,
                "--json",
                "good.toml/x",
            ],
            "error: good.toml/x: cannot be written: its folder is a file",
        ),
        (
            &[
                "batch",
                "--target",
                "0",
                "--trials",
                MANY,
                "--out",
                "good.toml",
            ],
            "error: good.toml: cannot be written: it is a file, not a folder",
        ),
        (
            &["trace", "--target", "0", "--plot", "nodir/x.svg"],
            "error: nodir/x.svg: cannot be written: its folder does not exist",
        ),
        (
            &["man", "--out", "good.toml"],
            "error: good.toml: cannot be written: it is a file, not a folder",
        ),
        (
            &["init", "good.toml"],
            "error: good.toml: cannot be written: it is a file, not a folder",
        ),
        (
            &[
                "batch",
                "--target",
                "0",
                "--trials",
                MANY,
                "--json",
                "no/such/folder/x.json",
            ],
            "error: no/such/folder/x.json: cannot be written: its folder does not exist",
        ),
        (&["nonsense"], "nonsense"),
    ];
    for (args, message) in cases {
        let out = halfturn(dir.path(), args);
        let stderr = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {stderr}");
        assert!(stderr.contains(message), "{args:?}: {stderr}");
        assert!(out.stdout.is_empty(), "{args:?}");
    }
    assert_eq!(
        names(dir.path()),
        ["bad.toml", "empty.csv", "good.toml", "nest"]
    );
    assert_eq!(names(&dir.path().join("nest")), Vec::<String>::new());
}

/// The report folder holds a `targets.csv`, and so may the folder of the user's own list.
/// Shows (files): outputs are looked at before any work, and spare the inputs. With:
/// `wrong_input_exits_with_2_and_writes_nothing`, `all_names_of_a_report_are_guarded`. Source: none: own rule.
#[test]
fn no_output_overwrites_an_input() {
    let dir = folder();
    let list = "name,position_angle_deg\nA,1\n";
    write(dir.path(), "targets.csv", list);
    write(dir.path(), "rig.toml", "format = 1\n");
    let report = dir.path().join("report");
    std::fs::create_dir(&report).expect("a folder can be made");
    std::fs::copy(dir.path().join("rig.toml"), report.join("dial.svg")).expect("a copy");
    let cases: [(&[&str], &str); 6] = [
        (
            &["advise", "rig.toml", "targets.csv", "--out", "."],
            "error: ./targets.csv: is an input of this command, and --out would overwrite it",
        ),
        (
            &[
                "advise",
                "report/dial.svg",
                "targets.csv",
                "--out",
                "report/../report",
            ],
            "report/../report/dial.svg: is an input of this command, and --out",
        ),
        (
            &["advise", "rig.toml", "--json", "./rig.toml"],
            "error: ./rig.toml: is an input of this command, and --json would overwrite it",
        ),
        (
            &["batch", "rig.toml", "--target", "0", "--json", "rig.toml"],
            "--json would overwrite it",
        ),
        (
            &[
                "batch",
                "report/dial.svg",
                "--target",
                "0",
                "--json",
                "report/dial.svg",
            ],
            "--json would overwrite it",
        ),
        (
            &[
                "trace",
                "report/dial.svg",
                "--target",
                "0",
                "--plot",
                "report/dial.svg",
            ],
            "error: report/dial.svg: is an input of this command, and --plot would overwrite it",
        ),
    ];
    for (args, message) in cases {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {}", complaint(&out));
        assert!(complaint(&out).contains(message), "{}", complaint(&out));
    }
    let kept = std::fs::read_to_string(dir.path().join("targets.csv"));
    assert_eq!(kept.ok().as_deref(), Some(list));
    assert_eq!(names(dir.path()), ["report", "rig.toml", "targets.csv"]);
    assert_eq!(names(&report), ["dial.svg"]);
}

/// Every file that a report may hold is watched over: a list under that name is not overwritten.
#[test]
fn all_names_of_a_report_are_guarded() {
    let dir = folder();
    let made = halfturn(dir.path(), &["advise", "--trials", "20", "--out", "report"]);
    assert!(made.status.code() != Some(2), "{}", complaint(&made));
    let batch = [
        "batch", "--target", "0", "--trials", "20", "--out", "pictures",
    ];
    assert!(halfturn(dir.path(), &batch).status.success());
    let list = "name,position_angle_deg\nA,1\n";
    for name in names(&dir.path().join("report")) {
        let path = format!("report/{name}");
        write(dir.path(), "rig.toml", "format = 1\n");
        write(dir.path(), &path, list);
        let args = ["advise", "rig.toml", &path, "--out", "report"];
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(2), "{name}: {}", complaint(&out));
    }
    for name in names(&dir.path().join("pictures")) {
        let path = format!("pictures/{name}");
        write(dir.path(), &path, "format = 1\n");
        let args = ["batch", &path, "--target", "0", "--out", "pictures"];
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(2), "{name}: {}", complaint(&out));
    }
}

#[test]
fn json_may_go_into_the_folder_that_is_made() {
    let dir = folder();
    let args = [
        "batch",
        "--target",
        "0",
        "--trials",
        "20",
        "--out",
        "new",
        "--json",
        "new/batch.json",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    assert!(dir.path().join("new/batch.json").is_file());
}

/// The search is bounded by its work, not by its runs alone.
#[test]
fn a_search_in_vain_says_how_far_it_went() {
    let dir = folder();
    let args = [
        "trace",
        "--target",
        "45",
        "--hunting",
        "--set",
        "loop.max_solves=10000",
        "--set",
        "loop.confirm=1000",
        "--set",
        "loop.tolerance_deg=20",
        "--set",
        "solve.failure_rate=0",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(2), "{}", complaint(&out));
    // A thousand passes in a row: a thousand solves for each run.
    assert_eq!(
        complaint(&out).trim_end(),
        "error: none of the first 20 000 runs hunts at this target. The search ends at 1 000 000 runs or 20 000 000 solves"
    );
}

/// Shows (files): `--json` is refused by a command without a result. Source: none: own rule.
#[test]
fn a_command_without_a_result_refuses_json() {
    let dir = folder();
    for command in [
        &["init", "x"][..],
        &["schema", "rig"],
        &["completions", "bash"],
        &["man"],
    ] {
        let out = halfturn(dir.path(), &[command, &["--json", "x.json"]].concat());
        assert_eq!(out.status.code(), Some(2), "{command:?}");
        let expected = format!(
            "error: --json: {} has no result. Leave it out\n",
            command[0]
        );
        assert_eq!(complaint(&out), expected);
        assert!(out.stdout.is_empty() && names(dir.path()).is_empty());
    }
}

/// An option that would do nothing, and a number that is none, are refused with what is allowed.
#[test]
fn an_option_without_effect_is_refused() {
    let dir = folder();
    let field = "sky field-rotation --object M31 --site 47,12 --date 2026-10-14";
    let many = "must be a whole number from 1 to 1000000000000";
    for (line, told) in [
        (
            format!("{field} --pole-error 500,300"),
            "--pole-error: an alt-azimuth mount has no polar axis",
        ),
        (
            "fit log.csv --rehearse made.csv".to_owned(),
            "cannot be used with",
        ),
        ("fit log.csv --from 3".to_owned(), "cannot be used with"),
        (
            "merge c.csv a.csv b.csv --set loop.nonsense=3".to_owned(),
            "--set: merge reads no rig",
        ),
        (
            "vectors --set loop.confirm=1".to_owned(),
            "--set: vectors reads no rig",
        ),
        (
            "sky fits a.fits --set loop.confirm=1".to_owned(),
            "--set: sky fits reads no rig",
        ),
        ("batch --target 0 --trials 1.5".to_owned(), many),
        ("advise --trials -1".to_owned(), many),
        (
            "advise --seed abc".to_owned(),
            "must be a whole number from 0 to 18446744073709551615",
        ),
        (
            "batch --target 0 --threads 0".to_owned(),
            "must be a whole number from 1 to 1024",
        ),
        (
            "fit --plan --accuracy -1".to_owned(),
            "must be a number of degrees from 0.0001 to 10",
        ),
    ] {
        let out = halfturn(dir.path(), &line.split(' ').collect::<Vec<_>>());
        let said = complaint(&out);
        assert_eq!(out.status.code(), Some(2), "{line}: {said}");
        assert!(said.contains(told), "{line}: {said}");
        assert!(names(dir.path()).is_empty(), "{line}");
    }
}
