//! The reader of rig files and their schema: what one takes the other takes, but for what a schema cannot say.
//! Shows (trust): reader and schema of the rig file agree. Source: the crate `jsonschema`.

use halfturn_engine::rig::{Bound, KEYS, Key, Rig, ValueKind, read};
use halfturn_engine::sample::stream;
use rand::RngExt as _;
use serde_json::Value;

use super::{Document, as_json, say, validator};
use crate::binary::{folder, halfturn};

/// Values for a key, as they stand in a file: good ones, ones just outside, and other types.
fn values(key: &Key) -> Vec<String> {
    let mut all: Vec<String> = [
        "true",
        "\"x\"",
        "[]",
        "{}",
        "1979-05-27",
        "nan",
        "-inf",
        "[1, 2]",
        "[1, 2, 3]",
        "[1, \"2\"]",
        "[-95, 5]",
    ]
    .map(str::to_owned)
    .into();
    let mut numbers = |list: &[f64]| all.extend(list.iter().map(|x| format!("{x:?}")));
    match key.kind {
        ValueKind::Number { low, high, .. } => {
            let (Bound::From(low) | Bound::ZeroOr(low)) = low;
            numbers(&[
                low,
                high,
                0.5 * (low + high),
                low.next_down(),
                high.next_up(),
                0.0,
                -0.0,
            ]);
        }
        ValueKind::Count { low, high, .. } => {
            let whole = [
                i64::from(low),
                i64::from(high),
                i64::from(low) - 1,
                i64::from(high) + 1,
            ];
            all.extend(whole.map(|n| n.to_string()));
            all.extend(["1.5", "9223372036854775807", "-9223372036854775808"].map(str::to_owned));
        }
        ValueKind::Stop(_) => numbers(&[-360_000.0, 360_000.0, 360_000.0_f64.next_up()]),
        ValueKind::Sign(_) | ValueKind::Symmetry => {
            all.extend(["-1", "0", "1", "2", "3", "4", "1.5"].map(str::to_owned));
        }
        ValueKind::Choice { names, .. } => {
            all.extend(names.iter().map(|name| format!("\"{name}\"")));
            all.extend(["\"\"", "\"Direct\"", "\"half circle\""].map(str::to_owned));
        }
        ValueKind::Text(_) => {
            let texts = [
                "",
                "pier, north",
                "a\\nb",
                "a\\u0000",
                "\\u202e",
                "\\u2028",
                "\\u007f",
                "\\u0085",
                "\u{e9}\u{1f30c}",
            ];
            all.extend(texts.map(|text| format!("\"{text}\"")));
            all.extend([200, 201].map(|n| format!("\"{}\"", "\u{1f30c}".repeat(n))));
        }
        ValueKind::Span { low, high, .. } => {
            all.push(format!("[{low:?}, {high:?}]"));
            all.push(format!("[{low:?}, {:?}]", high.next_up()));
            all.push(format!("[{:?}, {high:?}]", low.next_down()));
        }
    }
    all
}

/// A file that gives one key a value, and whatever must stand beside it.
fn file_with(key: &Key, value: &str) -> String {
    let path = key.path;
    let partners: &[(&str, &str)] = match path {
        "drive.stop_from_deg" => &[("stop_to_deg", "360000.0"), ("park_deg", "360000.0")],
        "drive.stop_to_deg" => &[("stop_from_deg", "-360000.0"), ("park_deg", "-360000.0")],
        "drive.travel" => &[("stop_from_deg", "0"), ("stop_to_deg", "360")],
        "keep_out.*.from_deg" => &[("to_deg", "0.7")],
        "keep_out.*.to_deg" => &[("from_deg", "0.7")],
        _ if path.starts_with("keep_out") => &[("from_deg", "1"), ("to_deg", "2")],
        "drive.periodic.*.cycles" => &[("amplitude_deg", "1")],
        _ if path.starts_with("drive.periodic") => &[("cycles", "1"), ("amplitude_deg", "1")],
        _ if path.starts_with("framing") => &[
            ("sensor_width_mm", "20"),
            ("sensor_height_mm", "20"),
            ("focal_length_mm", "400"),
            ("pixel_um", "4"),
        ],
        _ => &[],
    };
    let (section, name) = path.rsplit_once('.').unwrap_or(("", path));
    let (section, name) = match section {
        "keep_out.*.when" => ("keep_out.*", format!("when.{name}")),
        _ => (section, name.to_owned()),
    };
    let mut text = match section {
        "" => String::new(),
        list if list.ends_with(".*") => format!("[[{}]]\n", list.trim_end_matches(".*")),
        section => format!("[{section}]\n"),
    };
    for (partner, value) in partners.iter().filter(|(partner, _)| *partner != name) {
        text.push_str(&format!("{partner} = {value}\n"));
    }
    text.push_str(&format!("{name} = {value}\n"));
    text
}

/// Rules that only the reader knows: those over several keys.
const READER_ONLY: [&str; 4] = [
    "must be between the stops",
    "must be above drive.stop_from_deg",
    "must be above from_deg",
    "the second must not be below the first",
];

/// Compares on a file. What the schema refuses the reader refuses; what only the reader refuses is one of its rules.
fn compare(text: &str, tally: &mut [usize; 3]) {
    let json = as_json(text);
    let schema = validator("rig").is_valid(&json);
    match read(text, "rig.toml", &[]) {
        Ok(_) => {
            assert!(
                schema,
                "the schema refuses {text}: {:?}",
                super::faults("rig", &json)
            );
            tally[0] += 1;
        }
        Err(error) if schema => {
            let said = error.to_string();
            assert!(
                READER_ONLY.iter().any(|rule| said.contains(rule)),
                "{text}: {said}"
            );
            tally[2] += 1;
        }
        Err(_) => tally[1] += 1,
    }
}

