//! The decision and the reasons, case by case.

use super::*;
use crate::rig::read;
use crate::sample::Unattended;
use crate::summary::Rate;

fn advice(toml: &str, angles: &[f64]) -> Advice {
    with_trials(toml, angles, 5000)
}

fn with_trials(toml: &str, angles: &[f64], trials: u64) -> Advice {
    advised(toml, angles, trials, Wishes::default())
}

/// The advice on a rig for targets at these position angles \[deg\].
pub(super) fn advised(toml: &str, angles: &[f64], trials: u64, wishes: Wishes) -> Advice {
    let rig = read(toml, "test", &[]).expect("a valid rig");
    let targets: Vec<Target> = angles
        .iter()
        .map(|a| Target {
            name: format!("T{a}"),
            position_angle_deg: *a,
            ra_deg: None,
            dec_deg: None,
            minutes: None,
        })
        .collect();
    let request = Request {
        batch: Batch { trials, seed: 1 },
        limits: Limits::default(),
        wishes,
    };
    advise(&rig, &targets, request, &Unattended).expect("advice")
}

/// Hunts at its seam by periodic error.
const HUNTING: &str = "[drive]\nperiodic = [{ cycles = 1, amplitude_deg = 0.15, phase_deg = 90 }]\n\
    [loop]\ntolerance_deg = 0.3\n";

fn reason(toml: &str, angle: f64) -> String {
    advice(toml, &[angle]).before.targets[0].reason.clone()
}

#[test]
fn a_change_is_needed_only_where_a_target_is_not_safe() {
    let a = advice(HUNTING, &[0.0, 40.0]);
    assert_eq!((a.decision, a.decision.needed()), (Decision::Cures, true));
    assert!(!a.choice.kept_present);
    let a = advice(HUNTING, &[60.0, 80.0]);
    assert_eq!((a.decision, a.decision.needed()), (Decision::Spare, false));
    assert!(a.choice.margin_deg > a.choice.present_margin_deg);
    let a = advice(HUNTING, &[80.0, 100.0]);
    assert_eq!((a.decision, a.decision.needed()), (Decision::Fine, false));
    assert!(a.choice.kept_present && a.advised_rig == a.rig);
}

#[test]
fn the_present_start_comes_back_bit_for_bit() {
    for present in [-90.0_f64, 270.0, 630.0] {
        let a = advice(
            &format!("{HUNTING}[wrap]\narc_start_deg = {present:?}\n"),
            &[0.0],
        );
        assert_eq!(a.choice.start_deg.to_bits(), present.to_bits());
        assert_eq!(a.decision, Decision::Fine);
    }
}

#[test]
fn a_keep_out_is_no_price_for_less_hunting() {
    // From 31 deg nothing hunts, but every run to the first target turns through the pier.
    let keep_outs = "[[keep_out]]\nfrom_deg = 130.0\nto_deg = 140.0\nwhy = \"pier\"\n\
        [[keep_out]]\nfrom_deg = 310.0\nto_deg = 320.0\nwhy = \"tripod\"\n";
    let toml = HUNTING.replace("[drive]", "[drive]\npark_deg = 45.0") + keep_outs;
    let a = advice(&toml, &[0.0, 62.0, 120.0]);
    assert!(!a.decision.changes(), "{}", a.sentence());
    let crossing = |s: &Setting| -> f64 { s.targets.iter().map(|t| t.keep_out.rate).sum() };
    let tried = a.tried.as_ref().expect("another start was tried");
    assert!(crossing(&tried.1) > crossing(&a.before));
    assert_eq!(a.advised_rig, a.rig);
}

#[test]
fn less_hunting_helps_though_a_keep_out_stays_in_the_way() {
    let toml = format!("{HUNTING}[[keep_out]]\nfrom_deg = 0.0\nto_deg = 360.0\n");
    let a = advice(&toml, &[0.0, 22.0, 179.6]);
    assert_eq!(a.decision, Decision::Helps, "{}", a.sentence());
    assert_eq!(a.after.count(Verdict::WillHunt), 0);
    assert!(
        a.sentence()
            .contains("100 % instead of 100 % turn through a keep-out")
    );
}

#[test]
fn where_no_arc_fits_between_the_stops_the_targets_do() {
    let toml = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 170.0\nbacklash_deg = 0.6\n\
        [loop]\ntolerance_deg = 0.2\n[wrap]\narc_start_deg = 5.0\n";
    let a = advice(toml, &[5.0, 100.0]);
    assert_eq!((a.decision, a.choice.start_deg), (Decision::Cures, -37.5));
    assert!(!a.choice.within_stops);
}

