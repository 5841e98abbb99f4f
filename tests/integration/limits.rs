//! With every key at the ends of its range, all figures are finite.

use halfturn_engine::advise::{
    AdviceRequest, AllowedChanges, Criteria, advise, compare_rules, runs,
};
use halfturn_engine::rig::{Bound, KEYS, Rig, Rule, ValueKind, read};
use halfturn_engine::run::{Trace, run};
use halfturn_engine::sample::{Batch, Unattended, stream};
use halfturn_engine::scenario::{Policy, Scenario, read_targets};
use halfturn_engine::verdict::{Judge, Limits};
use halfturn_report::{advice_json, batch_json, trace_json};
use rayon::prelude::*;
use serde_json::Value;

use crate::binary::{complaint, folder, halfturn, names, sized, write};

/// A rig that has every section and list.
pub(crate) const RIG: &str = "
keep_out = [{ from_deg = 200, to_deg = 250 }]
[drive]
periodic = [{ cycles = 1, amplitude_deg = 0.1 }]
[framing]
sensor_width_mm = 23.5
sensor_height_mm = 15.7
focal_length_mm = 480
pixel_um = 3.76
";

const TARGETS: &str = "name,position_angle_deg\nA,0.1\nB,-360000\nC,77\n";

const PLAN: Batch = Batch { trials: 8, seed: 5 };

/// Each numeric key at each end of its range, as overrides.
fn ends() -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for key in KEYS {
        let ends = match key.kind {
            ValueKind::Number { low, high, .. } => match low {
                Bound::From(low) => vec![low, high],
                Bound::ZeroOr(low) => vec![0.0, low, high],
            },
            ValueKind::Count { low, high, .. } => vec![f64::from(low), f64::from(high)],
            _ => continue,
        };
        let path = key.path.replace('*', "0");
        found.extend(ends.iter().map(|end| vec![format!("{path}={end}")]));
    }
    found
}

/// Some of them together, where one makes the other worse.
fn together() -> Vec<Vec<String>> {
    let slow =
        "drive.speed_deg_per_s=0.001 drive.acceleration_deg_per_s2=0.001 drive.overhead_s=3600";
    let table = [
        slow,
        "drive.speed_deg_per_s=10000 drive.acceleration_deg_per_s2=0.001",
        "drive.speed_deg_per_s=10000 drive.acceleration_deg_per_s2=1000000 drive.step_deg=0.000001",
        "drive.speed_deg_per_s=0.001 loop.field_rotation_deg_per_s=1 loop.max_solves=10000",
        "loop.tolerance_deg=0.000001 loop.correction=0.001 loop.max_solves=10000",
        "loop.correction=2 drive.gain_error=0.5 loop.believed_sense=-1 loop.max_solves=10000",
        "drive.step_deg=45 drive.backlash_deg=45 drive.repeatability_deg=45 solve.noise_deg=90",
        "drive.periodic.0.cycles=1000 drive.periodic.0.amplitude_deg=45 drive.periodic.0.phase_deg=-360000",
        "drive.travel=stops drive.stop_from_deg=-360000 drive.stop_to_deg=360000 wrap.arc_start_deg=-360000",
        "drive.travel=stops drive.stop_from_deg=89.999999 drive.stop_to_deg=90.000001 wrap.rule=full-circle",
        "solve.outlier_rate=1 solve.outlier_deg=180 solve.failure_rate=0.999 solve.max_failures=1000",
        "keep_out.0.from_deg=-360000 keep_out.0.to_deg=360000 wrap.band_deg=360 wrap.rule=hysteresis-band",
        "framing.sensor_width_mm=1000 framing.sensor_height_mm=1000 framing.focal_length_mm=1 framing.pixel_um=0.01",
        "framing.sensor_width_mm=0.1 framing.sensor_height_mm=0.1 framing.focal_length_mm=100000 framing.pixel_um=1000",
        "wrap.rule=fold-once wrap.symmetry=4 drive.zero_point_deg=360000 drive.park_deg=-360000",
    ];
    let words = |line: &str| line.split(' ').map(str::to_owned).collect();
    table.into_iter().map(words).collect()
}

