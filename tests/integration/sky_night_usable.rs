//! What `halfturn sky night` says of targets that are too low or not in the dark, and how it ends.

use serde_json::Value;

use crate::binary::{complaint, halfturn, output, write};
use crate::sky_night::{PLAIN, SITE, plain};
use crate::sky_values::{list, number};

/// Shows (sky): what is below the horizon, too low for the user, before dusk or after dawn is not framed; exit codes of
/// `sky night`. With: `a_bright_night_goes_by_its_darkest_part`. Source: by hand; dusk and dawn of astropy.
#[test]
fn what_cannot_be_seen_is_not_framed() {
    let head = "name,position_angle_deg,object,minutes\n";
    let dir = plain("", PLAIN);
    let run = |targets: &str, more: &[&str]| -> (Option<i32>, Value, String) {
        write(dir.path(), "targets.csv", &format!("{head}{targets}"));
        let args = [
            "sky",
            "night",
            "rig.toml",
            "targets.csv",
            "--json",
            "n.json",
            "--mount",
            "fork",
        ];
        let out = halfturn(dir.path(), &[&args[..], &SITE[..], more].concat());
        let json = std::fs::read_to_string(dir.path().join("n.json")).expect("JSON");
        let json = serde_json::from_str(&json).expect("JSON");
        (out.status.code(), json, output(&out) + &complaint(&out))
    };
    let cases: [(&str, &[&str], &str, &str); 5] = [
        // Declination -59.9 from latitude 47.3 never rises: it stands at most 90 - 47.3 - 59.9 = -17.2 degrees high.
        (
            "A,40,NGC 3372,40\n",
            &[],
            "too-low",
            "below the horizon (-7",
        ),
        (
            "A,40,M 31,40\n",
            &["--start", "23:00", "--least-altitude", "88"],
            "too-low",
            "of 88°)",
        ),
        (
            "A,40,M 31,40\n",
            &["--start", "17:40"],
            "before-dusk",
            "before dusk",
        ),
        // Astronomical dusk and dawn of that night are 18:08 and 03:48 (docs/sky.md, by astropy).
        (
            "A,40,M 31,40\n",
            &["--start", "18:07"],
            "before-dusk",
            "before dusk",
        ),
        (
            "A,40,M 31,40\n",
            &["--start", "03:15"],
            "after-dawn",
            "after dawn",
        ),
    ];
    for (targets, more, reason, words) in cases {
        let (code, found, said) = run(targets, more);
        let stretch = &found["stretches"][0];
        assert_eq!(
            stretch["not_usable"],
            serde_json::json!([reason]),
            "{more:?}"
        );
        assert_eq!(code, Some(1), "{more:?}");
        assert_eq!(found["holds"], false);
        let night = &list(&found["rules"])[0]["night"];
        assert_eq!(number(&night["all_framed"], "rate"), 0.0);
        assert!(
            said.contains("warning: stretch 1, A: you can't use it: "),
            "{said}"
        );
        assert!(said.matches(words).count() >= 3, "{words}: {said}");
    }
    // Between dusk and dawn, high up, with a rig that is safe there: nothing to tell.
    for start in ["18:09", "03:07"] {
        let (code, found, said) = run("A,40,M 31,40\n", &["--start", start]);
        assert_eq!(found["stretches"][0]["not_usable"], serde_json::json!([]));
        assert_eq!((code, &found["holds"]), (Some(0), &true.into()), "{said}");
        assert!(!said.contains("warning"), "{said}");
    }
    // A target on the seam of a drive with periodic error hunts under the rules that have a seam there. The exit code goes by the
    // rig's own rule, or by the first that is shown.
    let hunts = [
        "--start",
        "23:00",
        "--set",
        "wrap.arc_start_deg=40",
        "--set",
        PERIODIC,
    ];
    const PERIODIC: &str = "drive.periodic=[{cycles=1,amplitude_deg=0.3,phase_deg=90}]";
    let rules = [
        ("half-circle,full-circle", 1),
        ("full-circle,half-circle", 1),
        ("hysteresis-band,fold-once", 0),
    ];
    for (rules, code) in rules {
        let found = run(
            "A,40,M 31,40\n",
            &[&hunts[..], &["--rules", rules]].concat(),
        );
        assert_eq!(found.0, Some(code), "{rules}: {}", found.2);
    }
}

/// A summer night at 57 north does not become quite dark: the darkest twilight that it ends counts. Sun at -23.4 + 90 - 57 = 9.6 degrees
/// below the horizon at midnight: civil twilight ends, nautical does not.
#[test]
fn a_bright_night_goes_by_its_darkest_part() {
    let dir = plain("A,40,300,60,30\n", PLAIN);
    let at = |start: &str| {
        let args = [
            "sky",
            "night",
            "rig.toml",
            "targets.csv",
            "--json",
            "-",
            "--quiet",
            "--site",
            "57,0",
            "--date",
            "2026-06-20",
            "--start",
            start,
        ];
        let out = halfturn(dir.path(), &args);
        let found: Value = serde_json::from_str(&output(&out)).expect("JSON");
        assert_eq!(found["darkest"], "civil");
        found["stretches"][0]["not_usable"].to_string()
    };
    assert_eq!(at("23:45"), "[]");
    assert_eq!(at("20:00"), "[\"before-dusk\"]");
    assert_eq!(at("03:30"), "[\"after-dawn\"]");
}
