//! `halfturn sky field-rotation`, and a mosaic that hunts and is then made safe, as a user runs them.

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, output, write};
use crate::sky_values::{apart_modulo_deg, list, number};

const RIG: &str = "[drive]\npark_deg = 90\nwinding_limit_deg = 0\n[framing]\nsensor_width_mm = 23.5\nsensor_height_mm = 15.7\nfocal_length_mm = 480\npixel_um = 3.76\n";

pub(crate) fn field(more: &[&str]) -> Value {
    field_ends(0, more)
}

fn field_ends(code: i32, more: &[&str]) -> Value {
    let dir = folder();
    write(dir.path(), "rig.toml", RIG);
    let args = [
        &[
            "sky",
            "field-rotation",
            "rig.toml",
            "--site",
            "47.32,12.08,1180",
            "--date",
            "2026-10-14",
            "--json",
            "-",
            "--quiet",
            "--trials",
            "2000",
        ],
        more,
    ]
    .concat();
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(code), "{}", complaint(&out));
    json(&out)
}

const M31: [&str; 8] = [
    "--object",
    "M 31",
    "--position-angle",
    "35",
    "--minutes",
    "420",
    "--every",
    "30",
];

/// The reading stands against the field: position angle less that of the zenith, to the nearest equivalent framing.
/// Shows (README): `halfturn sky field-rotation` follows a turning field, and ends with 1 on a fault. With:
/// `a_rotator_in_a_keep_out_says_so`. Source: by hand.
/// Shows (sky): the rotator follows, unwinds at the seam, at a stop, at the cable. With:
/// `a_cable_ends_the_way_where_no_seam_does`, `crates/sky/src/field/follow_tests.rs::the_seam_comes_every_half_turn`,
/// `crates/sky/src/field/follow_tests.rs::a_cable_is_unwound_as_far_as_it_goes`,
/// `crates/sky/src/field/follow_tests.rs::stops_end_the_way_and_may_hold_it`,
/// `crates/sky/src/field/follow_tests.rs::the_drive_turns_against_the_field_in_its_own_sense`. Source: by hand.
#[test]
fn a_rotator_follows_to_the_seam_and_unwinds() {
    let found = field(&M31);
    let rows = list(&found["rows"]);
    assert_eq!(rows.len(), 15);
    for row in rows {
        let reading = number(row, "reading_deg");
        // Between rows the session is followed in steps, so only rounding is left.
        assert!(
            apart_modulo_deg(reading, 35.0 - number(row, "zenith_deg"), 180.0) < 1e-6,
            "{row}"
        );
        assert!((0.0..=180.0).contains(&reading), "{row}");
    }
    let unwinds = list(&found["follow"]["unwinds"]);
    assert_eq!(unwinds.len(), 1, "{unwinds:?}");
    assert_eq!(unwinds[0]["end"], "seam");
    assert!((number(&unwinds[0], "to_deg") - number(&unwinds[0], "from_deg") - 180.0).abs() < 1e-9);
    // 180 degrees at 3 deg/s, and 1 s for the command.
    assert!((number(&unwinds[0], "takes_s") - 61.0).abs() < 1e-9);
    // The rate is the slope of the turn, by the mean of half an hour.
    for pair in rows.windows(2) {
        let slope = (number(&pair[1], "turned_deg") - number(&pair[0], "turned_deg")) / 0.5;
        let (low, high) = (
            number(&pair[0], "rate_deg_per_h"),
            number(&pair[1], "rate_deg_per_h"),
        );
        // Away from the peak near the meridian, which half an hour does not show.
        if low.abs().max(high.abs()) < 15.0 {
            assert!((slope - 0.5 * (low + high)).abs() < 1.0, "{pair:?}");
        }
    }
    // Where it turns fastest exposures are shortest.
    let fastest = number(&found, "fastest_deg_per_h");
    let shortest = number(&found, "shortest_exposure_s");
    // A corner of a 14.13 mm half diagonal on pixels of 3.76 um moves a pixel in 0.015248 degrees.
    assert!((shortest * fastest / 3600.0 - 0.015_248).abs() < 1e-5);
}

