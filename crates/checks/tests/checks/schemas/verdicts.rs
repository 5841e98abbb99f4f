//! The JSON of advice and judgements, with the certificates, rigs and scenarios that come with them.

use super::rigs::{RIGS, set};
use super::written::{OPTIONAL, check, document};
use super::{Document, as_json, say};
use crate::binary::{complaint, example, folder, halfturn, in_root, there_is, write};

#[test]
fn advice_over_many_rigs() {
    let dir = folder();
    write(dir.path(), "rig.toml", "");
    let targets = "name,position_angle_deg\n\"one, on the seam\",0\ntwo,33\nthree,121.5\n";
    write(dir.path(), "targets.csv", targets);
    let log = &in_root("assets/demo-log.csv");
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
            "as it is" => &["--flips"],
            "framed" => &["--max-corner-px", "3", "--clear-of-keep-outs"],
            "hunts" => &["--change", "arc,tolerance"],
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
    for change in ["arc,band,tolerance,rule,approach", "tolerance"] {
        let any: &[&str] = &["advise", "rig.toml", "--trials", "300", "--out", "any"];
        all.push(document(
            dir.path(),
            "advise-any-target",
            &[any, &["--change", change]].concat(),
        ));
    }
    let draws: &[&str] = &["--uncertain", log, "--draws", "12", "--min-share", "0.999"];
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
            // What an earlier version leaves out.
            "remarks",
            "coverage",
            "margin",
            "format",
            "name",
            "drive",
            "solve",
            "loop",
            "wrap",
        ],
    ]
    .concat();
    let keys = halfturn_engine::rig::KEYS
        .iter()
        .filter(|k| !k.path.contains('*'));
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
