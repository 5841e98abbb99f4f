//! Next to the ends of every range, and what is no number: refused by name. A negative zero: a zero.

use halfturn_engine::advise::compare_rules;
use halfturn_engine::rig::{Bound, DEMO_RIG, KEYS, Rule, ValueKind, read};
use halfturn_engine::sample::Unattended;
use halfturn_engine::verdict::{Judge, Limits};
use halfturn_report::batch_json;

use super::PLAN;
use super::table::SUBNORMAL;
use crate::binary::{complaint, folder, halfturn, write};
use crate::limits::{RIG, traced};

/// Shows (trust): what is just outside a range, or no number, is refused with key, value and range; a negative zero is
/// a zero. With: `a_negative_zero_is_a_zero`, `options_out_of_range_are_refused`. Source: none: own rule.
#[test]
fn just_outside_is_refused_by_name() {
    for key in KEYS {
        let path = key.path.replace('*', "0");
        let mut outside: Vec<String> = [
            "nan", "-nan", "inf", "-inf", "1e999", "-1e999", "\"1\"", "true", "[]",
        ]
        .map(str::to_owned)
        .into();
        match key.kind {
            ValueKind::Number { low, high, .. } => {
                let least = match low {
                    Bound::From(low) => low,
                    Bound::ZeroOr(low) => {
                        outside.extend([SUBNORMAL, -SUBNORMAL].map(|x| format!("{x:e}")));
                        low
                    }
                };
                let beyond = [least.next_down(), high.next_up(), f64::MAX, f64::MIN];
                outside.extend(beyond.map(|x| format!("{x:e}")));
                outside.extend(["100000000000000000000000000000", "0x10"].map(str::to_owned));
            }
            ValueKind::Count { low, high, .. } => {
                let beyond = [
                    i64::from(low) - 1,
                    i64::from(high) + 1,
                    1 << 32,
                    i64::MAX,
                    i64::MIN,
                ];
                outside.extend(beyond.map(|n| n.to_string()));
                outside.extend(["1.5", "9223372036854775808"].map(str::to_owned));
            }
            ValueKind::Sign(_) => outside.extend(["0", "2", "-2", "1.5"].map(str::to_owned)),
            ValueKind::Symmetry => outside.extend(["0", "3", "-1", "8", "1.5"].map(str::to_owned)),
            ValueKind::Stop(_) => {
                outside.extend(["360000.00000000006", "-360000.00000000006"].map(str::to_owned))
            }
            _ => continue,
        }
        for value in outside {
            let given = format!("{path}={value}");
            let error = read(RIG, "rig.toml", std::slice::from_ref(&given));
            let said = error
                .err()
                .unwrap_or_else(|| panic!("{given} is taken"))
                .to_string();
            assert!(said.contains(&format!(" {path} = ")), "{given}: {said}");
            let newer = path == "format" && said.contains("reads format 1");
            assert!(newer || said.contains(": must be "), "{given}: {said}");
            // As it was written, or in its shortest form where it is text.
            let shown = value.parse::<f64>().is_ok_and(f64::is_finite) || value.starts_with("0x");
            assert!(
                !shown || said.contains(&format!("= {value}: ")),
                "{given}: {said}"
            );
        }
    }
}

/// A negative zero is a zero: the same rig, and the same figures to the last bit.
#[test]
fn a_negative_zero_is_a_zero() {
    let zeros = |zero: &str| -> Vec<String> {
        let with_zero = KEYS.iter().filter(|k| match k.kind {
            ValueKind::Number {
                low: Bound::ZeroOr(_),
                ..
            } => true,
            ValueKind::Number {
                low: Bound::From(low),
                high,
                ..
            } => (low..=high).contains(&0.0),
            _ => false,
        });
        // A keep-out from 0 to 0 would be none.
        let apart = with_zero.filter(|k| k.path != "keep_out.*.to_deg");
        apart
            .map(|k| format!("{}={zero}", k.path.replace('*', "0")))
            .collect()
    };
    let (plus, minus) = (zeros("0"), zeros("-0.0"));
    assert!(plus.len() > 25);
    let rig = |set: &[String]| read(RIG, "rig.toml", set).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(rig(&plus).digest(), rig(&minus).digest());
    let json = |set: &[String], target_deg: f64| {
        let rig = rig(set);
        let compared = compare_rules(
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
        let mut json = batch_json(&rig, PLAN, target_deg, &compared, true);
        json["target_deg"] = 0.into();
        (json, traced(&rig, target_deg)["rows"].clone())
    };
    assert_eq!(json(&plus, 0.0), json(&minus, -0.0));
}

/// Options that take a number, at values that are none of theirs.
#[test]
fn options_out_of_range_are_refused() {
    let dir = folder();
    write(dir.path(), "rig.toml", DEMO_RIG);
    let shares = [
        "0",
        "-0.0",
        "1",
        "nan",
        "inf",
        "-1e-300",
        "1e999",
        "1.0000000000000002",
        "x",
        "",
    ];
    let angles = [
        "nan",
        "inf",
        "-inf",
        "1e999",
        "360000.00000000006",
        "-360000.00000000006",
        "",
        "1,5",
    ];
    let counts = ["0", "-1", "1.5", "nan", "18446744073709551616", "1e3", ""];
    let table: [(&[&str], &str, &[&str]); 14] = [
        (&["trace"], "--target", &angles),
        (&["batch", "--target", "0"], "--half-width", &shares),
        (&["batch", "--target", "0"], "--trials", &counts),
        (&["batch", "--target", "0"], "--threads", &counts),
        (&["batch", "--target", "0"], "--seed", &counts[1..]),
        (&["sweep", "--vary", "target=0:1:2"], "--trials", &counts),
        (&["advise"], "--tail-probability", &shares),
        (&["advise"], "--settle-chance", &shares),
        (&["advise"], "--max-fault", &shares),
        (
            &["advise"],
            "--max-corner-px",
            &["0", "-0.0", "nan", "inf", "1e999", "-5e-324"],
        ),
        (
            &["advise"],
            "--flats-within",
            &["nan", "inf", "-5e-324", "90.00000000000001"],
        ),
        (
            &["advise", "--uncertain", "log.csv"],
            "--min-share",
            &shares,
        ),
        (
            &["fit", "--plan"],
            "--accuracy",
            &[
                "0",
                "nan",
                "inf",
                "-1",
                "9.999999999999999e-5",
                "10.000000000000002",
            ],
        ),
        (
            &["judge"],
            "--answer-timeout",
            &["0", "-1", "nan", "inf", "1e999"],
        ),
    ];
    for (command, option, values) in table {
        for value in values {
            let given = format!("{option}={value}");
            let mut args = command.to_vec();
            args.push(&given);
            if command == ["judge"] {
                args.extend(["--", "true"]);
            }
            let out = halfturn(dir.path(), &args);
            assert_eq!(out.status.code(), Some(2), "{args:?}");
            assert!(
                complaint(&out).contains(option),
                "{args:?}: {}",
                complaint(&out)
            );
        }
    }
}
