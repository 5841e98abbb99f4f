//! Wrong input gets one clear error: file, line, key, value, what is allowed.

use halfturn::rig::read;
use halfturn::scenario::read_targets;
use proptest::prelude::*;

fn rig_error(text: &str, overrides: &[&str]) -> String {
    let overrides: Vec<String> = overrides.iter().map(|s| (*s).to_owned()).collect();
    match read(text, "rig.toml", &overrides) {
        Ok(_) => panic!("accepted: {text} {overrides:?}"),
        Err(error) => error.to_string(),
    }
}

fn targets_error(text: &str) -> String {
    match read_targets(text, "targets.csv") {
        Ok(_) => panic!("accepted: {text}"),
        Err(error) => error.to_string(),
    }
}

#[test]
fn a_rig_error_names_file_line_key_value_and_range() {
    let table = [
        (
            "format = 1\n[drive]\nspeed_deg_per_s = -3\n",
            "rig.toml:3: drive.speed_deg_per_s = -3: must be a number above 0, up to 10000 deg/s",
        ),
        (
            "[drive]\nstep_deg = nan\n",
            "rig.toml:2: drive.step_deg = nan: must be a number from 0 to 45 deg",
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
            "rig.toml:2: loop.tolerance_deg = 0: must be a number above 0, up to 180 deg",
        ),
        (
            "[drive]\nsense = 0",
            "rig.toml:2: drive.sense = 0: must be 1 or -1",
        ),
        (
            "[drive]\nstep_deg = \"0.1\"",
            "rig.toml:2: drive.step_deg = \"0.1\": must be a number from 0 to 45 deg",
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
            "rig.toml:3: drive.step = 0.1: unknown key; did you mean drive.step_deg?",
        ),
        (
            "colour = 1",
            "rig.toml:1: colour = 1: unknown key; `halfturn init` writes a file with all keys",
        ),
        (
            "drive = 5",
            "rig.toml:1: drive = 5: must be a table of keys",
        ),
        (
            "format = 2",
            "rig.toml:1: format = 2: this program reads format 1: the file was made for a newer one",
        ),
        (
            "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0",
            "rig.toml: drive.stop_to_deg: is missing: it is needed where drive.travel is \"stops\"",
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
            "[loop]\nmax_solves = 2\nconfirm = 3",
            "rig.toml:3: loop.confirm = 3: must not be above loop.max_solves (2)",
        ),
        (
            "[[keep_out]]\nfrom_deg = 10.0\nto_deg = 10.0",
            "rig.toml:3: keep_out.0.to_deg = 10: must be above from_deg (10), or below it to cross 0",
        ),
        (
            "[[keep_out]]\nfrom_deg = 10.0",
            "rig.toml:1: keep_out.0.to_deg: is missing: it has no default",
        ),
        (
            "[drive]\nperiodic = [\n  { cycles = 1, amplitude_deg = 0.1 },\n  { cycles = 0, amplitude_deg = 0.1 },\n]",
            "rig.toml:4: drive.periodic.1.cycles = 0: must be a number above 0, up to 1000 1/turn",
        ),
        (
            "[framing]\npixel_um = 3.0",
            "rig.toml:1: framing.sensor_width_mm: is missing: it has no default",
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

#[test]
fn an_override_is_checked_like_the_file() {
    let table = [
        (
            "loop.tolerance_deg",
            "--set loop.tolerance_deg: must be KEY=VALUE, such as loop.tolerance_deg=0.3",
        ),
        (
            "loop.tolerance=1",
            "--set loop.tolerance=1: loop.tolerance = 1: unknown key; did you mean loop.tolerance_deg?",
        ),
        (
            "drive.periodic.0.cycles=1",
            "--set drive.periodic.0.cycles=1: drive.periodic.0.cycles = 1: the rig has no drive.periodic entry",
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
    // Fits the file, not together with the rest of it.
    assert_eq!(
        rig_error("[loop]\nmax_solves = 2\n", &["loop.confirm=5"]),
        "--set loop.confirm=5: loop.confirm = 5: must not be above loop.max_solves (2)"
    );
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
        Ok(halfturn::rig::Rule::FoldOnce)
    );
}

#[test]
fn a_targets_error_names_file_line_column_and_value() {
    let range = "must be a number from -360000 to 360000, with a decimal point";
    let table = [
        ("", "targets.csv: name: this column is missing".replace("csv: ", "csv:1: ")),
        ("name,position_angle_deg\n", "targets.csv: there is no target: it needs a header line and at least one row".to_owned()),
        ("name,pa\nA,1\n", "targets.csv:1: pa: unknown column; allowed are name, position_angle_deg, ra_deg, dec_deg, ra, dec, minutes".to_owned()),
        ("name,position_angle_deg\nA,nan\n", format!("targets.csv:2: position_angle_deg = \"nan\": {range}")),
        ("name,position_angle_deg\nA,1e9\n", format!("targets.csv:2: position_angle_deg = \"1e9\": {range}")),
        ("name,position_angle_deg\n# skip\n\nA,\n", "targets.csv:4: position_angle_deg: must not be empty".to_owned()),
        ("name,position_angle_deg\n,1\n", "targets.csv:2: name: must not be empty".to_owned()),
        ("name,position_angle_deg\nA,1\n# x\nB,2\nA,3\n", "targets.csv:5: name = \"A\": is used twice (first in line 2): every target needs its own name".to_owned()),
        ("name,position_angle_deg\nA,1,2\n", "targets.csv:2: this row has 3 columns, the header has 2".to_owned()),
        ("name,position_angle_deg,dec_deg\nA,1,91\n", "targets.csv:2: dec_deg = \"91\": must be a number from -90 to 90, with a decimal point".to_owned()),
        ("name,position_angle_deg,ra\nA,1,25:00:00\n", "targets.csv:2: ra = \"25:00:00\": must be like 05:34:31.9 or 5h34m31.9s, from 0 to 24".to_owned()),
    ];
    for (text, expected) in table {
        assert_eq!(targets_error(text), expected);
    }
}

#[test]
fn targets_are_read_as_spreadsheets_write_them() {
    let text = "\u{feff}# a comment\r\nminutes,position_angle_deg,name,ra,dec\r\n30,-0.5,\"M 81, M 82\",09:55:44,+69:22:00\r\n,720.25,Déjà,5h34m30s,-00:30\r\n";
    let targets = read_targets(text, "t.csv").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(targets[0].name, "M 81, M 82");
    assert_eq!(targets[0].minutes, Some(30.0));
    assert_eq!(targets[0].position_angle_deg, -0.5);
    assert_eq!(targets[1].dec_deg, Some(-0.5));
    assert_eq!(targets[1].ra_deg, Some(83.625));
    assert_eq!(targets[1].minutes, None);
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
