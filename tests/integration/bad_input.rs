//! A wrong rig or override gets one clear error: file, line, key, value, what is allowed.

use halfturn_engine::rig::{KeepOut, read};
use halfturn_engine::scenario::read_targets;
use proptest::prelude::*;

use crate::rigs::{perfect, tallied, traced};

fn rig_error(text: &str, overrides: &[&str]) -> String {
    let overrides: Vec<String> = overrides.iter().map(|s| (*s).to_owned()).collect();
    match read(text, "rig.toml", &overrides) {
        Ok(_) => panic!("accepted: {text} {overrides:?}"),
        Err(error) => error.to_string(),
    }
}

/// Shows (files): unknown keys, wrong types, values out of range: the error has file, line, key, value, range. With:
/// `what_is_not_toml_names_its_line`. Source: none: own rule.
#[test]
fn a_rig_error_names_file_line_key_value_and_range() {
    let table = [
        (
            "format = 1\n[drive]\nspeed_deg_per_s = -3\n",
            "rig.toml:3: drive.speed_deg_per_s = -3: must be a number from 0.001 to 10000 deg/s",
        ),
        (
            "[drive]\nstep_deg = nan\n",
            "rig.toml:2: drive.step_deg = nan: must be 0, or a number from 0.000001 to 45 deg",
        ),
        (
            "[solve]\nnoise_deg = inf",
            "rig.toml:2: solve.noise_deg = inf: must be a number from 0 to 90 deg",
        ),
        (
            "[loop]\nconfirm = 1.5",
            "rig.toml:2: loop.confirm = 1.5: must be a whole number from 1 to 1000",
        ),
        (
            "[loop]\ntolerance_deg = 0",
            "rig.toml:2: loop.tolerance_deg = 0: must be a number from 0.000001 to 180 deg",
        ),
        (
            "[drive]\nsense = 0",
            "rig.toml:2: drive.sense = 0: must be 1 or -1",
        ),
        (
            "[drive]\nstep_deg = \"0.1\"",
            "rig.toml:2: drive.step_deg = \"0.1\": must be 0, or a number from 0.000001 to 45 deg",
        ),
        (
            "[wrap]\nrule = \"half\"",
            "rig.toml:2: wrap.rule = \"half\": must be one of \"full-circle\", \"half-circle\", \"hysteresis-band\", \"fold-once\"",
        ),
        (
            "[wrap]\nsymmetry = 3",
            "rig.toml:2: wrap.symmetry = 3: must be 1, 2 or 4",
        ),
        (
            "[drive]\n\nstep = 0.1",
            "rig.toml:3: drive.step = 0.1: unknown key. Did you mean drive.step_deg?",
        ),
        (
            "colour = 1",
            "rig.toml:1: colour = 1: unknown key. `halfturn init` writes a file with all keys",
        ),
        (
            "drive = 5",
            "rig.toml:1: drive = 5: must be a table of keys",
        ),
        (
            "format = 2",
            "rig.toml:1: format = 2: this program reads format 1. A newer version made this file: update halfturn",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0",
            "rig.toml:2: drive.stop_to_deg: is missing: drive.travel = \"stops\" needs it",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 80.0\npark_deg = 90.0",
            "rig.toml:5: drive.park_deg = 90: must be between the stops, from 0 to 80 deg",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = -80.0",
            "rig.toml:4: drive.stop_to_deg = -80: must be above drive.stop_from_deg (0)",
        ),
        (
            "[drive]\nstep_deg = 1e-320",
            "rig.toml:2: drive.step_deg = 1e-320: must be 0, or a number from 0.000001 to 45 deg",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 80.0",
            "rig.toml:4: drive.park_deg = 90: must be between the stops, from 0 to 80 deg",
        ),
        (
            "[[keep_out]]\nfrom_deg = 10.0\nto_deg = 10.0",
            "rig.toml:3: keep_out.0.to_deg = 10: must be above from_deg (10), or below it to cross 0. To keep out everywhere use from_deg + 360",
        ),
        (
            "[[keep_out]]\nfrom_deg = 370.0\nto_deg = 10.0",
            "rig.toml:3: keep_out.0.to_deg = 10: must be above from_deg (370), or below it to cross 0. To keep out everywhere use from_deg + 360",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\nstop_to_deg = 360\n[[keep_out]]\nfrom_deg = 350.0\nto_deg = 10.0",
            "rig.toml:7: keep_out.0.to_deg = 10: must be above from_deg (350) between stops",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\nstop_to_deg = 360\n[[keep_out]]\nfrom_deg = 10.0\nto_deg = 10.0",
            "rig.toml:7: keep_out.0.to_deg = 10: must be above from_deg (10) between stops",
        ),
        (
            "\"loop.tolerance_deg\" = 0.3",
            "rig.toml:1: \"loop.tolerance_deg\" = 0.3: unknown key. Did you mean loop.tolerance_deg?",
        ),
        (
            "[drive]\nperiodic = [\n  { cycles = 1, amplitude_deg = 0.1 },\n  { cycles = 1, amplitude = 0.1 },\n]",
            "rig.toml:4: drive.periodic.1.amplitude = 0.1: unknown key. Did you mean drive.periodic.1.amplitude_deg?",
        ),
        (
            "[framing]\n",
            "rig.toml:1: framing.sensor_width_mm: is missing, and so is sensor_height_mm, focal_length_mm, pixel_um: they have no default",
        ),
        (
            "name = \"gnp\\u202Egpj\"",
            "rig.toml:1: name = \"gnp\\u{202e}gpj\": must be a text of one line, at most 200 characters, without control characters",
        ),
        (
            "[[keep_out]]\nfrom_deg = 10.0",
            "rig.toml:1: keep_out.0.to_deg: is missing: it has no default",
        ),
        (
            "[drive]\nperiodic = [\n  { cycles = 1, amplitude_deg = 0.1 },\n  { cycles = 0, amplitude_deg = 0.1 },\n]",
            "rig.toml:4: drive.periodic.1.cycles = 0: must be a number from 0.001 to 1000 1/turn",
        ),
        (
            "[framing]\npixel_um = 3.0",
            "rig.toml:1: framing.sensor_width_mm: is missing, and so is sensor_height_mm, focal_length_mm: they have no default",
        ),
    ];
    for (text, expected) in table {
        assert_eq!(rig_error(text, &[]), expected);
    }
}