#[test]
fn the_causes_of_hunting_are_those_whose_absence_cures() {
    let text = reason(HUNTING, 0.0);
    assert!(
        text.contains("of the runs hunt: it lies 0 deg from the seam, and "),
        "{text}"
    );
    assert!(text.contains("periodic error (0.15 deg)"), "{text}");
    assert!(
        text.contains("without periodic error it would be 0"),
        "{text}"
    );
    // It hunts as much without noise, so noise is not named.
    assert!(!text.contains("noise"), "{text}");

    let wrong = reason(&format!("{HUNTING}believed_sense = -1\n"), 30.0);
    assert!(wrong.contains("the wrong sense of rotation"), "{wrong}");
    assert!(
        wrong.contains("with the right one it would be 0 %"),
        "{wrong}"
    );
}

#[test]
fn scatter_is_not_blamed_on_the_seam() {
    let text = reason(
        "[solve]\nnoise_deg = 0.5\n[loop]\ntolerance_deg = 0.02\n",
        90.0,
    );
    assert!(
        text.contains("up the 20 solves of a run: solve noise (0.5 deg)"),
        "{text}"
    );
    assert!(!text.contains("seam"), "{text}");
    let drift = reason("[loop]\nfield_rotation_deg_per_s = 0.2\n", 90.0);
    assert!(
        drift.contains("field rotation (0.2 deg/s) keeps it from settling"),
        "{drift}"
    );
}

#[test]
fn sources_that_only_together_cure_are_said_to() {
    // Each of the two alone pushes out at both ends of the arc.
    let toml = "[drive]\nbacklash_deg = 0\nzero_point_sigma_deg = 0\npark_deg = 0\ngain_error = -0.005\n\
        periodic = [{ cycles = 1, amplitude_deg = 0.5, phase_deg = 180 }]\n\
        [loop]\ntolerance_deg = 0.1\n[wrap]\narc_start_deg = -90\n";
    let text = reason(toml, -90.0);
    assert!(
        text.contains("periodic error (0.5 deg)") && text.contains("gain error (-0.5 %)"),
        "{text}"
    );
    let single = text.contains("taking away one alone does not halve that, but without");
    assert!(single, "{text}");
}

#[test]
fn turning_through_a_keep_out_is_not_safe() {
    let toml = "[[keep_out]]\nfrom_deg = 70\nto_deg = 75\nwhy = \"pier\"\n\
        [[keep_out]]\nfrom_deg = 300\nto_deg = 310\nwhy = \"cables\"\n";
    let a = advice(toml, &[60.0, 120.0]);
    let [through, clear] = a.before.targets.as_slice() else {
        panic!("two targets")
    };
    assert_eq!(
        (through.verdict, clear.verdict),
        (Verdict::AtRisk, Verdict::Safe)
    );
    assert_eq!((through.keep_out.rate, through.bad_share), (1.0, 1.0));
    assert_eq!(
        through.reason,
        "Every run turns through the keep-out from 70 to 75 deg (pier), by 5 deg a run on average."
    );
}

#[test]
fn unsolved_and_out_of_reach_are_named_for_what_they_are() {
    let text = reason("[solve]\nfailure_rate = 1\n", 90.0);
    assert_eq!(
        text,
        "Every run ends without a solution: each attempt to solve fails with a chance of 100 %, and after 5 failures in a row the loop gives up."
    );
    // Few runs are no excuse.
    let few = with_trials("[solve]\nfailure_rate = 1\n", &[90.0], 100);
    assert_eq!(few.before.targets[0].reason, text);
    assert_eq!(few.before.targets[0].verdict, Verdict::AtRisk);

    let stops = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0\nstop_to_deg = 100\n";
    let a = advice(stops, &[10.0, 150.0]);
    let t = &a.before.targets[1];
    assert_eq!((t.verdict, t.expected_time_s), (Verdict::OutOfReach, None));
    assert!(
        t.reason.ends_with("no equivalent angle lies between them."),
        "{}",
        t.reason
    );
    assert_eq!(
        a.before.total_time_s(),
        a.before.targets[0].expected_time_s.unwrap_or(0.0)
    );
    assert_eq!(a.before.standing(), "1 of 2 targets is out of reach");
}

