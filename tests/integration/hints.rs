//! Messages that say what to do about it, each met by somebody who tried the program as a new user.

use crate::binary::{complaint, folder, halfturn, write};

#[test]
fn likely_mistakes_are_answered_with_what_to_do() {
    let dir = folder();
    assert_eq!(
        halfturn(dir.path(), &["init", "my-rig"]).status.code(),
        Some(0)
    );
    std::fs::create_dir(dir.path().join("empty")).expect("a folder");
    let panels = "name,position_angle_deg,ra_deg,dec_deg\nA,10,83.8,-5.4\n";
    write(dir.path(), "panels.csv", panels);
    let (rig, list) = ("my-rig/rig.toml", "my-rig/targets.csv");
    let night = ["sky", "night", "--site", "47,12", "--date", "2026-10-14"];
    let turning = [
        "sky",
        "field-rotation",
        "--site",
        "47,12",
        "--date",
        "2026-10-14",
    ];
    let cases: [(&[&str], &str); 15] = [
        (
            &["advise", "my-rig"],
            "my-rig: is a folder. Give the file in it: my-rig",
        ),
        (
            &["advise", "empty"],
            "empty: is a folder. Give a file, such as rig.toml",
        ),
        (&["advise", rig, "my-rig"], "targets.csv"),
        (
            &["advise", rig, list, list],
            "is also a name in my-rig/targets.csv. Give each target another name",
        ),
        (
            &["trace", "--target", "12,5"],
            "must be the position angle of one target in degrees, such as 132.5, or its name",
        ),
        (
            &["trace", rig, "--target", "M 31"],
            "or the targets file with that name after the rig file",
        ),
        (
            &["batch", rig, list, "--target", "M 3"],
            "is no name in my-rig/targets.csv, which has",
        ),
        (&["trace", rig, list, "--target", "35"], "is an angle"),
        (
            &["advise", "--any-target", rig, list],
            "cannot be used with",
        ),
        (&["trace", "--target", "1e9"], "from -360000 to 360000"),
        (
            &[&night[..], &["--mount", "altaz"]].concat(),
            "For an alt-azimuth mount use halfturn sky field-rotation",
        ),
        (
            &[&night[..], &[rig, "panels.csv"]].concat(),
            "\"A\" has no minutes. A night needs the column minutes",
        ),
        (
            &[&turning[..], &["--object", "NGC 99999"]].concat(),
            "Give its coordinates instead",
        ),
        (
            &[&turning[..], &["--center", "0:42:44"]].concat(),
            "or as 00:42:44,+41:16:09",
        ),
        (&["schema", "rigg"], "must be one of"),
    ];
    for (args, hint) in cases {
        let out = halfturn(dir.path(), args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(
            complaint(&out).contains(hint),
            "{args:?}: {}",
            complaint(&out)
        );
    }
}

/// 00h42m44s is 15 × 0.712222 h = 10.68333°, and 41°16'09" is 41.26917°.
#[test]
fn a_middle_in_hours_is_the_same_in_degrees() {
    let dir = folder();
    let laid_out = |center: &str| {
        let args = [
            "sky",
            "panels",
            "--center",
            center,
            "--grid",
            "2x1",
            "--frame-deg",
            "1x1",
        ];
        let out = halfturn(dir.path(), &args);
        assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    assert_eq!(
        laid_out("00:42:44,+41:16:09"),
        laid_out("10.683333333,41.269166667")
    );
}

/// Ten corrections from each end to the other, a little off each time, as a loop that hunts leaves them.
#[test]
fn a_log_of_swings_is_called_so() {
    let dir = folder();
    let mut log = "reading_deg,position_angle_deg\n".to_owned();
    for i in 0..20 {
        let reading = if i % 2 == 0 { 0.1 } else { 179.6 };
        let angle = reading + 0.01 * f64::from(i % 3) + if i % 2 == 0 { 0.1 } else { 0.3 };
        log.push_str(&format!("{reading:.2},{angle:.3}\n"));
    }
    write(dir.path(), "log.csv", &log);
    let out = halfturn(dir.path(), &["fit", "log.csv"]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let said = String::from_utf8(out.stdout).expect("UTF-8");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let swings = "the drive swings between 0.1° and 179.6°: 19 long swings";
    assert!(said.contains(swings), "{said}");
}
