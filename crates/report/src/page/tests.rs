//! The page as a whole: well-formed, self-contained, and right in every case of the verdict.

use super::verdict::{present, too_few};
use super::{Drawn, Made, Pictures, render};
use halfturn_engine::advise::{Advice, Changes, Outcome, Request, Wishes, advise};
use halfturn_engine::rig::read;
use halfturn_engine::sample::{Batch, Unattended};
use halfturn_engine::scenario::Target;
use halfturn_engine::verdict::{Limits, State};

/// A rig that hunts at its seam.
pub(super) const HUNTING: &str = r#"
name = "Tom & Ann's \"big\" <refractor>"
[drive]
periodic = [ { cycles = 1, amplitude_deg = 0.15, phase_deg = 90.0 } ]
[loop]
tolerance_deg = 0.3
"#;

const LIST: [f64; 8] = [0.0, 22.0, 35.0, 64.0, 129.0, 157.0, 171.0, 179.6];

pub(super) fn advice(toml: &str, angles: &[f64]) -> Advice {
    named(toml, angles.iter().map(|a| (format!("T{a}"), *a)))
}

pub(super) fn named(toml: &str, targets: impl Iterator<Item = (String, f64)>) -> Advice {
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
    let request = Request {
        batch: Batch {
            trials: 5000,
            seed: 1,
        },
        limits: Limits::default(),
        wishes: Wishes::default(),
        change: Changes::default(),
    };
    advise(&rig, &targets, request, &Unattended).expect("advice")
}

pub(super) fn page(advice: &Advice) -> String {
    let pictures = empty_pictures();
    let made = Made {
        command: "halfturn advise rig.toml <targets>.csv".to_owned(),
        trace_command: "halfturn trace rig.toml --seed 1".to_owned(),
        version: "0.0.0".to_owned(),
        rig_file: "rig & co.toml".to_owned(),
        targets_file: "targets.csv".to_owned(),
    };
    let page = render(advice, &pictures, &made);
    check(&page);
    page
}

fn empty_pictures() -> Pictures {
    let svg = || {
        let svg = "<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\"></svg>";
        Some(Drawn {
            wide: svg.to_owned(),
            narrow: Some(svg.to_owned()),
        })
    };
    Pictures {
        dial: svg(),
        loop_before: svg(),
        loop_after: svg(),
        settle_time: svg(),
        seam_distance: svg(),
        before_after: svg(),
        tolerance: svg(),
    }
}

/// Every element is closed in order, nothing is fetched, nothing but the one script is run, and no user text is markup.
fn check(page: &str) {
    let (page, scripts) = without_scripts(page);
    let page = page.as_str();
    let run: Vec<&String> = scripts
        .iter()
        .filter_map(|(tag, text)| tag.is_empty().then_some(text))
        .collect();
    assert_eq!(run, [&super::script::source()]);
    let mut open: Vec<&str> = Vec::new();
    let (head, body) = page.split_once("</style>").expect("a style");
    let style = head.split_once("<style>").expect("a style").1;
    assert!(!style.contains('<') && !style.contains("url(") && !style.contains("@import"));
    for piece in body.split('<').skip(1) {
        let (tag, _) = piece.split_once('>').expect("a closed tag");
        let name = tag
            .split([' ', '/'])
            .find(|s| !s.is_empty())
            .expect("a name");
        if tag.starts_with('/') {
            assert_eq!(
                open.pop(),
                Some(name).filter(|_| name != "html" && name != "head")
            );
            if open.is_empty() && name == "body" {
                break;
            }
        } else if name != "head" {
            open.push(name);
        }
        if name == "head" {
            open.clear();
        }
    }
    let links = page.replace("http://www.w3.org/2000/svg", "");
    for banned in [
        "http:", "https:", "//cdn", "<script", " src=", "<link", "<?xml", "NaN", "inf ",
    ] {
        assert!(!links.contains(banned), "{banned}");
    }
    for id in [
        "change",
        "cautions",
        "loop",
        "targets",
        "rules",
        "computed",
        "neglected",
    ] {
        assert_eq!(page.matches(&format!("id=\"{id}\"")).count(), 1, "{id}");
    }
}