/// Shows (files): `null` stands only where the page says so. Source: none: own rule.
#[test]
fn every_key_at_its_ends_gives_finite_figures() {
    let targets = read_targets(TARGETS, "targets.csv").unwrap_or_else(|e| panic!("{e}"));
    let alone: Vec<_> = ends().into_iter().enumerate().collect();
    alone.into_par_iter().for_each(|(i, set)| {
        let rig = loops(&set);
        if i % sized(8, 1) != 0 {
            return;
        }
        let request = AdviceRequest {
            batch: PLAN,
            limits: Limits::default(),
            criteria: Criteria::default(),
            // The search for settings takes its time; below it is looked at with a report.
            change: AllowedChanges::only(&[]),
        };
        // One of the targets in turn.
        let advice = advise(&rig, &targets[i % 3..=i % 3], request, &Unattended);
        let advice = advice.unwrap_or_else(|e| panic!("{set:?}: {e}"));
        check(&advice_json(&advice), &set);
    });
    // Their advice is looked at with its report, below.
    let sets = together().into_iter().step_by(sized(3, 1));
    sets.collect::<Vec<_>>().into_par_iter().for_each(|set| {
        loops(&set);
    });
}

/// The rig of a set of overrides, whose loops have been looked at.
fn loops(set: &[String]) -> Rig {
    let rig = read(RIG, "rig.toml", set).unwrap_or_else(|e| panic!("{e}"));
    for target_deg in [0.1, -360_000.0] {
        let reports = compare_rules(
            &rig,
            Rule::ALL,
            target_deg,
            &Judge {
                limits: Limits::default(),
                batch: PLAN,
                monitor: &Unattended,
            },
            None,
        );
        check(&batch_json(&rig, PLAN, target_deg, &reports, true), set);
        check(&traced(&rig, target_deg), set);
    }
    rig
}

pub(crate) fn traced(rig: &Rig, target_deg: f64) -> Value {
    let policy = Policy::of(rig);
    let scenario = Scenario::new(rig, policy, target_deg);
    let mut trace = Trace::default();
    let mut rng = stream(1, 0);
    let figures = run(&scenario, &mut scenario.controller(), &mut rng, &mut trace);
    trace_json(rig, policy, target_deg, (1, 0), &figures, trace.rows())
}

/// JSON turns what is not finite into null, so every null must be one that the documents know.
pub(crate) fn check(json: &Value, set: &[String]) {
    walk(json, json, "", &mut |path, holder| {
        assert!(may_be_null(path, holder), "{set:?}: {path} is null");
    });
}

