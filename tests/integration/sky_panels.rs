//! `halfturn sky panels` with a rig: the verdicts of `advise`.

use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, json, output, write};
use crate::sky_values::{list, number};

/// Runs `sky panels`, returns exit code and JSON, and writes panels.csv.
fn panels(dir: &tempfile::TempDir, more: &[&str]) -> (Option<i32>, Value) {
    let args = [
        "sky",
        "panels",
        "rig.toml",
        "--out",
        "panels.csv",
        "--force",
        "--json",
        "-",
    ];
    let out = halfturn(dir.path(), &[&args[..], more].concat());
    assert!(out.status.code() < Some(2), "{}", complaint(&out));
    (out.status.code(), json(&out))
}

const RIG: &str = include_str!("../../examples/night/rig.toml");

/// The angles of the targets file are rounded to 1e-6°.
/// Shows (sky): panels have the verdicts and shares of `advise`; `sky panels` ends with 1 if one is not safe. With:
/// `every_panel_has_its_verdict_on_the_screen_and_in_the_picture`. Source: none: internal consistency.
#[test]
fn panels_are_judged_as_by_advise() {
    let dir = folder();
    let cases: [(&[&str], &[&str]); 4] = [
        (
            &[
                "--center",
                "210,70",
                "--grid",
                "4x3",
                "--position-angle",
                "3.4",
            ],
            &[],
        ),
        (
            &[
                "--center",
                "210,70",
                "--grid",
                "4x3",
                "--position-angle",
                "3.4",
            ],
            &[
                "--set",
                "keep_out=[]",
                "--set",
                "drive.winding_limit_deg=80",
            ],
        ),
        (
            &[
                "--center",
                "10,40",
                "--grid",
                "3x2",
                "--position-angle",
                "60",
            ],
            &[
                "--set",
                "wrap.rule=fold-once",
                "--set",
                "loop.tolerance_deg=0.03",
            ],
        ),
        (
            &[
                "--center",
                "10,40",
                "--grid",
                "3x2",
                "--position-angle",
                "60",
            ],
            &[],
        ),
    ];
    let mut seen = std::collections::BTreeSet::new();
    let mut codes = Vec::new();
    write(dir.path(), "rig.toml", RIG);
    for (mosaic, set) in cases {
        let (code, found) = panels(&dir, &[mosaic, set].concat());
        let args = [
            "advise",
            "rig.toml",
            "panels.csv",
            "--json",
            "-",
            "--out",
            "report",
            "--quiet",
        ];
        let advice = json(&halfturn(dir.path(), &[&args[..], set].concat()));
        let (all, before) = (list(&found["panels"]), list(&advice["before"]["targets"]));
        assert_eq!(all.len(), before.len());
        for (panel, target) in all.iter().zip(before) {
            assert_eq!(panel["name"], target["name"]);
            assert_eq!(panel["verdict"], target["verdict"], "{panel} {target}");
            for (a, b) in list(&panel["faults"]).iter().zip(list(&target["faults"])) {
                assert_eq!((&a["fault"], &a["limit"]), (&b["fault"], &b["limit"]));
                let off = (number(a, "rate") - number(b, "rate")).abs();
                assert!(off < 1e-4, "{a} {b}");
            }
            seen.insert(panel["verdict"].to_string());
        }
        let safe = all.iter().all(|p| p["verdict"] == "safe");
        assert_eq!(code, Some(i32::from(!safe)), "{mosaic:?} {set:?}");
        codes.push(code);
    }
    assert!(
        codes.contains(&Some(0)) && codes.contains(&Some(1)),
        "{codes:?}"
    );
    for state in [
        "turns-through-keep-out",
        "winds-too-far",
        "does-not-settle",
        "safe",
    ] {
        assert!(seen.contains(&format!("\"{state}\"")), "{seen:?}");
    }
}

/// Table and picture have the verdicts, with a mark for each; no panel is left out, however many there are.
#[test]
fn every_panel_has_its_verdict_on_the_screen_and_in_the_picture() {
    let dir = folder();
    write(dir.path(), "rig.toml", RIG);
    let args = [
        "sky",
        "panels",
        "rig.toml",
        "--center",
        "210,70",
        "--grid",
        "15x14",
        "--frame-deg",
        "0.2x0.2",
        "--position-angle",
        "0",
        "--set",
        "keep_out=[]",
        "--plot",
        "p.svg",
        "--json",
        "p.json",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(1), "{}", complaint(&out));
    let read = |name: &str| std::fs::read_to_string(dir.path().join(name)).expect("a file");
    let found: Value = serde_json::from_str(&read("p.json")).expect("JSON");
    let all = list(&found["panels"]);
    let count = |state: &str| all.iter().filter(|p| p["verdict"] == state).count();
    let (hunt, safe) = (count("hunts"), count("safe"));
    assert_eq!(all.len(), 210);
    assert!(hunt > 1 && safe > 1, "{hunt} {safe}");
    let text = output(&out);
    assert_eq!(
        text.lines().filter(|l| l.contains("  ◆ hunts ")).count(),
        hunt
    );
    assert!(
        text.contains(&format!("Of 210 panels {hunt} hunt")),
        "{text}"
    );
    let picture = read("p.svg");
    assert!(picture.contains(">hunts<") && picture.contains(">safe<"));
    // Without a rig nothing is judged.
    let args = [
        "sky",
        "panels",
        "--center",
        "210,70",
        "--grid",
        "2x1",
        "--frame-deg",
        "1x1",
    ];
    let out = halfturn(dir.path(), &[&args[..], &["--json", "-"]].concat());
    assert_eq!(out.status.code(), Some(0));
    assert_eq!(json(&out)["panels"][0]["verdict"], Value::Null);
}

/// Meridians converge, so that the angles of the twelve panels spread, and some lie on the seam.
/// Shows (sky): a mosaic at declination 70 hunts and is made safe. Source: none: internal consistency.
#[test]
fn a_mosaic_that_hunts_is_made_safe() {
    let dir = folder();
    write(dir.path(), "rig.toml", RIG);
    let mosaic = [
        "--center",
        "210,70",
        "--grid",
        "4x3",
        "--position-angle",
        "3.4",
    ];
    let (code, found) = panels(&dir, &mosaic);
    assert_eq!(code, Some(1));
    let shares = list(&found["panels"]).iter().map(|p| {
        let mut faults = list(&p["faults"]).iter();
        let hunts = faults.find(|f| f["fault"] == "hunting");
        (
            number(hunts.expect("a fault"), "rate"),
            number(p, "seam_distance_deg"),
        )
    });
    let hunting: Vec<f64> = shares.filter(|(s, _)| *s > 0.001).map(|(_, d)| d).collect();
    assert!(!hunting.is_empty() && hunting.len() < 12);
    assert!(
        hunting.iter().all(|distance_deg| *distance_deg < 3.0),
        "{hunting:?}"
    );
    let args = [
        "advise",
        "rig.toml",
        "panels.csv",
        "--out",
        "report",
        "--write=new.toml",
    ];
    let out = halfturn(dir.path(), &args);
    assert_eq!(out.status.code(), Some(0), "{}", complaint(&out));
    let args = ["sky", "panels", "new.toml"];
    let out = halfturn(dir.path(), &[&args[..], &mosaic].concat());
    assert_eq!(out.status.code(), Some(0), "{}", output(&out));
    assert!(output(&out).contains("Every panel is safe on this rig."));
}
