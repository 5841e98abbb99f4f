//! The whole page: well-formed, self-contained, small, and safe for any names that the user chooses.

use serde_json::Value;

use super::render;
use super::script::hash;
use crate::advice::Provenance;
use crate::document::Pictures;
use crate::folder::inline;
use crate::pictures::advice_pictures;
use halfturn_engine::advise::{Advice, AdviceRequest, AllowedChanges, Criteria, advise};
use halfturn_engine::rig::read;
use halfturn_engine::sample::{Batch, Unattended};
use halfturn_engine::scenario::Target;
use halfturn_engine::verdict::Limits;

/// A rig that hunts at its seam.
const HUNTING: &str = r#"
name = "Tom & Ann's \"big\" <refractor>"
[drive]
periodic = [ { cycles = 1, amplitude_deg = 0.15, phase_deg = 90.0 } ]
[loop]
tolerance_deg = 0.3
"#;

const LIST: [f64; 4] = [0.0, 35.0, 129.0, 179.6];

fn advice(toml: &str, angles: &[f64]) -> Advice {
    named(toml, angles.iter().map(|a| (format!("T{a}"), *a)))
}

fn named(toml: &str, targets: impl Iterator<Item = (String, f64)>) -> Advice {
    let rig = read(toml, "test", &[]).expect("a valid rig");
    let targets: Vec<Target> = targets
        .map(|(name, position_angle_deg)| Target {
            name,
            position_angle_deg,
            ra_deg: None,
            dec_deg: None,
            minutes: None,
            after_deg: None,
        })
        .collect();
    let batch = Batch {
        trials: 4000,
        seed: 1,
    };
    let request = AdviceRequest {
        batch,
        limits: Limits::default(),
        criteria: Criteria::default(),
        change: AllowedChanges::default(),
    };
    advise(&rig, &targets, request, &Unattended).expect("advice")
}

/// The page with its pictures, checked to be well-formed.
fn page(advice: &Advice) -> String {
    let pictures = inline(&advice_pictures(advice));
    let made = Provenance {
        command: "halfturn advise rig.toml <targets>.csv".to_owned(),
        trace_command: "halfturn trace rig.toml --seed 1".to_owned(),
        version: "0.0.0".to_owned(),
        rig_file: "rig & co.toml".to_owned(),
        targets_file: "targets.csv".to_owned(),
        one_file: None,
    };
    let page = render(advice, &pictures, &made);
    check(&page);
    page
}

/// Every element is closed in order, nothing is fetched, and only the one script runs.
fn check(page: &str) {
    let (page, scripts) = without_scripts(page);
    let run: Vec<&String> = scripts
        .iter()
        .filter_map(|(tag, text)| tag.is_empty().then_some(text))
        .collect();
    assert_eq!(run, [&super::script::source()]);
    let (head, body) = page.split_once("</style>").expect("a style");
    let style = head.split_once("<style>").expect("a style").1;
    assert!(!style.contains('<') && !style.contains("url(") && !style.contains("@import"));
    let body = body.split_once("</head>").expect("a head").1;
    let body = body.trim_end_matches("</html>");
    roxmltree::Document::parse(body).expect("elements that are closed in order");
    let links = body.replace("http://www.w3.org/2000/svg", "");
    for banned in ["http:", "https:", " src=", "<link", "<?xml", "NaN", "inf "] {
        assert!(!links.contains(banned), "{banned}");
    }
    for piece in page.split(" id=\"").skip(1) {
        let id = piece.split('"').next().unwrap_or_default();
        assert_eq!(page.matches(&format!(" id=\"{id}\"")).count(), 1, "{id}");
    }
}

/// The page without its scripts, and for each script its attributes and its text.
fn without_scripts(page: &str) -> (String, Vec<(String, String)>) {
    let (mut rest, mut kept, mut scripts) = (page, String::new(), Vec::new());
    while let Some((before, after)) = rest.split_once("<script") {
        let (tag, after) = after.split_once('>').expect("a closed tag");
        let (text, after) = after.split_once("</script>").expect("an end");
        kept.push_str(before);
        scripts.push((tag.trim().to_owned(), text.to_owned()));
        rest = after;
    }
    kept.push_str(rest);
    (kept, scripts)
}

/// Shows (files): the report's files, order, weight; names of the user are no markup. With:
/// `a_long_list_weighs_less_than_a_megabyte`, `text_of_the_user_is_never_markup`. Source: none: own rule.
#[test]
fn the_answer_stands_first_and_the_rest_in_the_order_of_the_questions() {
    let a = advice(HUNTING, &LIST);
    let page = page(&a);
    let places: Vec<usize> = [
        "<h1>Tom &amp; Ann's &quot;big&quot; &lt;refractor&gt;</h1>",
        "2 of 4 targets hunt.",
        "Set the start of the arc to ",
        "[wrap]\narc_start_deg = ",
        "T179.6</bdi> hunts in ",
        "id=\"cautions\"",
        "id=\"targets\"",
        "id=\"safe\"",
        "id=\"loop\"",
        "id=\"player\"",
        "id=\"tolerance\"",
        "id=\"rules\"",
        "id=\"computed\"",
        "rig &amp; co.toml",
    ]
    .iter()
    .map(|mark| page.find(mark).unwrap_or_else(|| panic!("{mark}")))
    .collect();
    assert!(places.is_sorted(), "{places:?}");
    // The command shows the very run whose moves the page counts.
    let (trial, target) = (a.example_before.trial, a.shown().position_angle_deg);
    assert!(page.contains(&format!(
        "Run {trial} of 4\u{a0}000 is the first one that hunts"
    )));
    let start = a.after.arc.start_deg;
    for set in [
        String::new(),
        format!(" --set wrap.arc_start_deg={start:?}"),
    ] {
        let replay =
            format!("halfturn trace rig.toml --seed 1{set} --target {target} --trial {trial}<");
        assert!(page.contains(&replay), "{replay}");
    }
}

