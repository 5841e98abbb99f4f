//! The JSON of loops, fits, the sky and the test vectors, over rigs and options that add keys.
//! Shows (trust): every JSON keeps to its published schema. With: `schemas::verdicts`, `schemas::lines`,
//! `schemas::published`. Source: JSON Schema, draft 2020-12: the crate `jsonschema`.

use serde_json::Value;

use super::Document;
use super::rigs::{RIGS, set};
use super::written::{check, document};
use crate::binary::{folder, halfturn, in_root, json, write};

#[test]
fn loops_over_many_rigs() {
    let dir = folder();
    write(dir.path(), "rig.toml", "");
    let mut all = Vec::new();
    for rig in &RIGS {
        let (target, changes) = (rig.2, set(rig));
        let mut add = |schema, args: &[&str]| {
            let args: Vec<&str> = args
                .iter()
                .copied()
                .chain(changes.iter().copied())
                .collect();
            all.push(document(dir.path(), schema, &args));
        };
        let at = ["rig.toml", "--target", target];
        add(
            "batch",
            &[&["batch"], &at[..], &["--trials", "60"]].concat(),
        );
        add(
            "batch",
            &[&["batch"], &at[..], &["--trials", "60", "--method", "auto"]].concat(),
        );
        for trial in ["0", "7"] {
            add(
                "trace",
                &[&["trace"], &at[..], &["--trial", trial]].concat(),
            );
        }
        let one: &[&str] = &[
            "sweep",
            "rig.toml",
            "--vary",
            "target=0:180:3",
            "--trials",
            "20",
            "--out",
            "s.csv",
            "--force",
        ];
        add("sweep", one);
        let two: &[&str] = &[
            "--vary",
            "loop.tolerance_deg=0.5:1:2",
            "--method",
            "auto",
            "--rules",
            "fold-once",
        ];
        add("sweep", &[one, two].concat());
    }
    let more: [&[&str]; 4] = [
        &["batch", "rig.toml", "--target", "33", "--half-width", "0.2"],
        &["batch", "rig.toml", "--target", "33", "--trials", "1"],
        &[
            "batch",
            "rig.toml",
            "--target",
            "33",
            "--trials",
            "2",
            "--rules",
            "fold-once",
        ],
        &[
            "batch",
            "rig.toml",
            "--target",
            "33",
            "--method",
            "exact",
            "--seed",
            "18446744073709551615",
        ],
    ];
    all.extend(more.iter().map(|args| document(dir.path(), "batch", args)));
    for list in [
        "format=1:1:1",
        "wrap.symmetry=1:2:2",
        "solve.max_failures=1:5:2",
    ] {
        let args = [
            "sweep", "rig.toml", "--target", "9", "--trials", "9", "--out", "s.csv", "--force",
            "--vary", list,
        ];
        all.push(document(dir.path(), "sweep", &args));
    }
    for shard in ["1/2", "2/2"] {
        let out = format!("{}.csv", &shard[..1]);
        let args = [
            "sweep",
            "--vary",
            "target=0:9:4",
            "--trials",
            "9",
            "--shard",
            shard,
            "--out",
            &out,
        ];
        all.push(document(dir.path(), "sweep", &args));
    }
    all.push(document(
        dir.path(),
        "sweep",
        &["merge", "m.csv", "1.csv", "2.csv"],
    ));
    check(&all, "batch, trace, sweep, merge");
}

#[test]
fn fits_plans_and_the_sky() {
    let dir = folder();
    let log = &in_root("assets/demo-log.csv");
    write(
        dir.path(),
        "poor.csv",
        "reading_deg,position_angle_deg\n10,100\n10,100.01\n50,\n10,100.02\n90,180\n",
    );
    let night = &in_root("examples/night/rig.toml");
    let targets = &in_root("examples/night/targets.csv");
    let mosaic = [
        "sky",
        "panels",
        "--center",
        "100,20",
        "--frame-deg",
        "2x1",
        "--grid",
    ];
    let at = ["--site", "48,11", "--date", "2026-10-14"];
    let turning = [&["sky", "field-rotation", "--object", "M 31"], &at[..]].concat();
    let planned = [&["sky", "night", night, targets], &at[..]].concat();
    let few: &[&str] = &["--trials", "20"];
    let cases: [(&'static str, Vec<&str>); 15] = [
        ("fit", vec!["fit", log]),
        ("fit", vec!["fit", "poor.csv"]),
        ("fit-plan", vec!["fit", "--plan"]),
        (
            "fit-plan",
            vec!["fit", "--plan", "--set", "drive.backlash_deg=5"],
        ),
        ("sky-panels", [&mosaic[..], &["3x2"]].concat()),
        ("sky-panels", [&mosaic[..], &["1x1"]].concat()),
        (
            "sky-panels",
            [&mosaic[..], &["2x1", "--common-angle"]].concat(),
        ),
        ("sky-panels", [&mosaic[..], &["2x2", night]].concat()),
        (
            "sky-panels",
            [
                &mosaic[..],
                &["2x2", night, "--set", "wrap.rule=full-circle"],
            ]
            .concat(),
        ),
        ("sky-night", [&planned[..], few].concat()),
        (
            "sky-night",
            [&planned[..], few, &["--rules", "fold-once"]].concat(),
        ),
        (
            "sky-night",
            [&planned[..], few, &["--set", "solve.failure_rate=1"]].concat(),
        ),
        ("sky-field-rotation", [&turning[..], few].concat()),
        (
            "sky-field-rotation",
            [&turning[..], few, &[night, "--minutes", "600"]].concat(),
        ),
        (
            "sky-field-rotation",
            [
                &[
                    "sky",
                    "field-rotation",
                    "--center",
                    "0,90",
                    "--set",
                    "drive.winding_limit_deg=20",
                ],
                &at[..],
                few,
            ]
            .concat(),
        ),
    ];
    let mut all: Vec<Document> = cases
        .iter()
        .map(|(schema, args)| document(dir.path(), schema, args))
        .collect();
    let headers: Value =
        serde_json::from_str(include_str!("../../../../../tests/data/real_headers.json"))
            .expect("JSON");
    for (i, case) in headers["cases"]
        .as_array()
        .expect("a list")
        .iter()
        .enumerate()
    {
        let cards = case["cards"].as_array().expect("cards").iter();
        let mut text: String = cards
            .filter_map(Value::as_str)
            .map(|c| format!("{c:80}"))
            .collect();
        text.push_str(&format!("{:80}", "END"));
        let length = text.len().next_multiple_of(2880);
        write(
            dir.path(),
            &format!("frames-{i}.fits"),
            &format!("{text:length$}"),
        );
    }
    let out = halfturn(dir.path(), &["sky", "fits", ".", "--json", "-"]);
    all.push(Document {
        schema: "sky-fits",
        label: "real headers".to_owned(),
        value: json(&out),
    });
    check(&all, "fit, fit --plan, sky");
}

#[test]
fn the_test_vectors() {
    let dir = folder();
    let vectors = document(dir.path(), "vectors", &["vectors"]);
    check(&[vectors], "vectors");
}