#[test]
fn what_is_not_toml_names_its_line() {
    let error = rig_error("format = 1\n[drive\n", &[]);
    assert!(error.starts_with("rig.toml:2: not valid TOML: "), "{error}");
    let error = rig_error("[drive]\nstep_deg = 1\nstep_deg = 2\n", &[]);
    assert!(error.starts_with("rig.toml:3: not valid TOML: "), "{error}");
}

/// Shows (README): any key can be tried with `--set`. With: `overrides_reach_into_lists`. Source: none: own rule.
#[test]
fn an_override_is_checked_like_the_file() {
    let table = [
        (
            "loop.tolerance_deg",
            "--set loop.tolerance_deg: must be KEY=VALUE, such as loop.tolerance_deg=0.3",
        ),
        (
            "loop.tolerance=1",
            "--set loop.tolerance=1: loop.tolerance = 1: unknown key. Did you mean loop.tolerance_deg?",
        ),
        (
            "drive.periodic.0.cycles=1",
            "--set drive.periodic.0.cycles=1: drive.periodic.0.cycles = 1: the rig has no drive.periodic entry",
        ),
        (
            "drive.periodic.*.cycles=1",
            "--set drive.periodic.*.cycles=1: drive.periodic.*.cycles = 1: unknown key. Did you mean drive.periodic.0.cycles?",
        ),
        (
            "framing={}",
            "--set framing={}: framing.sensor_width_mm: is missing, and so is sensor_height_mm, focal_length_mm, pixel_um: they have no default",
        ),
        (
            "framing.pixel_um=3",
            "--set framing.pixel_um=3: framing.sensor_width_mm: is missing, and so is sensor_height_mm, focal_length_mm: they have no default",
        ),
        (
            "name=a\u{1b}[2J",
            "--set name=a\\u{1b}[2J: name = \"a\\u001B[2J\": must be a text of one line, at most 200 characters, without control characters",
        ),
        (
            "solve.noise_deg=x",
            "--set solve.noise_deg=x: solve.noise_deg = \"x\": must be a number from 0 to 90 deg",
        ),
        (
            "solve.noise_deg=",
            "--set solve.noise_deg=: solve.noise_deg = \"\": must be a number from 0 to 90 deg",
        ),
    ];
    for (given, expected) in table {
        assert_eq!(rig_error("", &[given]), expected);
    }
    // Each fits the other's absence; the override is to blame, whichever key it is.
    let file = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\nstop_to_deg = 360\npark_deg = 90\n";
    let problem = "drive.park_deg = 90: must be between the stops, from";
    assert_eq!(
        rig_error(file, &["drive.stop_to_deg=80"]),
        format!("--set drive.stop_to_deg=80: {problem} 0 to 80 deg")
    );
    assert_eq!(
        rig_error(
            file,
            &["drive.stop_to_deg=500", "drive.stop_from_deg=100", "name=x"]
        ),
        format!("--set drive.stop_from_deg=100: {problem} 100 to 500 deg")
    );
    assert_eq!(
        rig_error("", &["drive.travel=stops"]),
        "--set drive.travel=stops: drive.stop_from_deg: is missing: drive.travel = \"stops\" needs it"
    );
}

