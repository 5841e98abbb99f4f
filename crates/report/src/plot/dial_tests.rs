//! Dials: which targets are named, and that no input breaks a dial.

use super::super::canvas::tests::check;
use super::*;

fn example(targets: Vec<DialTarget>) -> Dial {
    Dial {
        title: "before".to_owned(),
        stops_deg: None,
        arc_from_deg: 0.0,
        arc_width_deg: 180.0,
        band_deg: 2.0,
        keep_outs: vec![(200.0, 250.0, "filter drawer meets the pier".to_owned())],
        targets,
    }
}

fn target(i: usize, state: TargetState) -> DialTarget {
    DialTarget {
        name: format!("target {i}"),
        drive_deg: 0.01 * i as f64,
        state,
    }
}

#[test]
fn arc_keep_outs_and_targets_are_named() {
    let one = example(vec![
        target(1, TargetState::Safe),
        target(2, TargetState::Hunts),
    ]);
    let texts = check(&dial(&[one.clone(), one]));
    let keep_out = "A: keep out of 200° to 250°, filter drawer meets the pier";
    for wanted in [
        "target 1",
        "target 2",
        "0°",
        "180°",
        "1 hunts, 1 safe",
        keep_out,
    ] {
        assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
    }
}

#[test]
fn many_targets_are_dots_and_only_the_worst_are_named() {
    let all = (0..10_000).map(|i| {
        target(
            i,
            if i % 400 == 7 {
                TargetState::AtRisk
            } else {
                TargetState::Safe
            },
        )
    });
    let texts = check(&dial(&[example(all.collect())]));
    let named = texts.iter().filter(|t| t.starts_with("target ")).count();
    assert_eq!(named, 12);
    let counts = "25 at risk, 9975 safe (12 of them named)".to_owned();
    assert!(texts.contains(&counts), "{texts:?}");
}

#[test]
fn extremes_are_drawn() {
    assert!(check(&dial(&[])).contains(&"no arc to show".to_owned()));
    let bad = Dial {
        title: "<&>".repeat(100),
        stops_deg: None,
        arc_from_deg: f64::NAN,
        arc_width_deg: f64::INFINITY,
        band_deg: 1e300,
        keep_outs: vec![
            (f64::NAN, 1.0, "nowhere".to_owned()),
            (10.0, 10.0, "\u{1}".repeat(500)),
            (-1e9, 1e9, String::new()),
        ],
        targets: vec![
            DialTarget {
                name: "long name ".repeat(50),
                drive_deg: -1e9,
                state: TargetState::OutOfReach,
            },
            DialTarget {
                name: String::new(),
                drive_deg: f64::NAN,
                state: TargetState::Hunts,
            },
        ],
    };
    check(&dial(&[bad.clone(), bad.clone(), bad]));
    check(&dial(&[example(vec![])]));
    check(&dial(&[example(
        (0..24).map(|i| target(i, TargetState::Safe)).collect(),
    )]));
}

#[test]
fn a_drive_between_stops_is_a_strip_with_its_stops() {
    let mut one = example(vec![
        target(1, TargetState::Safe),
        target(2, TargetState::OutOfReach),
    ]);
    one.stops_deg = Some((-100.0, 190.0));
    one.keep_outs = vec![(300.0, 340.0, "beyond the stops".to_owned())];
    let texts = check(&dial(&[one.clone()]));
    for wanted in [
        "stop \u{2212}100°",
        "stop 190°",
        "0°",
        "180°",
        "target 1",
        "target 2",
    ] {
        assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
    }
    // On a circle, 300 to 340 would lie on the way from -60 to -20. On the line the drive never gets there.
    assert!(!texts.iter().any(|t| t == "A"), "{texts:?}");
    one.keep_outs = vec![(-60.0, -20.0, "pier".to_owned())];
    assert!(check(&dial(&[one.clone(), one])).iter().any(|t| t == "A"));
}

#[test]
fn names_take_the_room_that_is_free() {
    let name = "NGC 7000 North America Nebula";
    let long = |drive_deg| DialTarget {
        name: name.to_owned(),
        drive_deg,
        state: TargetState::Safe,
    };
    for dials in [
        vec![example(vec![long(90.0)])],
        vec![
            example(vec![long(90.0)]),
            example(vec![long(60.0), long(270.0)]),
        ],
    ] {
        let texts = check(&dial(&dials));
        assert!(!texts.iter().any(|t| t.ends_with('…')), "{texts:?}");
    }
}

/// Readers would take a number behind a name for its angle.
#[test]
fn a_target_has_its_name_and_no_number() {
    let of = |name: &str, drive_deg| DialTarget {
        name: name.to_owned(),
        drive_deg,
        state: TargetState::Safe,
    };
    let one = example(vec![of("M 31", 60.0), of(&"long name ".repeat(12), 100.0)]);
    let texts = check(&dial(std::slice::from_ref(&one)));
    assert!(texts.contains(&"M 31".to_owned()), "{texts:?}");
    assert!(texts.iter().any(|t| t.ends_with('…')), "{texts:?}");
    let mut strip = one;
    strip.stops_deg = Some((-10.0, 370.0));
    assert!(check(&dial(&[strip])).contains(&"M 31".to_owned()));
}

#[test]
fn on_a_narrow_screen_targets_have_the_numbers_of_the_list() {
    let name = "a name far too long for a telephone";
    let long = |drive_deg| DialTarget {
        name: name.to_owned(),
        drive_deg,
        state: TargetState::Safe,
    };
    let one = example(vec![long(90.0), long(20.0), long(170.0)]);
    let narrow = dial(&[one.clone(), one]).narrow.unwrap_or_default();
    let document = roxmltree::Document::parse(&narrow).expect("XML");
    let width = document.root_element().attribute("viewBox");
    assert!(
        width.is_some_and(|v| v.starts_with("0 0 400 ")),
        "{width:?}"
    );
    let texts: Vec<&str> = document
        .descendants()
        .filter(|n| n.tag_name().name() == "text")
        .filter_map(|n| n.text())
        .collect();
    for number in ["1", "2", "3"] {
        assert_eq!(
            texts.iter().filter(|t| **t == number).count(),
            2,
            "{texts:?}"
        );
    }
    assert!(!narrow.contains(name));
}
