//! The input of `halfturn sky night`: orders, starts, keep-outs by pointing, and what is refused.

use crate::binary::{complaint, halfturn, write};
use crate::sky_night::{PLAIN, SITE, night, plain, rule};
use crate::sky_values::{list, number};

/// Shows (sky): the timetable: orders, starts, flips, twilight. With:
/// `sky_night::eight_objects_from_targets_file_to_report`, `sky_pointing::twilight_has_its_usual_ends`. Source: by
/// hand; Explanatory Supplement, 3rd ed., chapter 12 (from memory).
#[test]
fn orders_and_starts_are_followed() {
    let dir = plain("A,100,330,40,30\nB,50,300,40,20\nC,20,315,40,10\n", PLAIN);
    let order = |more: &[&str]| -> Vec<String> {
        let found = night(
            &dir,
            &[
                &["--trials", "1", "--mount", "fork", "--rules", "half-circle"],
                more,
            ]
            .concat(),
        );
        list(&found["stretches"])
            .iter()
            .map(|s| {
                format!(
                    "{} {}",
                    s["target"].as_str().expect("a name"),
                    s["begin"].as_str().expect("a time")
                )
            })
            .collect()
    };
    let at = |times: [&str; 3]| times.map(|t| t.replace('T', " 2026-10-14T")).to_vec();
    let start = ["--start", "19:00"];
    assert_eq!(
        order(&start),
        at(["AT19:00:00Z", "BT19:30:00Z", "CT19:50:00Z"])
    );
    assert_eq!(
        order(&[&start[..], &["--order", "meridian"]].concat()),
        at(["BT19:00:00Z", "CT19:20:00Z", "AT19:30:00Z"])
    );
    let late = order(&["--start", "2026-10-15T02:00:00", "--order", "3,1,2"]);
    assert_eq!(late[0], "C 2026-10-15T02:00:00Z");
    assert_eq!(late[2], "B 2026-10-15T02:40:00Z");
}

/// A stretch of less than two minutes is not framed (docs/sky.md), before a flip or after it.
#[test]
fn a_flip_is_made_where_two_minutes_are_left() {
    let stretches = |start: &str, minutes: f64| {
        let dir = plain(&format!("A,100,345,40,{minutes}\n"), PLAIN);
        let options = ["--trials", "1", "--rules", "half-circle", "--start", start];
        list(&night(&dir, &options)["stretches"]).to_vec()
    };
    let found = stretches("2026-10-14T19:00:00", 120.0);
    assert_eq!(found.len(), 2);
    let begin = found[1]["begin"].as_str().expect("a time");
    let part = |at: usize| begin[at..at + 2].parse::<f64>().expect("a number");
    let minutes = 60.0 * (part(11) - 19.0) + part(14) + part(17) / 60.0;
    for (more, count) in [(1.9, 1), (2.1, 2)] {
        assert_eq!(
            stretches("2026-10-14T19:00:00", minutes + more).len(),
            count
        );
    }
}