#[test]
fn an_index_has_one_form() {
    let text = "[drive]\nperiodic = [{cycles = 1, amplitude_deg = 0.1}]\n";
    for index in ["00", "+0", "-0", "*", "0x0", " 0"] {
        let error = rig_error(text, &[&format!("drive.periodic.{index}.cycles=2")]);
        assert!(
            error.contains("unknown key. Did you mean drive.periodic."),
            "{error}"
        );
    }
}

#[test]
fn a_number_may_lack_its_zero_on_the_command_line() {
    let with = |set: &str| read("", "rig.toml", &[set.to_owned()]);
    let tolerance = with("loop.tolerance_deg=.3").map(|r| r.settings().loop_.tolerance_deg);
    assert_eq!(tolerance, Ok(0.3));
    let bias = with("solve.bias_deg=-.25").map(|r| r.settings().solve.bias_deg);
    assert_eq!(bias, Ok(-0.25));
    // A name is a text, not a number with a zero missing.
    let name = with("name=.3").map(|r| r.settings().name.clone());
    assert_eq!(name.as_deref(), Ok(".3"));
}

/// Shows (files): more passes than solves, and an overrun below the backlash, are permitted, with a warning. With:
/// `backlash::an_overrun_below_the_play_defeats_itself_and_warns`. Source: none: own rule.
#[test]
fn confirming_more_often_than_solving_is_a_warning() {
    let rig = read("[loop]\nmax_solves = 2\nconfirm = 3", "rig.toml", &[]);
    let warnings: Vec<String> = rig
        .map(|r| r.warnings().iter().map(ToString::to_string).collect())
        .unwrap_or_default();
    assert_eq!(
        warnings,
        [
            "loop.confirm: 3 passes need more than loop.max_solves = 2 solves, so no run settles. Lower the one or raise the other"
        ]
    );
    let tally = tallied(
        &perfect(&["loop.max_solves=2", "loop.confirm=3"]),
        90.0,
        50,
        1,
    );
    assert_eq!(tally.unsettled, 50);
}

/// Half a step off at most: a tolerance from there on reaches every angle (by hand).
#[test]
fn a_step_of_more_than_two_tolerances_is_a_warning() {
    let warned = |step_deg: &str| {
        let rig = perfect(&[
            "loop.tolerance_deg=0.2",
            &format!("drive.step_deg={step_deg}"),
        ]);
        rig.warnings().iter().any(|w| w.key == "loop.tolerance_deg")
    };
    assert_eq!(["0.4", "0.41"].map(warned), [false, true]);
}

#[test]
fn a_whole_turn_upwards_keeps_out_everywhere() {
    let rig = perfect(&["keep_out=[{from_deg=10, to_deg=370}]"]);
    let (figures, _) = traced(&rig, 30.0);
    assert_eq!(
        (figures.travel_deg, figures.keep_out_deg),
        (60.0, 60.0),
        "park 90, target 30"
    );
}

/// Reading is linear in the length of the file, and lists have an end.
#[test]
fn long_lists_are_refused_at_once() {
    let mut text = String::new();
    for _ in 0..40_000 {
        text.push_str("[[keep_out]]\nfrom_deg = 1\nto_deg = 2\n");
    }
    let begun = std::time::Instant::now();
    assert_eq!(
        rig_error(&text, &[]),
        "rig.toml:1: keep_out = […]: has 40000 entries, but may have at most 1000"
    );
    // A second is plenty; counting lines anew for each key took the better part of a minute.
    assert!(begun.elapsed().as_secs() < 10);
    let periodic = "{cycles=1,amplitude_deg=0},".repeat(1001);
    let error = rig_error("", &[&format!("drive.periodic=[{periodic}]")]);
    assert!(
        error.ends_with("has 1001 entries, but may have at most 1000"),
        "{error}"
    );
    let many = vec![
        KeepOut {
            from_deg: 1.0,
            to_deg: 2.0,
            why: String::new(),
            when: halfturn_engine::rig::When::default(),
        };
        1001
    ];
    let built = perfect(&[]).with(|s| s.keep_out = many);
    assert!(built.is_err(), "a rig built in code has the same end");
}