/// Under the full circle of an endless drive there is no seam: the cable ends the way, and is wound back by a whole turn.
#[test]
fn a_cable_ends_the_way_where_no_seam_does() {
    // South of the zenith the parallactic angle runs from -60 to 65 degrees; the reading falls by as much.
    let limit = [
        "--set",
        "drive.winding_limit_deg=80",
        "--rule",
        "full-circle",
    ];
    let found = field_ends(1, &[&M31[..], &limit].concat());
    let follow = &found["follow"];
    assert!(list(&follow["unwinds"]).is_empty());
    assert_eq!(
        follow["stuck"]["end"], "cable",
        "a whole turn back is beyond the other end"
    );
    let wide = [
        "--set",
        "drive.winding_limit_deg=280",
        "--set",
        "drive.park_deg=290",
        "--rule",
        "full-circle",
    ];
    let found = field(&[&M31[..], &wide].concat());
    assert!(list(&found["follow"]["unwinds"]).is_empty() && found["follow"]["stuck"].is_null());
    let fold_once = ["--set", "drive.winding_limit_deg=90", "--rule", "fold-once"];
    let found = field(&[&M31[..], &fold_once].concat());
    let unwinds = list(&found["follow"]["unwinds"]);
    assert_eq!(
        (unwinds.len(), &unwinds[0]["end"]),
        (1, &Value::from("cable"))
    );
    assert!((number(&unwinds[0], "to_deg") - number(&unwinds[0], "from_deg") - 180.0).abs() < 1e-9);
}

/// M 31 culminates 6 degrees south of the zenith, and the reading falls from 235. The keep-out from 200 to 240 is in the way of the first
/// move, from 90, and stands around the rotator until the zenith stands at -25.
/// Shows (sky): keep-outs, cable and stops on the first move, while following, on unwinds. With:
/// `crates/sky/src/field/follow_tests.rs::a_bad_first_framing_is_told`,
/// `crates/sky/src/field/follow_tests.rs::the_way_to_the_first_framing_counts`,
/// `crates/sky/src/field/follow_tests.rs::a_fold_past_a_bound_is_named`. Source: by hand.
#[test]
fn a_rotator_in_a_keep_out_says_so() {
    let sector = "keep_out=[{from_deg=200,to_deg=240,why='cable tray'}]";
    let at = [
        "--object", "M 31", "--start", "21:10", "--every", "1", "--set", sector,
    ];
    let full = ["--position-angle", "175", "--rule", "full-circle"];
    let found = field_ends(1, &[&at[..], &full].concat());
    let follow = &found["follow"];
    assert!(list(&follow["unwinds"]).is_empty() && follow["stuck"].is_null());
    let faults = list(&follow["faults"]);
    assert_eq!(faults.len(), 2, "{follow}");
    let rows = list(&found["rows"]);
    let first = number(&rows[0], "reading_deg");
    assert!(first > 230.0 && first < 240.0);
    for (fault, during) in faults.iter().zip(["first-move", "following"]) {
        assert_eq!(fault["fault"], "turns-through-keep-out");
        assert_eq!(fault["during"], during);
        assert_eq!(fault["at"], rows[0]["time"]);
    }
    assert_eq!(number(&faults[0], "reading_deg"), 200.0);
    // The move ends at a step of the drive, 0.1 deg; following is smooth.
    assert!((number(&faults[0], "to_deg") - first).abs() < 0.051);
    assert!((number(&faults[1], "reading_deg") - first).abs() < 1e-9);
    assert_eq!(number(&faults[1], "to_deg"), 200.0);
    let inside = rows.iter().filter(|r| number(r, "reading_deg") > 200.0);
    let minutes = number(&faults[1], "lasts_s") / 60.0;
    assert!(
        (inside.count() as f64 - 0.5 - minutes).abs() <= 0.5,
        "{minutes}"
    );
    // 135 either way from 90 end at 225.
    let cable = ["--set", "drive.winding_limit_deg=135"];
    let found = field_ends(1, &[&at[..], &full, &cable].concat());
    let faults = list(&found["follow"]["faults"]);
    let cables: Vec<&Value> = faults
        .iter()
        .filter(|f| f["fault"] == "winds-too-far")
        .collect();
    assert_eq!(cables.len(), 2, "{faults:?}");
    assert_eq!(cables[0]["during"], "first-move");
    assert_eq!(number(cables[0], "reading_deg"), 225.0);
    assert!((number(cables[0], "to_deg") - first).abs() < 0.051);
    assert_eq!(number(cables[1], "to_deg"), 225.0);
    // The half circle takes 55, and unwinds at the seam: 0 to 180 lies clear of it.
    let half = ["--position-angle", "175", "--rule", "half-circle"];
    let found = field(&[&at[..], &half].concat());
    assert!(list(&found["follow"]["faults"]).is_empty());
    assert_eq!(list(&found["follow"]["unwinds"])[0]["end"], "seam");
    // A target behind a stop, and the words.
    let dir = folder();
    write(
        dir.path(),
        "rig.toml",
        &format!("{RIG}[[keep_out]]\nfrom_deg = 200\nto_deg = 240\n"),
    );
    let place = [
        "sky",
        "field-rotation",
        "rig.toml",
        "--site",
        "47.32,12.08",
        "--date",
        "2026-10-14",
        "--object",
        "M 31",
        "--trials",
        "20",
    ];
    let out = halfturn(dir.path(), &[&place[..], &full].concat());
    assert_eq!(out.status.code(), Some(1));
    let says = output(&out);
    assert!(
        says.contains("on the first move: from 200° to 23"),
        "{says}"
    );
    assert!(says.contains("it stands inside, from 23"), "{says}");
    let stops = [
        "--set",
        "drive.travel=\"stops\"",
        "--set",
        "drive.stop_from_deg=0",
        "--set",
        "drive.stop_to_deg=190",
    ];
    let out = halfturn(dir.path(), &[&place[..], &full, &stops].concat());
    assert_eq!(out.status.code(), Some(1));
    let says = output(&out);
    assert!(
        says.contains("out of reach at") && says.contains("the stops refuse 23"),
        "{says}"
    );
}

