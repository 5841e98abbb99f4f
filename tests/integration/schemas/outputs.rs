//! What every command writes as JSON, over rigs and options that add keys, and changed by one key or type.

use std::path::Path;

use serde_json::Value;

use super::rigs::{RIGS, set};
use super::{Document, as_json, say};
use crate::binary::{complaint, folder, halfturn, json, write};
use crate::judge_program::{example, there_is};

/// Keys that a document may lack. The last two are axes of a sweep: a schema cannot tie the columns of a row to them, it counts them.
const OPTIONAL: [&str; 15] = [
    "differences",
    "until_ping_pong",
    "exact",
    "shards",
    "rows_left_out",
    "uncertain",
    "row",
    "parameter",
    "when",
    "hour_angle_h",
    "altitude_deg",
    "tolerance_low_by",
    "tolerance_high_deg",
    "target",
    "loop.tolerance_deg",
];

/// Runs a command and takes its JSON; the answer may be bad news.
fn document(dir: &Path, schema: &'static str, args: &[&str]) -> Document {
    let all: Vec<&str> = args
        .iter()
        .copied()
        .chain(["--quiet", "--json", "-"])
        .collect();
    let out = halfturn(dir, &all);
    let code = out.status.code();
    assert!(
        matches!(code, Some(0 | 1)),
        "{args:?}: {code:?} {}",
        complaint(&out)
    );
    Document {
        schema,
        label: args.join(" "),
        value: json(&out),
    }
}

/// Checks all of them, and changes the first of a schema, and every one that has keys which that one lacks.
fn check(documents: &[Document], what: &str) {
    let mut refused = 0;
    let mut seen = std::collections::BTreeSet::new();
    for document in documents {
        document.check();
        if seen.insert((document.schema, keys(&document.value))) {
            refused += document.mutate(&OPTIONAL);
        }
    }
    assert!(refused > 100, "{what}: only {refused} changes");
    say(&format!(
        "{what}: {} documents, {refused} changes refused",
        documents.len()
    ));
}

/// The keys of a document, however deep, lists looked at in their first entry.
fn keys(value: &Value) -> String {
    match value {
        Value::Object(object) => {
            let inner = object
                .iter()
                .map(|(key, value)| format!("{key}{}", keys(value)));
            format!("{{{}}}", inner.collect::<Vec<_>>().join(","))
        }
        Value::Array(list) => format!("[{}]", list.first().map_or_else(String::new, keys)),
        _ => String::new(),
    }
}

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
        &["batch", "rig.toml", "--target", "33", "--until", "0.2"],
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
fn advice_over_many_rigs() {
    let dir = folder();
    write(dir.path(), "rig.toml", "");
    let targets = "name,position_angle_deg\n\"one, on the seam\",0\ntwo,33\nthree,121.5\n";
    write(dir.path(), "targets.csv", targets);
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/demo-log.csv");
    let mut all = Vec::new();
    let few: &[&str] = &[
        "advise",
        "rig.toml",
        "targets.csv",
        "--trials",
        "300",
        "--out",
        "r",
    ];
    for rig in RIGS.iter().filter(|rig| rig.0 != "largest") {
        let more: &[&str] = match rig.0 {
            "as it is" => &["--method", "auto", "--flips"],
            "framed" => &["--max-corner-px", "3", "--clear-of-keep-outs"],
            "hunts" => &["--method", "auto"],
            _ => &[],
        };
        all.push(document(
            dir.path(),
            "advise",
            &[few, more, &set(rig)].concat(),
        ));
        let path = dir.path().join("r");
        let text = std::fs::read_to_string(path.join("advice.toml")).expect("a certificate");
        all.push(Document {
            schema: "certificate",
            label: rig.0.to_owned(),
            value: as_json(&text),
        });
        let summary = std::fs::read(path.join("summary.json")).expect("a summary");
        all.push(Document {
            schema: "advise",
            label: format!("summary of {}", rig.0),
            value: serde_json::from_slice(&summary).expect("JSON"),
        });
        let check: &[&str] = &["advise", "--check", "r/advice.toml"];
        all.push(document(
            dir.path(),
            "advise-check",
            &[check, &set(rig)].concat(),
        ));
        // Another rig, so that keys have changed.
        all.push(document(dir.path(), "advise-check", check));
    }
    let draws: &[&str] = &[
        "--uncertain",
        log,
        "--draws",
        "12",
        "--hold",
        "0.999",
        "--method",
        "auto",
    ];
    for tolerance in ["loop.tolerance_deg=0.05", "loop.tolerance_deg=0.4"] {
        all.push(document(
            dir.path(),
            "advise",
            &[few, draws, &["--set", tolerance]].concat(),
        ));
        let text = std::fs::read_to_string(dir.path().join("r/fitted-rig.toml")).expect("a rig");
        all.push(Document {
            schema: "rig",
            label: "fitted rig".to_owned(),
            value: as_json(&text),
        });
    }
    let documents: Vec<Document> = all.into_iter().collect();
    let (strict, free): (Vec<_>, Vec<_>) = documents
        .into_iter()
        .partition(|d| !matches!(d.schema, "certificate" | "rig"));
    check(&strict, "advise, advise --check");
    free.iter().for_each(Document::check);
    say(&format!(
        "certificates and fitted rigs: {} documents",
        free.len()
    ));
}