/// The page without its scripts, and of each script what its tag says and its text.
pub(super) fn without_scripts(page: &str) -> (String, Vec<(String, String)>) {
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

fn says(advice: &Advice) -> (String, String) {
    let plain = |s: String| s.replace('\u{a0}', " ");
    (plain(present(advice)), advice.headline())
}

#[test]
fn the_new_start_cures_a_list_that_hunts() {
    let a = advice(HUNTING, &LIST);
    assert_eq!(a.outcome, Outcome::Solves);
    let (now, then) = says(&a);
    assert_eq!(
        now,
        "Now (rule half circle, arc from 0 deg to 180 deg, tolerance 0.3 deg): 2 of 8 targets hunt."
    );
    assert_eq!(
        then,
        "Set the start of the arc to 277 deg (now 0): then all 8 targets are safe."
    );
    let page = page(&a);
    assert!(page.contains("[wrap]\narc_start_deg = 277.0    # was 0.0\n"));
    assert!(page.contains("<h1>Tom &amp; Ann's &quot;big&quot; &lt;refractor&gt;</h1>"));
    assert!(page.contains("&lt;targets&gt;.csv") && page.contains("rig &amp; co.toml"));
    assert!(page.contains("ping-pongs, as"));
    assert!(page.contains("swings to the other end"));
    // The command shows the very run that the page counts.
    let trial = a.example_before.trial;
    let target = a.shown().position_angle_deg;
    assert!(page.contains(&format!("Run number {trial} (counted from 0)")));
    let replay =
        format!("halfturn trace rig.toml --seed 1 --target {target} --trial {trial}</code>");
    assert!(page.contains(&replay), "{replay}");
    let replay =
        format!("--seed 1 --set wrap.arc_start_deg=277.0 --target {target} --trial {trial}</code>");
    assert!(page.contains(&replay), "{replay}");
}

#[test]
fn text_of_the_user_is_never_markup() {
    let names = ["<script>alert(1)</script>", "\"quoted\" & 'so on'"];
    let toml =
        format!("{HUNTING}\n[[keep_out]]\nfrom_deg = 0.0\nto_deg = 360.0\nwhy = \"<b>pier\"");
    for toml in [HUNTING, &toml] {
        let a = named(
            toml,
            names.iter().map(|n| (*n).to_owned()).zip([0.0, 179.9]),
        );
        let page = page(&a);
        assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
        assert!(!page.contains("<b>pier"));
    }
}

#[test]
fn a_safe_list_needs_no_change() {
    let a = advice("", &[60.0, 90.0, 100.0]);
    assert_eq!(a.outcome, Outcome::NotNeeded);
    let (now, then) = says(&a);
    assert!(now.ends_with("all 3 targets are safe."), "{now}");
    assert_eq!(then, "All 3 targets are safe. Nothing needs to change.");
    let page = page(&a);
    assert!(!page.contains("# was"));
    assert!(!page.contains("Advised</th>"));
}

#[test]
fn one_target_is_spoken_of_as_one() {
    let a = advice(HUNTING, &[0.0]);
    let (now, then) = says(&a);
    assert!(now.ends_with("the target hunts."), "{now}");
    assert_eq!(
        then,
        "Set the start of the arc to 90 deg (now 0): then the target is safe."
    );
    page(&a);
}

#[test]
fn where_no_start_helps_another_rule_or_tolerance_does() {
    // Targets so close that the seam is near one of them wherever it is.
    let close: Vec<f64> = (0..60).map(|i| 3.0 * f64::from(i)).collect();
    let a = advice(
        "[drive]\nbacklash_deg = 0.6\n[loop]\ntolerance_deg = 0.35",
        &close,
    );
    assert!(a.holds());
    assert!(page(&a).contains("# was &quot;half-circle&quot;"));

    // Nothing but the tolerance helps here.
    let blind = advice(
        "[loop]\ntolerance_deg = 0.01\n[drive]\nbacklash_deg = 0.5",
        &[80.0, 90.0, 100.0],
    );
    assert_eq!(blind.before.count(State::DoesNotSettle), 3);
    assert!(blind.holds(), "{}", blind.headline());
    assert!(self::page(&blind).contains("tolerance_deg = "));
}

#[test]
fn a_change_that_does_not_help_is_not_advised() {
    // No setting makes a solve succeed.
    let a = advice("[solve]\nfailure_rate = 1", &[60.0, 65.0]);
    assert_eq!(a.outcome, Outcome::NoImprovement);
    assert!(a.changes.is_empty() && a.after == a.before);
    let (now, then) = says(&a);
    assert!(now.ends_with("both targets find no solution."), "{now}");
    assert_eq!(
        then,
        "No better settings were found: both targets find no solution."
    );
    let page = page(&a);
    assert!(!page.contains("arc_start_deg = "));
    assert!(page.contains("T60</bdi></strong>") && page.contains("T65</bdi></strong>"));
}

#[test]
fn a_full_circle_has_no_seam_to_move() {
    let a = advice("[wrap]\nrule = \"full-circle\"", &[0.0, 90.0]);
    assert_eq!(
        says(&a).1,
        "Both targets are safe. Nothing needs to change."
    );
    assert!(!page(&a).contains("From the seam"));
}

#[test]
fn keep_outs_and_stops_are_spoken_of() {
    let clear = "[[keep_out]]\nfrom_deg = 280.0\nto_deg = 300.0";
    assert!(
        page(&advice(&format!("{HUNTING}{clear}"), &[0.0])).contains("is clear of every keep-out.")
    );
    let all = "[[keep_out]]\nfrom_deg = 0.0\nto_deg = 355.0";
    let page_all = page(&advice(&format!("{HUNTING}{all}"), &[0.0]));
    assert!(
        page_all.contains("The arc overlaps a keep-out")
            && page_all.contains("Every run turns through")
    );
    let stops = HUNTING.replace(
        "[drive]",
        "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 370.0",
    );
    assert!(page(&advice(&stops, &[0.0])).contains("The arc fits between the stops."));
    let tight = HUNTING.replace(
        "[drive]",
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 100.0",
    );
    assert!(page(&advice(&tight, &[10.0, 150.0])).contains("out of reach"));
}

#[test]
fn an_arc_that_leaves_a_keep_out_alone_is_worth_a_change() {
    // Parked at 100: from there to 60 the way leads through the sector, to 240 it does not.
    let toml =
        "[[keep_out]]\nfrom_deg = 70.0\nto_deg = 75.0\nwhy = \"pier\"\n[drive]\npark_deg = 100.0";
    let a = advice(toml, &[60.0, 65.0]);
    assert_eq!(a.outcome, Outcome::Solves);
    let (now, _) = says(&a);
    assert!(
        now.ends_with("both targets turn through a keep-out."),
        "{now}"
    );
    let page = page(&a);
    assert!(page.contains("The arc is clear of every keep-out."));
    assert!(page.contains("Every run turns through the keep-out from 70\u{a0}deg") || page.contains("Every run turns through the keep-out from 70 to 75\u{a0}deg (pier), by 5\u{a0}deg a run"), "{}", a.before.targets[0].reason);
    assert!(page.contains("Through keep-outs"));
}

#[test]
fn a_run_that_is_refused_at_once_is_not_said_to_settle_or_swing() {
    let toml = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 100.0";
    let a = advice(toml, &[150.0]);
    let page = page(&a);
    assert!(
        page.contains("Its first command lies outside the stops and is refused: nothing moves")
    );
    assert!(!page.contains("after 0 solves") && !page.contains("less than twice"));
    // Its time is no time.
    assert_eq!(a.before.targets[0].expected_time_s, None);
    assert_eq!(a.before.total_time_s(), 0.0);
    assert!(page.contains("targets between the stops"));
}

#[test]
fn framing_and_warnings_show_where_the_rig_has_them() {
    let a = advice(
        &format!(
            "{HUNTING}\n[framing]\nsensor_width_mm = 23.5\nsensor_height_mm = 15.7\nfocal_length_mm = 480.0\npixel_um = 3.76\nmosaic_overlap = 0.15"
        ),
        &LIST,
    );
    let page_framing = page(&a);
    assert!(page_framing.contains("On the sensor"));
    assert!(!page_framing.contains("Check the rig file first"));
    let wrong = advice("[loop]\nbelieved_sense = -1", &[0.0, 90.0]);
    let page_wrong = page(&wrong);
    assert!(page_wrong.contains("Check the rig file first"));
    // The loop makes its errors itself: the ends of the arc are not to blame.
    assert!(wrong.example_before.figures.ping_pong());
    assert!(page_wrong.contains("Its corrections themselves enlarge the error"));
    assert!(!page_wrong.contains("the two ends of the arc differ"));
    assert!(!page_wrong.contains("On the sensor"));
}

#[test]
fn too_few_runs_are_owned_up_to() {
    let mut a = advice(
        &format!("{HUNTING}field_rotation_deg_per_s = 1e-7\n"),
        &[90.0],
    );
    assert_eq!(too_few(&a), None);
    a.request.batch.trials = 200;
    assert!(too_few(&a).is_some());
    assert!(page(&a).contains("200 runs for every target are too few"));
}