/// Shows (sky): the rotator unwinds before a keep-out, or is stuck there. With:
/// `crates/sky/src/field/follow_tests.rs::a_keep_out_ends_the_way`. Source: by hand.
#[test]
fn a_keep_out_ends_the_way_of_the_field() {
    // The reading falls from 95 by 120 degrees: a keep-out from 40 to 60 is in its way.
    let at = ["--set", "keep_out=[{from_deg=40,to_deg=60,why='tray'}]"];
    let found = field(&[&M31[..], &at, &["--rule", "fold-once"]].concat());
    let unwinds = list(&found["follow"]["unwinds"]);
    assert_eq!(
        (unwinds.len(), &unwinds[0]["end"]),
        (1, &Value::from("keep-out"))
    );
    assert_eq!(number(&unwinds[0], "from_deg"), 60.0);
    assert_eq!(number(&unwinds[0], "to_deg"), 240.0);
    assert!(list(&found["follow"]["faults"]).is_empty());
    for row in list(&found["rows"]) {
        let reading = number(row, "reading_deg").rem_euclid(360.0);
        assert!(!(40.0..60.0).contains(&reading), "{row}");
    }
    let found = field_ends(1, &[&M31[..], &at, &["--rule", "full-circle"]].concat());
    assert_eq!(found["follow"]["stuck"]["end"], "keep-out");
    // At no altitude of this target, it does not count.
    let low = "keep_out.0.when={altitude_deg=[0,10]}";
    let found = field(&[&M31[..], &at, &["--rule", "full-circle", "--set", low]].concat());
    assert!(found["follow"]["stuck"].is_null());
}

