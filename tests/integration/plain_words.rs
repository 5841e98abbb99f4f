//! Sentences that say what is wrong, and what to do.

use crate::binary::{complaint, folder, halfturn, output, write};

/// What the program says to this command, with a rig and two targets on the seam beside it.
fn said(args: &[&str]) -> String {
    let dir = folder();
    let rig = "format = 1\n[framing]\nsensor_width_mm = 23.5\nsensor_height_mm = 15.7\nfocal_length_mm = 480.0\npixel_um = 3.76\n";
    write(dir.path(), "rig.toml", rig);
    write(
        dir.path(),
        "list.csv",
        "name,position_angle_deg\nf,40\ng,50\n",
    );
    let targets = "name,position_angle_deg,ra_deg,dec_deg,minutes\nf,0.05,10.7,41.3,60\ng,0.06,10.7,41.3,60\n";
    write(dir.path(), "targets.csv", targets);
    let rows = (1..=12).map(|i| format!("{},{}\n", 29 * i, 12.3 + 0.01 * f64::from(i % 3)));
    let log = format!(
        "reading_deg,position_angle_deg\n{}",
        rows.collect::<String>()
    );
    write(dir.path(), "log.csv", &log);
    let out = halfturn(dir.path(), args);
    assert!(
        matches!(out.status.code(), Some(0 | 1)),
        "{}",
        complaint(&out)
    );
    output(&out)
}

/// Shows (fit): a camera that does not turn with the drive is named, alone. Source: by hand.
#[test]
fn a_camera_that_never_turns_is_named() {
    let found = said(&["fit", "log.csv"]);
    assert!(
        found.contains("the camera does not turn with the drive"),
        "{found}"
    );
    assert!(!found.contains("not-identifiable"), "{found}");
}

/// Shows (sky): gaps between panels are said before the verdict. Source: by hand: panels near the pole at one angle.
#[test]
fn gaps_between_panels_are_said() {
    let grid = [
        "sky",
        "panels",
        "rig.toml",
        "--grid",
        "3x2",
        "--common-angle",
    ];
    let found = said(&[&grid[..], &["--center", "10.68,89.9"]].concat());
    assert!(found.starts_with("The panels leave gaps."), "{found}");
    assert!(
        found.contains("neighbours on the sphere: a gap of"),
        "{found}"
    );
    let found = said(&[&grid[..], &["--center", "10.68,41.3"]].concat());
    assert!(!found.contains("gap"), "{found}");
}

/// With 500 nights no share below 0.1 % can be sure (rule of three: 0.6 %).
/// Shows (sky): a night of too few runs says so, and not that no rule is safe. Source: rule of three.
#[test]
fn too_few_nights_are_said() {
    let night = [
        "sky",
        "night",
        "rig.toml",
        "targets.csv",
        "--site",
        "47.32,12.08",
        "--date",
        "2026-10-14",
    ];
    let safe = ["--set", "wrap.arc_start_deg=270", "--quiet"];
    let found = said(&[&night[..], &safe, &["--trials", "500"]].concat());
    assert!(
        found.contains("These nights are too few to find a safe rule."),
        "{found}"
    );
    assert!(found.contains("Use more --trials"), "{found}");
    let found = said(&[&night[..], &safe, &["--trials", "20000"]].concat());
    assert!(found.contains("Best rule"), "{found}");
}

/// Shows (advice): a cable too short for half a turn is named with its cure, and several targets with one reason are
/// named in good grammar. Source: by hand.
#[test]
fn short_cables_and_several_targets_are_said() {
    for (symmetry, limit_deg, cure) in [
        (
            2,
            60,
            "60° is too small for half a turn: make room for 90° either way",
        ),
        (
            1,
            120,
            "120° is too small for a turn: make room for 180° either way",
        ),
        (
            4,
            30,
            "30° is too small for a quarter of a turn: make room for 45° either way",
        ),
    ] {
        let found = said(&[
            "advise",
            "rig.toml",
            "--set",
            &format!("drive.winding_limit_deg={limit_deg}"),
            "--set",
            &format!("wrap.symmetry={symmetry}"),
            "--change",
            "tolerance",
            "--quiet",
        ]);
        let cure = format!("A cable limit of {cure}");
        assert!(found.contains(&cure), "{found}");
        assert!(!found.contains("again every"), "{found}");
    }
    let found = said(&[
        "advise",
        "rig.toml",
        "list.csv",
        "--trials",
        "100",
        "--set",
        "loop.field_rotation_deg_per_s=0.0005",
        "--quiet",
    ]);
    assert!(found.contains("f, like 1 other, is at risk"), "{found}");
}
