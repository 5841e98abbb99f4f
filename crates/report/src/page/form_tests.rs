//! The page's order, its script and policy, its pictures and its weight.

use serde_json::Value;

use super::picture::{Drawn, Pictures};
use super::script::hash;
use super::tests::{HUNTING, advice, named, page as plain_page, without_scripts};
use super::{Made, render};
use crate::pictures::advice_pictures;
use halfturn_engine::advise::Advice;

const LIST: [f64; 4] = [0.0, 35.0, 129.0, 179.6];

fn drawn(advice: &Advice) -> Pictures {
    let all = advice_pictures(advice).expect("pictures");
    let of = |stem: &str| {
        let found = all.iter().find(|(name, _)| *name == stem);
        found.map(|(_, picture)| Drawn {
            wide: picture.svg.clone(),
            narrow: picture.narrow.clone(),
        })
    };
    Pictures {
        dial: of("dial"),
        loop_before: of("loop-before"),
        loop_after: of("loop-after"),
        settle_time: of("settle-time"),
        seam_distance: of("seam-distance"),
        before_after: of("before-after"),
        tolerance: of("tolerance"),
    }
}

fn page(advice: &Advice) -> String {
    render(advice, &drawn(advice), &Made::default())
}

#[test]
fn the_parts_stand_in_the_order_of_the_questions() {
    let page = page(&advice(HUNTING, &LIST));
    let places: Vec<usize> = [
        "aria-label=\"Verdict\"",
        "id=\"change\"",
        "id=\"cautions\"",
        "id=\"dial\"",
        "id=\"loop\"",
        "id=\"player\"",
        "id=\"targets\"",
        "id=\"rules\"",
        "id=\"settings\"",
        "id=\"computed\"",
        "id=\"neglected\"",
    ]
    .iter()
    .map(|mark| page.find(mark).unwrap_or_else(|| panic!("{mark}")))
    .collect();
    assert!(places.is_sorted(), "{places:?}");
    // Every entry of the contents leads somewhere.
    for piece in page.split("href=\"#").skip(1) {
        let id = piece.split('"').next().unwrap_or_default();
        assert!(page.contains(&format!("id=\"{id}\"")), "{id}");
    }
}

/// W3C, Content Security Policy Level 3, example of a hash: `alert('Hello, world.');`.
#[test]
fn the_policy_allows_the_one_script_and_no_other() {
    let known = "qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng=";
    assert_eq!(hash("alert('Hello, world.');"), known);
    let page = page(&advice(HUNTING, &LIST));
    let (_, scripts) = without_scripts(&page);
    let run: Vec<_> = scripts.iter().filter(|(tag, _)| tag.is_empty()).collect();
    assert_eq!(run.len(), 1);
    let policy = page
        .split_once("Content-Security-Policy\" content=\"")
        .and_then(|(_, rest)| rest.split_once('"'))
        .map_or("", |(policy, _)| policy);
    assert!(policy.starts_with("default-src 'none';"), "{policy}");
    let allowed = format!("script-src 'sha256-{}';", hash(&run[0].1));
    assert!(policy.contains(&allowed), "{policy}");
    // The policy stands before anything that it is to govern.
    assert!(page.find("Content-Security-Policy") < page.find("<style"));
}

#[test]
fn no_name_can_end_the_block_of_data() {
    let why = "</script><script>alert(1)</script><!--";
    let toml =
        format!("{HUNTING}[[keep_out]]\nfrom_deg = 280.0\nto_deg = 290.0\nwhy = \"{why}\"\n");
    let advice = advice(&toml, &LIST);
    let page = page(&advice);
    let (rest, scripts) = without_scripts(&page);
    assert!(!rest.contains("alert(1)</script>"));
    let data: Vec<&String> = scripts
        .iter()
        .filter_map(|(tag, text)| tag.contains("application/json").then_some(text))
        .collect();
    assert_eq!(data.len(), 2);
    for (text, example) in data
        .into_iter()
        .zip([&advice.example_before, &advice.example_after])
    {
        assert!(!text.contains('<'));
        let json: Value = serde_json::from_str(text).expect("JSON");
        // What is replayed is what the page tells.
        assert_eq!(json["dial"]["keep_outs"][0]["why"], why);
        assert_eq!(json["trial"], example.trial);
        assert_eq!(json["figures"]["solves"], example.figures.solves);
        let rows = json["rows"].as_array().expect("rows");
        assert_eq!(rows.len(), example.trace.rows().len());
        let brief = example.scenario.brief();
        assert_eq!(json["dial"]["arc_start_deg"], brief.arc_start_deg);
        assert_eq!(json["dial"]["tolerance_deg"], brief.tolerance_deg);
        assert_eq!(json["rows_left_out"], 0);
    }
}