#[test]
fn fits_plans_and_the_sky() {
    let dir = folder();
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/demo-log.csv");
    write(
        dir.path(),
        "poor.csv",
        "reading_deg,position_angle_deg\n10,100\n10,100.01\n50,\n10,100.02\n90,180\n",
    );
    let night = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/night/rig.toml");
    let targets = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/night/targets.csv");
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
    let cases: [(&'static str, Vec<&str>); 14] = [
        ("fit", vec!["fit", log]),
        ("fit", vec!["fit", "poor.csv"]),
        ("fit-plan", vec!["fit", "--plan"]),
        (
            "fit-plan",
            vec!["fit", "--plan", "--set", "drive.backlash_deg=5"],
        ),
        ("sky-panels", [&mosaic[..], &["3x2"]].concat()),
        ("sky-panels", [&mosaic[..], &["1x1"]].concat()),
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
        serde_json::from_str(include_str!("../../data/real_headers.json")).expect("JSON");
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
fn a_judgement_and_its_scenarios() {
    if !there_is("python3") {
        return;
    }
    let dir = folder();
    let mut all = Vec::new();
    for (controller, scenarios) in [("correct.py", "60"), ("wrong_band.py", "400")] {
        let (out, controller) = ("kept", example(controller));
        let args = [
            "judge",
            "--scenarios",
            scenarios,
            "--out",
            out,
            "--quiet",
            "--json",
            "j.json",
            "--",
            "python3",
            &controller,
        ];
        let ran = halfturn(dir.path(), &args);
        assert!(
            matches!(ran.status.code(), Some(0 | 1)),
            "{}",
            complaint(&ran)
        );
        let text = std::fs::read(dir.path().join("j.json")).expect("a result");
        all.push(Document {
            schema: "judge",
            label: controller,
            value: serde_json::from_slice(&text).expect("JSON"),
        });
    }
    for name in crate::binary::names(&dir.path().join("kept")) {
        if name.ends_with(".json") {
            let text = std::fs::read(dir.path().join("kept").join(&name)).expect("scenarios");
            all.push(Document {
                schema: "scenarios",
                label: name,
                value: serde_json::from_slice(&text).expect("JSON"),
            });
        }
    }
    let optional = [
        &OPTIONAL[..],
        // The keys of a rig have defaults; those of a scenario, some.
        &[
            "failing_attempts",
            "flip_after_solves",
            "free_corrections",
            "format",
            "name",
            "drive",
            "solve",
            "loop",
            "wrap",
        ],
    ]
    .concat();
    let keys = halfturn::rig::KEYS.iter().filter(|k| !k.path.contains('*'));
    let optional: Vec<&str> = optional
        .into_iter()
        .chain(keys.filter_map(|k| k.path.rsplit('.').next()))
        .chain(["periodic", "keep_out", "framing"])
        .collect();
    let mut refused = 0;
    for document in &all {
        document.check();
        refused += document.mutate(&optional);
    }
    say(&format!(
        "judge and scenarios: {} documents, {refused} changes refused",
        all.len()
    ));
    assert!(refused > 500);
}

#[test]
fn the_test_vectors() {
    let dir = folder();
    let vectors = document(dir.path(), "vectors", &["vectors"]);
    check(&[vectors], "vectors");
}