#[test]
fn what_is_said_of_safe_targets_is_true() {
    let far = reason(HUNTING, 90.0);
    assert_eq!(
        far,
        "It lies 90 deg from the seam, and none of 5 000 runs swings across it."
    );
    let folds = format!("{HUNTING}[wrap]\nrule = \"fold-once\"\n");
    assert!(reason(&folds, 0.0).ends_with("but corrections never fold."));
    let band = format!("{HUNTING}[wrap]\nrule = \"hysteresis-band\"\nband_deg = 4\n");
    assert!(reason(&band, 0.0).contains("the band of 4 deg holds its corrections"));
    // A tolerance that a swing does not miss: it swings, and settles.
    let wide = reason("[loop]\ntolerance_deg = 0.6\n", 0.0);
    assert!(
        wide.contains("of the runs swing to the other end, but settle there."),
        "{wide}"
    );
    let biased = reason("[solve]\nbias_deg = 5\n", 90.0);
    assert!(
        biased.contains("But it settles on a wrong angle: the mean true error is 4.9 deg")
            && biased.ends_with("because the solver is off by 5 deg."),
        "{biased}"
    );
}

#[test]
fn ties_within_chance_keep_the_present_start() {
    // Few runs: nothing can be proved, so nothing is advised.
    let a = with_trials("", &[30.0, 40.0], 200);
    assert_eq!(a.decision, Decision::NoHelp);
    assert!(a.choice.kept_present && !a.after.all_safe());
    assert!(
        a.sentence()
            .starts_with("200 runs for every target are too few"),
        "{}",
        a.sentence()
    );
    assert!(
        a.before.targets[0]
            .reason
            .contains("None of 200 runs ends badly"),
        "{}",
        a.before.targets[0].reason
    );
}

#[test]
fn a_list_that_settles_on_wrong_angles_is_not_said_to_be_well() {
    let a = advice("[solve]\nbias_deg = 5\n", &[30.0, 90.0]);
    assert!(a.before.all_safe() && !a.decision.needed());
    assert!(
        a.sentence()
            .starts_with("The arc needs no change, but 2 of 2 targets settle on a wrong angle"),
        "{}",
        a.sentence()
    );
}

#[test]
fn fewer_bad_targets_by_chance_alone_are_no_gain() {
    let a = advice(HUNTING, &[60.0, 80.0]);
    let with = |verdict, bad_runs: f64| {
        let mut setting = a.before.clone();
        setting.targets.truncate(1);
        setting.targets[0].verdict = verdict;
        setting.targets[0].bad_share = bad_runs / 20_000.0;
        setting.targets[0].hunting.rate = bad_runs / 20_000.0;
        setting.targets[0].summary.trials = 20_000;
        setting
    };
    let decide = |old: &Setting, new: &Setting| Decision::of(old, Some(new), &a.choice);
    let old = with(Verdict::AtRisk, 12.0);
    assert_eq!(decide(&old, &with(Verdict::Safe, 11.0)), Decision::NoHelp);
    assert_eq!(decide(&old, &with(Verdict::Safe, 0.0)), Decision::Cures);
    assert_eq!(
        decide(&old, &with(Verdict::WillHunt, 900.0)),
        Decision::NoHelp
    );
    let old = with(Verdict::WillHunt, 9000.0);
    assert_eq!(
        decide(&old, &with(Verdict::WillHunt, 8990.0)),
        Decision::NoHelp
    );
    assert_eq!(
        decide(&old, &with(Verdict::WillHunt, 2000.0)),
        Decision::Helps
    );
}

/// One target settles always but turns through a keep-out, the other is never reached: no time is worse than any.
#[test]
fn a_target_out_of_reach_fares_worst() {
    let mut a = advice("", &[60.0, 64.0]);
    for target in &mut a.before.targets {
        target.hunting = Rate::of(0, 5000);
        target.bad_share = 1.0;
    }
    assert!(a.before.targets[0].expected_time_s.is_some());
    a.before.targets[1].expected_time_s = None;
    assert_eq!(a.before.worst(), Some(1));
}

#[test]
fn a_swing_without_a_seam_is_not_said_to_have_one() {
    let toml = "[wrap]\nrule = \"full-circle\"\nsymmetry = 2\n[loop]\ncorrection = 2\ntolerance_deg = 0.1\n\
        [solve]\nnoise_deg = 40\n";
    let text = reason(toml, 90.0);
    assert!(!text.contains("from the seam"), "{text}");
    assert!(
        text.contains("it swings without a seam, and ") || text.contains("solves of a run"),
        "{text}"
    );
}