#[test]
fn every_key_at_its_ends_just_outside_and_of_another_type() {
    let mut tally = [0; 3];
    for key in KEYS {
        for value in values(key) {
            compare(&file_with(key, &value), &mut tally);
        }
        let unknown = file_with(key, "1").replace(" = 1\n", "x = 1\n");
        let json = as_json(&unknown);
        assert!(!validator("rig").is_valid(&json), "{unknown}");
        assert!(read(&unknown, "rig.toml", &[]).is_err(), "{unknown}");
    }
    say(&format!(
        "rig files, a key each: {} taken by both, {} refused by both, {} by the reader alone",
        tally[0], tally[1], tally[2]
    ));
    assert!(tally[0] > 150 && tally[1] > 600, "{tally:?}");
}

/// Files of many keys with good and bad values, from a fixed seed.
#[test]
fn files_of_many_keys() {
    let mut random = stream(5, 0);
    let mut tally = [0; 3];
    for _ in 0..4000 {
        let mut settings = toml::Table::new();
        let bad = random.random_range(0..3) == 0;
        for key in KEYS.iter().filter(|k| !k.path.contains('*')) {
            if random.random_range(0..4) > 0 {
                continue;
            }
            let all = values(key);
            let picked = &all[random.random_range(0..all.len())];
            let text = file_with(key, picked);
            let mine: toml::Table = toml::from_str(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
            if !bad && read(&text, "", &[]).is_err() {
                continue;
            }
            for (section, value) in mine {
                match (settings.get_mut(&section), value) {
                    (Some(toml::Value::Table(there)), toml::Value::Table(more)) => {
                        there.extend(more)
                    }
                    (_, value) => drop(settings.insert(section, value)),
                }
            }
        }
        compare(&settings.to_string(), &mut tally);
    }
    say(&format!(
        "rig files of many keys: {} taken by both, {} refused by both, {} by the reader alone",
        tally[0], tally[1], tally[2]
    ));
    assert!(tally[0] > 500 && tally[1] > 500, "{tally:?}");
}

/// Structure: what is missing, of the wrong kind, too long, or there twice.
#[test]
fn sections_and_lists() {
    let many = |n: usize| {
        format!(
            "[drive]\nperiodic = [{}]\n",
            "{cycles=1,amplitude_deg=0.1},".repeat(n)
        )
    };
    let files = [
        String::new(),
        "format = 1\n".into(),
        "format = 2\n".into(),
        "format = 0\n".into(),
        "drive = 1\n".into(),
        "keep_out = {}\n".into(),
        "keep_out = [1]\n".into(),
        "keep_out = []\n".into(),
        "[[keep_out]]\n".into(),
        "[[keep_out]]\nfrom_deg = 1\n".into(),
        "[[keep_out]]\nfrom_deg = 1\nto_deg = 2\nwhen = 3\n".into(),
        "[[keep_out]]\nfrom_deg = 1\nto_deg = 2\nwhen = {}\n".into(),
        "[framing]\n".into(),
        "[framing]\nsensor_width_mm = 20\n".into(),
        "[drive]\ntravel = \"stops\"\n".into(),
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\n".into(),
        "[drive]\n\"step_deg.x\" = 1\n".into(),
        "[\"loop.x\"]\n".into(),
        "[drive.periodic]\ncycles = 1\n".into(),
        many(1000),
        many(1001),
    ];
    let mut tally = [0; 3];
    files.iter().for_each(|text| {
        // What only the reader refuses there is a missing stop, which the schema must know too.
        compare(text, &mut tally);
    });
    assert_eq!(tally, [5, 16, 0]);
}

/// docs/files.md says what a schema cannot: here the reader refuses and the schema takes.
#[test]
fn what_a_schema_cannot_say() {
    for text in [
        "[loop]\nmax_solves = 20.0\n", // whole, but written as a fraction
        "[drive]\nsense = 1.0\n",
        "[drive]\npark_deg = 0x5A\n", // whole numbers only
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 9\nstop_to_deg = 1\n",
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\nstop_to_deg = 1\n", // parked outside
        "[[keep_out]]\nfrom_deg = 10\nto_deg = 10\n",
        "[[keep_out]]\nfrom_deg = 10\nto_deg = 20\nwhen.altitude_deg = [60, 30]\n",
    ] {
        assert!(read(text, "", &[]).is_err(), "{text}");
        assert!(validator("rig").is_valid(&as_json(text)), "{text}");
    }
}

/// Every rig that the program writes, and those of the reference cases.
#[test]
fn rigs_that_come_along() {
    let dir = folder();
    assert!(halfturn(dir.path(), &["init", "."]).status.success());
    let starter = std::fs::read_to_string(dir.path().join("rig.toml")).expect("a rig");
    let mut all = vec![("the starter".to_owned(), as_json(&starter))];
    let cases: Value = serde_json::from_str(include_str!(
        "../../../../../tests/data/reference_cases.json"
    ))
    .expect("JSON");
    let list = cases["cases"].as_array().expect("a list");
    all.extend(
        list.iter()
            .map(|case| (case["name"].to_string(), case["rig"].clone())),
    );
    for rig in super::rigs::RIGS {
        let changes: Vec<String> = rig.1.iter().map(|c| (*c).to_owned()).collect();
        let made: Rig = read("", "", &changes).unwrap_or_else(|e| panic!("{e}"));
        all.push((
            rig.0.to_owned(),
            as_json(&halfturn_engine::rig::commented(&made)),
        ));
        all.push((rig.0.to_owned(), serde_json::json!(made.settings())));
    }
    assert!(all.len() > 70);
    for (label, value) in all {
        Document {
            schema: "rig",
            label,
            value,
        }
        .check();
    }
}