/// In the dark a colour without a rule would stay as it is on paper.
#[test]
fn every_colour_of_a_picture_is_known_in_the_dark() {
    let sheet = include_str!("../../../../assets/page/picture.css");
    let banded =
        "[wrap]\nrule = \"hysteresis-band\"\n[[keep_out]]\nfrom_deg = 200.0\nto_deg = 210.0\n";
    let stops = HUNTING.replace(
        "[drive]",
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 100.0",
    );
    for toml in [HUNTING, banded, &stops] {
        let page = page(&advice(toml, &LIST));
        let (body, _) = without_scripts(&page);
        let body = body.split_once("</style>").expect("a style").1;
        for kind in ["fill", "stroke"] {
            for piece in body.split(&format!(" {kind}=\"#")).skip(1) {
                let colour = piece.split('"').next().unwrap_or_default();
                assert!(
                    sheet.contains(&format!("[{kind}=\"#{colour}\"]")),
                    "{kind} {colour}"
                );
            }
        }
    }
}

/// Two hundred targets with the longest names, and letters of two and three bytes.
#[test]
fn two_hundred_targets_weigh_less_than_a_megabyte() {
    let names = (0..200).map(|i| {
        let letter = ["w", "\u{448}", "\u{645}", "\u{661f}"][i % 4];
        let name = format!("{i} {}", letter.repeat(95));
        (name, (i as f64 * 7.31) % 360.0)
    });
    let mut advice = named(HUNTING, names.clone().take(8));
    for setting in [&mut advice.before, &mut advice.after] {
        let few = setting.targets.clone();
        setting.targets = names
            .clone()
            .enumerate()
            .map(|(i, (name, position_angle_deg))| {
                let mut target = few[i % few.len()].clone();
                (target.number, target.name) = (i, name);
                (target.position_angle_deg, target.drive_deg) =
                    (position_angle_deg, position_angle_deg % 180.0);
                target
            })
            .collect();
    }
    let page = render(&advice, &drawn(&advice), &Made::default());
    assert!(page.len() < 1_000_000, "{}", page.len());
    // Nothing was left out for it.
    assert_eq!(
        page.matches("<span class=\"name\" dir=\"auto\">199 ")
            .count(),
        3
    );
}

#[test]
fn ten_thousand_targets_stay_a_page() {
    let mut a = advice(HUNTING, &LIST);
    for setting in [&mut a.before, &mut a.after] {
        let few = std::mem::take(&mut setting.targets);
        setting.targets = (0..10_000)
            .map(|number| {
                let mut target = few[number % few.len()].clone();
                target.number = number;
                target.name = format!("{number:0>100}");
                target
            })
            .collect();
    }
    let page = plain_page(&a);
    assert!(page.len() < 1_000_000, "{}", page.len());
    // A row in the table of margins, and one before and after.
    let name = "<span class=\"name\" dir=\"auto\">";
    assert_eq!(page.matches(name).count(), 600);
    assert!(page.contains("9\u{a0}800 more stand in targets.csv, which has all 10\u{a0}000"));
}

#[test]
fn a_picture_that_is_missing_leaves_no_empty_figure() {
    let a = advice(HUNTING, &[0.0]);
    let page = render(&a, &Pictures::default(), &Made::default());
    assert!(!page.contains("<figure"));
}