/// Shows (files): overrides: order, lists, indices, numbers. With: `an_override_is_checked_like_the_file`,
/// `overrides_reach_into_lists`, `an_index_has_one_form`, `a_number_may_lack_its_zero_on_the_command_line`. Source:
/// none: own rule.
#[test]
fn the_last_override_of_a_key_counts() {
    for (given, expected) in [(["0.2", "0.7"], 0.7), (["0.7", "0.2"], 0.2)] {
        let set = given.map(|value| format!("loop.tolerance_deg={value}"));
        let rig = read("loop.tolerance_deg = 0.5\n", "rig.toml", &set);
        let found = rig.map(|r| r.settings().loop_.tolerance_deg);
        assert_eq!(found, Ok(expected), "{set:?}");
    }
}

#[test]
fn overrides_reach_into_lists() {
    let text = "[drive]\nperiodic = [{cycles = 1, amplitude_deg = 0.1}]\n";
    let set = |s: &str| read(text, "rig.toml", &[s.to_owned()]);
    let amplitude = set("drive.periodic.0.amplitude_deg=0.2")
        .map(|r| r.settings().drive.periodic[0].amplitude_deg);
    assert_eq!(amplitude, Ok(0.2));
    assert_eq!(
        set("drive.periodic=[]").map(|r| r.settings().drive.periodic.len()),
        Ok(0)
    );
    assert_eq!(
        set("wrap.rule=fold-once").map(|r| r.settings().wrap.rule),
        Ok(halfturn_engine::rig::Rule::FoldOnce)
    );
}

proptest! {
    /// Any text at all is answered, without a panic.
    #[test]
    fn any_text_gets_an_answer(text in "\\PC{0,200}", line in "[a-z_.\\[\\]= 0-9\"-]{0,60}") {
        let _ = read(&text, "x", &[]);
        let _ = read(&format!("[drive]\n{line}\n"), "x", &[]);
        let _ = read("", "x", &[line]);
        let _ = read_targets(&text, "x");
        let _ = read_targets(&format!("name,position_angle_deg\n{text}"), "x");
    }
}

/// `when` of a keep-out: what it may be, where it is refused, and that it comes back from a file that the program writes.
#[test]
fn the_condition_of_a_keep_out_is_read_and_written() {
    let text = "[[keep_out]]\nfrom_deg = 1\nto_deg = 2\n";
    let when = |line: &str| read(&format!("{text}{line}\n"), "rig.toml", &[]);
    let good =
        when("when = { hour_angle_h = [10, -10.5], altitude_deg = [60, 90] }").expect("a rig");
    let held = good.settings().keep_out[0].when;
    assert_eq!(held.hour_angle_h, Some([10.0, -10.5]));
    assert!(held.holds(11.0, 75.0) && held.holds(-11.0, 60.0));
    assert!(!held.holds(0.0, 75.0) && !held.holds(11.0, 59.9));
    let back = read(&halfturn_engine::rig::commented(&good), "written", &[]).expect("a rig");
    assert_eq!(back, good);
    // Without a condition the digest is what it was before there were any.
    let plain = when("").expect("a rig");
    assert!(
        plain
            .key_values()
            .iter()
            .all(|(key, _)| !key.contains("when"))
    );
    assert_ne!(plain.digest(), good.digest());
    for (line, says) in [
        (
            "when = 3",
            "rig.toml:4: keep_out.0.when = 3: must be a table of keys",
        ),
        (
            "when = { hour = [1, 2] }",
            "keep_out.0.when.hour = […]: unknown key. Did you mean keep_out.0.when.hour_angle_h?",
        ),
        (
            "when = { hour_angle_h = 1 }",
            "keep_out.0.when.hour_angle_h = 1: must be a list of two numbers from -12 to 12 h",
        ),
        (
            "when = { hour_angle_h = [1, 2, 3] }",
            "must be a list of two numbers",
        ),
        (
            "when = { hour_angle_h = [1, nan] }",
            "must be a list of two numbers",
        ),
        ("when = { altitude_deg = [0, 91] }", "from -90 to 90 deg"),
        (
            "when = { altitude_deg = [50, 40] }",
            "keep_out.0.when.altitude_deg = [50, 40]: the second must not be below the first",
        ),
    ] {
        let error = when(line).expect_err(line).to_string();
        assert!(error.contains(says), "{says}: {error}");
    }
    let absent = read(
        text,
        "rig.toml",
        &["keep_out.1.when={altitude_deg=[1,2]}".to_owned()],
    );
    assert!(
        absent
            .expect_err("no such entry")
            .to_string()
            .contains("1 keep_out entries")
    );
}