/// Shows (sky): wrong nights are refused. With: `sky_pointing::sites_are_checked`. Source: none: own rule.
#[test]
fn wrong_input_is_refused() {
    let dir = plain("A,100,300,40,30\nB,50,301,40,20\n", PLAIN);
    write(dir.path(), "bare.csv", "name,position_angle_deg\nA,1\n");
    write(
        dir.path(),
        "brief.csv",
        "name,position_angle_deg,object,minutes\nA,1,M 31,0\n",
    );
    write(
        dir.path(),
        "long.csv",
        "name,position_angle_deg,object,minutes\nA,1,M 31,1500\n",
    );
    write(
        dir.path(),
        "both.csv",
        "name,position_angle_deg,object,ra_deg,dec_deg\nA,1,M 31,1,2\n",
    );
    write(
        dir.path(),
        "unknown.csv",
        "name,position_angle_deg,object\nA,1,M 131\n",
    );
    write(
        dir.path(),
        "when.toml",
        "[[keep_out]]\nfrom_deg=1\nto_deg=2\nwhen={altitude_deg=[60,30]}\n",
    );
    let date = ["--date", "2026-10-14"];
    let table: [(&str, &str, &[&str], &str); 16] = [
        ("rig.toml", "bare.csv", &SITE, "has no coordinates"),
        ("rig.toml", "brief.csv", &SITE, "has no minutes"),
        ("rig.toml", "long.csv", &SITE, "25.0 hours"),
        (
            "rig.toml",
            "both.csv",
            &SITE,
            "both.csv:2: object = \"M 31\": stands beside coordinates",
        ),
        (
            "rig.toml",
            "unknown.csv",
            &SITE,
            "unknown.csv:2: object = \"M 131\": is not in the built-in catalogue",
        ),
        (
            "when.toml",
            "targets.csv",
            &SITE,
            "keep_out.0.when.altitude_deg",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--order", "1,1"]].concat(),
            "every target once",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--order", "worst"]].concat(),
            "must be list, meridian",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--start", "25:00"]].concat(),
            "universal time",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--start", "2026-10-16T01:00:00"]].concat(),
            "within 24 hours",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--clouds", "1"]].concat(),
            "from 0 to 0.999",
        ),
        (
            "rig.toml",
            "targets.csv",
            &[&SITE[..], &["--plot", "x.gif"]].concat(),
            ".svg or .png",
        ),
        (
            "rig.toml",
            "targets.csv",
            &["--site", "47.3,12.1"],
            "--date",
        ),
        (
            "rig.toml",
            "targets.csv",
            &["--site", "97,12", date[0], date[1]],
            "latitude = 97",
        ),
        (
            "rig.toml",
            "targets.csv",
            &["--site", "nan,12", date[0], date[1]],
            "must be degrees north, degrees east",
        ),
        (
            "rig.toml",
            "targets.csv",
            &["--site", "69,20", "--date", "2026-06-20"],
            "does not become dark",
        ),
    ];
    for (rig, targets, args, says) in table {
        let out = halfturn(
            dir.path(),
            &[&["sky", "night", rig, targets], args].concat(),
        );
        assert_eq!(out.status.code(), Some(2), "{args:?} {targets}");
        assert!(out.stdout.is_empty());
        assert!(
            complaint(&out).contains(says),
            "{says}: {}",
            complaint(&out)
        );
    }
}

/// A sector that counts only west of the meridian.
/// Shows (sky): a keep-out with `when` counts where its condition holds, and not elsewhere. With:
/// `bad_input::the_condition_of_a_keep_out_is_read_and_written`. Source: by hand.
#[test]
fn keep_outs_count_where_their_condition_holds() {
    let sector = "[[keep_out]]\nfrom_deg = 60\nto_deg = 70\nwhy = \"pier\"\nwhen = { hour_angle_h = [0.5, 12] }\n";
    // Local sidereal time at 19:00 is about 22.4 hours: 330 degrees stands near the meridian in the west, 30 degrees in the east.
    let dir = plain(
        "east,50,30,40,20\nwest,100,310,40,20\nback,50,30,40,20\n",
        &format!("{PLAIN}{sector}"),
    );
    let args = [
        "--start",
        "19:00",
        "--mount",
        "fork",
        "--rules",
        "half-circle",
        "--trials",
        "300",
    ];
    let found = night(&dir, &args);
    let rotations = list(&rule(&found, "half-circle")["rotations"]);
    let in_force: Vec<usize> = rotations
        .iter()
        .map(|r| list(&r["keep_outs_in_force"]).len())
        .collect();
    assert_eq!(in_force, [0, 1, 0]);
    // From 50 to 100 through the ten degrees.
    assert!((number(&rotations[1], "keep_out_deg") - 10.0).abs() < 1e-9);
    assert_eq!(number(&rotations[0], "keep_out_deg"), 0.0);
    assert_eq!(number(&rotations[2], "keep_out_deg"), 0.0);
    assert_eq!(
        number(&rule(&found, "half-circle")["night"]["keep_out"], "rate"),
        1.0
    );
    // Over 12 hours: from 11 upwards to -5 is the east.
    let over = ["--set", "keep_out.0.when={hour_angle_h=[11,-1]}"];
    let found = night(&dir, &[&args[..], &over].concat());
    let rotations = list(&rule(&found, "half-circle")["rotations"]);
    let in_force: Vec<usize> = rotations
        .iter()
        .map(|r| list(&r["keep_outs_in_force"]).len())
        .collect();
    assert_eq!(in_force, [1, 0, 1]);
}