/// The loop of docs/model.md with the rate of the sky: an error of a true angle that the field's turn adds between the exposure and
/// the end of the run is not in it, so at this slow rate both loops do alike, and near the zenith the turning one does worse.
/// Shows (sky): the loop settles with the rate of the sky. Source: none: internal consistency.
#[test]
fn the_loop_settles_while_the_field_turns() {
    let far = field(&M31);
    let settle = &far["settle"];
    let rate = number(&far["rows"][0], "rate_deg_per_h") / 3600.0;
    assert!((number(settle, "field_rotation_deg_per_s") - rate).abs() < 1e-12);
    let mean = |s: &Value, which: &str| number(&s[which]["solves"], "mean");
    assert!((mean(settle, "turning") - mean(settle, "at_rest")).abs() < 0.05);
    // A place that culminates a fifth of a degree from the zenith, at that moment; the tolerance is tight.
    let near = field(&[
        "--center",
        "316.1,47.42",
        "--start",
        "18:43",
        "--minutes",
        "2",
        "--every",
        "1",
        "--set",
        "loop.tolerance_deg=0.1",
        "--set",
        "drive.backlash_deg=0",
        "--set",
        "drive.repeatability_deg=0",
    ]);
    assert!(
        number(&near, "fastest_deg_per_h") > 1500.0,
        "{}",
        near["rows"]
    );
    assert!(
        mean(&near["settle"], "turning") > mean(&near["settle"], "at_rest") + 1.0,
        "{}",
        near["settle"]
    );
}

#[test]
fn an_axis_that_misses_the_pole_turns_the_field_slowly() {
    let args = [
        "--mount",
        "equatorial",
        "--pole-error",
        "0,6",
        "--object",
        "M 45",
        "--minutes",
        "360",
        "--every",
        "60",
    ];
    let found = field(&args);
    assert!(found["follow"].is_null() && found["settle"].is_null());
    for row in list(&found["rows"]) {
        // 6 arcmin by azimuth are 6 cos(latitude) on the sky; first order: e cos(h) / cos(dec) to the east at the meridian.
        let e_deg = 0.1 * 47.32_f64.to_radians().cos();
        let hour = (15.0 * number(row, "hour_angle_h")).to_radians();
        let slope = e_deg * hour.sin() / 24.2_f64.to_radians().cos() * 15.041_f64.to_radians();
        assert!(
            (number(row, "rate_deg_per_h").abs() - slope.abs()).abs() < 2e-4,
            "{row} {slope}"
        );
    }
}

#[test]
fn field_rotation_is_drawn_and_refused() {
    let dir = folder();
    let base = [
        "sky",
        "field-rotation",
        "--site",
        "-31,149",
        "--date",
        "2026-10-14",
    ];
    let drawn = [
        &base[..],
        &[
            "--object", "ngc 104", "--plot", "map.png", "--trials", "100",
        ],
    ]
    .concat();
    let out = halfturn(dir.path(), &drawn);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    assert!(output(&out).contains("A rotator that follows"));
    assert!(
        std::fs::read(dir.path().join("map.png"))
            .expect("a picture")
            .len()
            > 10_000
    );
    let table: [(&[&str], &str); 6] = [
        (&[], "--object"),
        (
            &["--object", "NGC 99999"],
            "is not in the built-in catalogue",
        ),
        (
            &["--center", "10,95"],
            "must be a right ascension and a declination",
        ),
        (
            &["--object", "M 42", "--mount", "equatorial"],
            "--pole-error",
        ),
        (
            &[
                "--object",
                "M 42",
                "--mount",
                "equatorial",
                "--pole-error",
                "1e9,0",
            ],
            "from -600 to 600",
        ),
        (&["--object", "M 42", "--minutes", "0"], "from 1 to 1440"),
    ];
    for (args, says) in table {
        let out = halfturn(dir.path(), &[&base[..], args].concat());
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(
            complaint(&out).contains(says),
            "{says}: {}",
            complaint(&out)
        );
    }
}

#[test]
fn the_manual_has_pages_of_nested_commands() {
    let dir = folder();
    let out = halfturn(dir.path(), &["man", "--out", "pages"]);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    for (page, says) in [
        ("halfturn-sky.1", "night"),
        ("halfturn-sky-night.1", "clouds"),
        ("halfturn-sky-field-rotation.1", "smear"),
        ("halfturn-sky-panels.1", "overlap"),
        ("halfturn-sky-fits.1", "header"),
    ] {
        let text = std::fs::read_to_string(dir.path().join("pages").join(page)).expect(page);
        assert!(text.contains(says), "{page}");
    }
}
