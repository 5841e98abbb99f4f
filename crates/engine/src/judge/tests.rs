//! The reference controller passes everything, whatever the seed.

use super::*;
use crate::controller::Controller;
use crate::rig::{RigSettings, Rule};
use crate::sample::Unattended;

fn session<C: Controller>(seed: u64, count: usize, make: impl FnMut() -> C) -> SuiteOutcome {
    let cases = cases(&Base::Graded, Family::ALL, None, seed, count);
    assert_eq!(cases.len(), count);
    run_session(&cases, 0, &mut InProcess::new(make), &Unattended).expect("playable")
}

fn complaints(session: &SuiteOutcome) -> String {
    let failed = session.judged.iter().filter(|j| !j.failures.is_empty());
    failed
        .take(5)
        .map(|j| format!("{:?}\n{:#?}\n", j.failures, j.case))
        .collect()
}

/// Shows (judge): 60 000 scenarios with the correct rules, and another kind of controller. With:
/// `judge::correct_controllers_pass_on_every_rig`, `judge::a_legal_controller_of_another_kind_passes`. Source: none:
/// internal consistency.
#[test]
fn correct_controllers_pass_everything() {
    for seed in 1..=5 {
        for rule in [Rule::HysteresisBand, Rule::FoldOnce] {
            let s = session(seed, 6000, || Reference::new(rule));
            assert!(s.passed(), "{rule}, seed {seed}:\n{}", complaints(&s));
        }
    }
}

#[test]
fn folding_every_correction_hunts() {
    let s = session(1, 3000, || Reference::new(Rule::HalfCircle));
    let hunting = s
        .by_property()
        .get(&Property::LongSwings)
        .map_or(0, |n| n.0);
    assert!(hunting > 20);
}

/// On every graded rig, repeated corrections end within the tolerance, and none settles by luck.
#[test]
fn graded_rigs_can_hold_their_tolerances() {
    let rigs = graded();
    assert!(rigs.len() >= 8);
    for rig in rigs {
        let rest_deg = rest_deg(&rig).expect("a slope that is not steep");
        assert!(
            rest_deg < rig.loop_.tolerance_deg,
            "{}: {rest_deg}",
            rig.name
        );
        assert!(crate::rig::Rig::new(rig).is_ok());
    }
}

/// 0.1 zero point, 0.002 * 100 gain, 0.3 and 0.05 periodic, 3 * 0.02 repeatability error, half of 0.4 backlash, half of 0.02
/// step; then 3 * 0.01 noise, 0.05 bias, and a step.
/// Shows (judge): a correct controller is never failed: the bounds. With: `graded_rigs_can_hold_their_tolerances`.
/// Source: by hand.
#[test]
fn bounds_are_the_sums_of_their_parts() {
    let mut rig = RigSettings::default();
    rig.drive.gain_error = -0.002;
    rig.drive.backlash_deg = 0.4;
    rig.drive.repeatability_deg = 0.02;
    rig.drive.step_deg = 0.02;
    rig.solve.noise_deg = 0.01;
    rig.solve.bias_deg = -0.05;
    let one = |amplitude_deg, cycles| crate::rig::Periodic {
        cycles,
        amplitude_deg,
        phase_deg: 0.0,
    };
    rig.drive.periodic = vec![one(0.3, 1.0), one(0.05, 2.0)];
    let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
    assert!(near(shaft_error_deg(&rig, 100.0), 0.82));
    assert!(near(excursion_deg(&rig, -0.1, 100.0), 1.02));
    let slope_by_hand = 0.002 + (0.3 + 0.1) * std::f64::consts::PI / 180.0;
    assert!(near(slope(&rig), slope_by_hand));
    // Twice 3 * (0.01 + 0.02), and half a step.
    let rest = rest_deg(&rig).expect("not steep");
    assert!(near(rest, 0.19 / (1.0 - slope_by_hand)));
    assert!(near(true_error_limit_deg(&rig), 0.5 + 0.05 + 0.05 + 1e-9));
    rig.drive.gain_error = 0.5;
    assert_eq!(rest_deg(&rig), None);
}

/// A controller passes by the rule that it follows, and by no other whose commands differ.
/// Shows (judge): with `--rule` every command must be where that rule puts it. With: `judge::small_mutations_of_every_rule_are_caught`,
/// `judge_program::a_claimed_rule_is_judged`. Source: none: internal consistency.
#[test]
fn each_rule_passes_by_its_own_claim_alone() {
    for &claim in Rule::ALL {
        let cases = cases(&Base::Graded, Family::ALL, Some(claim), 3, 3000);
        assert_eq!(cases.len(), 3000);
        for &rule in Rule::ALL {
            let mut subject = InProcess::new(|| Reference::new(rule));
            let s = run_session(&cases, 0, &mut subject, &Unattended).expect("playable");
            let broken = s.by_property().contains_key(&Property::Rule);
            // Over a whole turn, without a band, three rules are one.
            let same = rule == claim || claim == Rule::FullCircle && rule != Rule::FoldOnce;
            assert_eq!(broken, !same, "{rule} as {claim}");
            assert!(rule != claim || s.passed(), "{rule}:\n{}", complaints(&s));
            assert!(s.remarks().is_empty());
        }
    }
}

/// A session of the usual length meets every situation.
/// Shows (judge): the situations that the commands met. With: `judge_program::a_margin_has_its_cycle_on_the_screen_and_in_files`.
/// Source: by hand (number of pairs).
#[test]
fn a_session_leaves_no_situation_out() {
    let s = session(1, 2000, Reference::default);
    let pairs = s.coverage.pairs();
    // 25 values of 11 circumstances: (25^2 - 59) / 2 pairs of different circumstances, 11 of them impossible.
    assert_eq!(pairs.len(), 272);
    let left_out: Vec<_> = pairs.iter().filter(|p| !p.met).collect();
    assert!(left_out.is_empty(), "{left_out:#?}");
}