fn walk(json: &Value, holder: &Value, path: &str, null: &mut dyn FnMut(&str, &Value)) {
    match json {
        Value::Null => null(path, holder),
        Value::Array(list) => {
            for entry in list {
                walk(entry, json, path, null);
            }
        }
        Value::Object(keys) => {
            for (key, value) in keys {
                walk(value, json, &format!("{path}.{key}"), null);
            }
        }
        Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn may_be_null(path: &str, holder: &Value) -> bool {
    let mut names = path.rsplit('.');
    let (name, above) = (
        names.next().unwrap_or_default(),
        names.next().unwrap_or_default(),
    );
    match name {
        "first_hunting_trial" | "wanted_deg" | "command_deg" | "via_deg" | "solved" => true,
        "seam_distance_deg" => true,
        // Endless travel, no [framing].
        "stops_deg" | "frame_mm" => above == "dial",
        // Where one of the widths is zero there is no ratio.
        "tighter" => true,
        // No swing seen, no band or tolerance that serves, no [framing], nothing to repair, no rule that meets the
        // limits, a key that was not set.
        "persistence" | "needed_deg" | "largest_safe_deg" | "advised_deg" | "left" => {
            above == "band" || above == "left"
        }
        "low_deg" | "high_deg" | "low_corner_px" | "high_corner_px" => above == "window",
        "present_corner_px" | "advised_corner_px" | "frame_limits" => above == "window",
        "mosaic_deg" | "corner_deg" => above == "frame_limits",
        "max_corner_px" => above == "wishes",
        "repair" | "short_way_trap_deg" => above == "plan",
        "why_not" => holder["advised"] == true,
        "tolerance_high_deg" => true,
        "start_deg" | "split" => above == "repair",
        "from" => above == "changes",
        "true_error_deg" => holder["solves"] == 0,
        // Every run ends before the loop begins.
        "expected_time_s" => refused(holder),
        // The exact method does not find it for repeatability error or bias of tens of degrees.
        "true_error_mean_deg" => holder["settled"]["rate"] == 0.0 || holder["method"] == "exact",
        // A quantile over all runs, of which fewer settle.
        "settle_time_p50_s" | "settle_time_p90_s" | "settle_time_p99_s" => {
            holder["settled"]["rate"].as_f64() < Some(1.0)
        }
        "p50" | "p90" | "p99" if above == "settle_time_s" => true,
        // Too few runs for an interval of a quantile.
        "p50_low" | "p50_high" | "p90_low" | "p90_high" | "p99_low" | "p99_high" => true,
        "sd" | "mean_low" | "mean_high" => holder["n"].as_u64() < Some(2),
        "mean" | "p50" | "p90" | "p99" => {
            holder["n"] == 0 && ["settle_time_s", "true_error_deg"].contains(&above)
        }
        _ => false,
    }
}

/// Shows (files): the table of keys has the ranges that the program keeps. Source: none: internal consistency.
#[test]
fn the_documents_know_every_range() {
    let text = include_str!("../../docs/files.md");
    for key in KEYS {
        let range = match key.kind {
            ValueKind::Number { low, high, .. } => match low {
                Bound::From(low) => format!("from {low} to {high}"),
                Bound::ZeroOr(low) => format!("0, or from {low} to {high}"),
            },
            ValueKind::Count { low, high, .. } if low < high => {
                format!("whole, from {low} to {high}")
            }
            _ => String::new(),
        };
        let row = format!("| `{}` | {}", key.path, key.unit);
        let found = text.lines().find(|line| line.starts_with(row.trim_end()));
        assert!(
            found.is_some_and(|line| line.contains(&range)),
            "{}: {range}: {found:?}",
            key.path
        );
    }
}

/// The rig file that `init` writes has every key, set or behind a comment mark.
#[test]
fn the_starter_has_every_key() {
    let dir = folder();
    assert!(halfturn(dir.path(), &["init", "."]).status.success());
    let text = std::fs::read_to_string(dir.path().join("rig.toml")).expect("the starter");
    for key in KEYS {
        let name = key.path.rsplit('.').next().unwrap_or(key.path);
        let words = text.split(|c: char| c != '_' && !c.is_alphanumeric());
        assert!(words.into_iter().any(|w| w == name), "{}", key.path);
    }
}

#[test]
fn the_length_of_the_work_stays_a_number() {
    let request = |trials| AdviceRequest {
        batch: Batch { trials, seed: 1 },
        limits: Limits::default(),
        criteria: Criteria::default(),
        change: AllowedChanges::default(),
    };
    assert_eq!(runs(usize::MAX, &request(u64::MAX)), u64::MAX);
    assert_eq!(runs(3, &request(10)), (3 * 3 + 4) * 10 + 4 * 41 * 10);
}

/// The same through the program, pictures and page included, where a key divides or scales.
#[test]
fn reports_at_the_ends_show_no_infinity() {
    // The slow ones only in full length.
    let sets = together()
        .into_iter()
        .skip(sized(3, 0))
        .step_by(sized(6, 1));
    sets.collect::<Vec<_>>().into_par_iter().for_each(|set| {
        let dir = folder();
        write(dir.path(), "rig.toml", RIG);
        write(dir.path(), "targets.csv", TARGETS);
        let mut options: Vec<&str> = vec!["--quiet"];
        for given in &set {
            options.extend(["--set", given]);
        }
        let commands: [&[&str]; 3] = [
            &[
                "advise",
                "rig.toml",
                "targets.csv",
                "--trials",
                "8",
                "--out",
                "out",
            ],
            &["batch", "rig.toml", "--target", "0.1", "--trials", "8"],
            &[
                "trace",
                "rig.toml",
                "--target",
                "0.1",
                "--plot",
                "out/trace.svg",
            ],
        ];
        for command in commands {
            let out = halfturn(dir.path(), &[command, &options].concat());
            let said = complaint(&out);
            assert!(matches!(out.status.code(), Some(0 | 1)), "{set:?}: {said}");
            plain(&String::from_utf8_lossy(&out.stdout), &set);
        }
        let summary = std::fs::read(dir.path().join("out/summary.json")).unwrap_or_default();
        let summary: Value = serde_json::from_slice(&summary).unwrap_or_else(|e| panic!("{e}"));
        check(&summary, &set);
        for name in names(&dir.path().join("out")) {
            let text = std::fs::read_to_string(dir.path().join("out").join(&name));
            plain(&text.expect("a text"), &set);
        }
    });
}

pub(crate) fn plain(text: &str, set: &[String]) {
    let strange = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .find(|word| ["inf", "NaN", "nan"].contains(word));
    assert_eq!(strange, None, "{set:?}");
}

/// The faults of a target say that it is out of reach.
fn refused(target: &Value) -> bool {
    let faults = target["faults"].as_array().into_iter().flatten();
    faults
        .filter(|f| f["fault"] == "refused")
        .any(|f| f["standing"] == "exceeds")
}