#[test]
fn text_of_the_user_is_never_markup() {
    let names = ["<script>alert(1)</script>", "\"quoted\" & 'so on'"];
    let toml =
        format!("{HUNTING}\n[[keep_out]]\nfrom_deg = 0.0\nto_deg = 360.0\nwhy = \"<b>pier\"");
    for toml in [HUNTING, &toml] {
        let names = names.iter().map(|n| (*n).to_owned());
        let page = page(&named(toml, names.zip([0.0, 179.9])));
        assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
        assert!(!page.contains("<b>pier"));
    }
}

/// Shows (files): the report opens without network and replays the hunt. With:
/// `browser_report::the_player_replays_the_loop`, `browser_report::without_script_all_is_there_but_the_player`. Source:
/// W3C Content Security Policy Level 3, example of a hash (`alert('Hello, world.');`).
#[test]
fn the_policy_allows_the_one_script_and_no_other() {
    let known = "qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng=";
    assert_eq!(hash("alert('Hello, world.');"), known);
    let a = advice(HUNTING, &LIST);
    let page = render(&a, &Pictures::new(), &Provenance::default());
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
    // The policy must come before whatever it governs.
    assert!(page.find("Content-Security-Policy") < page.find("<style"));
    // A missing picture leaves no empty figure.
    assert!(!page.contains("<figure"));
}

#[test]
fn no_name_can_end_the_block_of_data() {
    let why = "</script><script>alert(1)</script><!--";
    let toml =
        format!("{HUNTING}[[keep_out]]\nfrom_deg = 280.0\nto_deg = 290.0\nwhy = \"{why}\"\n");
    let advice = advice(&toml, &LIST);
    let (rest, scripts) = without_scripts(&page(&advice));
    assert!(!rest.contains("alert(1)</script>"));
    let data: Vec<&String> = scripts
        .iter()
        .filter_map(|(tag, text)| tag.contains("application/json").then_some(text))
        .collect();
    assert_eq!(data.len(), 2);
    let examples = [&advice.example_before, &advice.example_after];
    for (text, example) in data.into_iter().zip(examples) {
        assert!(!text.contains('<'));
        let json: Value = serde_json::from_str(text).expect("JSON");
        // The player shows what the page says.
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

/// In the dark, a colour without a rule would stay as on paper.
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
        let (body, _) = without_scripts(&page(&advice(toml, &LIST)));
        let body = body.split_once("</style>").expect("a style").1;
        for kind in ["fill", "stroke"] {
            for piece in body.split(&format!(" {kind}=\"#")).skip(1) {
                let colour = piece.split('"').next().unwrap_or_default();
                let rule = format!("[{kind}=\"#{colour}\"]");
                assert!(sheet.contains(&rule), "{kind} {colour}");
            }
        }
    }
}

/// Long names in letters of one to three bytes.
#[test]
fn a_long_list_weighs_less_than_a_megabyte() {
    let few = advice(HUNTING, &LIST);
    for n in [200, 10_000] {
        let mut a = few.clone();
        for setting in [&mut a.before, &mut a.after] {
            let some = std::mem::take(&mut setting.targets);
            setting.targets = (0..n)
                .map(|number| {
                    let mut target = some[number % some.len()].clone();
                    let letter = ["w", "\u{448}", "\u{645}", "\u{661f}"][number % 4];
                    (target.number, target.name) =
                        (number, format!("{number} {}", letter.repeat(95)));
                    target
                })
                .collect();
        }
        let page = page(&a);
        assert!(page.len() < 1_000_000, "{}", page.len());
        // Half of them are safe now and then. Each table has at most two hundred rows.
        let rows = page
            .matches("<th scope=\"row\"><bdi class=\"name\">")
            .count();
        assert_eq!(rows, n.min(400), "{n}");
        assert_eq!(
            page.contains("4\u{a0}800 more stand in targets.csv"),
            n > 400
        );
    }
}

#[test]
fn warnings_and_loops_of_their_own_making_are_told() {
    let right = page(&advice(HUNTING, &LIST));
    assert!(!right.contains("Check the rig file"));
    assert!(right.contains("The errors at the two ends of the arc differ"));
    let wrong = advice("[loop]\nbelieved_sense = -1", &[0.0, 90.0]);
    let page = page(&wrong);
    assert!(page.contains("Check the rig file"));
    // The loop makes its own errors: the ends of the arc are not to blame.
    assert!(wrong.example_before.figures.hunting());
    assert!(page.contains("Its corrections themselves enlarge the error"));
    assert!(!page.contains("the two ends of the arc differ"));
}
