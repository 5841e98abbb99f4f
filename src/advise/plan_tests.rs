//! The plan, case by case.

use super::tests::advised;
use super::*;
use crate::rig::read;
use crate::sample::Unattended;

fn planned(toml: &str, angles: &[f64], wishes: Wishes) -> Advice {
    advised(toml, angles, 4000, wishes)
}

/// Hunts at its seam, where the present arc starts.
const HUNTING: &str = "[drive]\nperiodic = [{ cycles = 1, amplitude_deg = 0.15, phase_deg = 90 }]\n\
    [loop]\ntolerance_deg = 0.2\n";

/// Docs/advice.md, section 4: between half of R and R, and hardly below the half.
#[test]
fn the_needed_band_lies_between_half_the_bound_and_the_bound() {
    let a = planned(HUNTING, &[80.0, 100.0], Wishes::default());
    let band = &a.plan.band;
    let (needed, bound) = (band.needed_deg.expect("a band"), a.plan.bound.residual_deg);
    assert!(a.choice.kept_present && band.cures, "{band:?}");
    assert!(
        needed > 0.2 * bound && needed <= bound + 0.01,
        "{needed} {bound}"
    );
    assert_eq!(band.largest_safe_deg, Some(90.0));
    let left = band.left.expect("what is left");
    assert!(left.ping_pong.value < 0.01, "{left:?}");
}

#[test]
fn a_band_that_does_not_fit_is_cut_and_what_is_left_is_told() {
    let close = "[[keep_out]]\nfrom_deg = 180.05\nto_deg = 190\n[[keep_out]]\nfrom_deg = 340\nto_deg = 359.95\n";
    let a = planned(
        &format!("{HUNTING}{close}"),
        &[80.0, 100.0],
        Wishes::default(),
    );
    let band = &a.plan.band;
    assert_eq!(
        (band.largest_safe_deg, band.advised_deg),
        (Some(0.05), Some(0.05))
    );
    assert!(!band.cures && band.needed_deg > Some(0.05));
    assert!(band.left.expect("what is left").ping_pong.value > 0.01);
    assert!(
        a.band_sentence()
            .contains("The largest safe band is 0.05 deg: with that,")
    );
}

#[test]
fn the_winding_limit_holds_the_arc_near_the_parking_angle() {
    let list = [0.0, 22.0, 35.0, 64.0, 129.0, 157.0, 171.0, 179.6];
    let free = planned(HUNTING, &list, Wishes::default());
    assert_eq!(free.choice.start_deg, 276.5);
    let limited = HUNTING.replace("[drive]", "[drive]\nwinding_limit_deg = 105");
    let a = planned(&limited, &list, Wishes::default());
    // Parked at 90, no end of the arc is farther than 105: it starts between -15 and 15, and best in the middle of
    // the gap from 0 to 22; there 4 deg are left for a band.
    assert!(a.choice.within_winding);
    assert_eq!((a.choice.start_deg, a.choice.margin_deg), (11.0, 11.0));
    assert_eq!(a.choice.largest_band_deg, Some(4.0));
    assert!(
        a.plan
            .rules
            .iter()
            .all(|r| r.overwound.rate <= 0.001 || !r.meets())
    );
    let tight = HUNTING.replace("[drive]", "[drive]\nwinding_limit_deg = 60");
    let a = planned(&tight, &list, Wishes::default());
    assert!(!a.choice.within_winding);
    assert!(
        a.plan.proof().misses.contains(&Miss::Winding),
        "{:?}",
        a.rule_sentence()
    );
}

#[test]
fn targets_all_around_need_another_rule_or_a_split() {
    let list: Vec<f64> = (0..60).map(|i| 3.0 * f64::from(i)).collect();
    let a = planned(HUNTING, &list, Wishes::default());
    assert!(!a.after.all_safe());
    let plan = &a.plan;
    assert!(plan.holds(), "{}", a.rule_sentence());
    assert_ne!(plan.rig.settings().wrap.rule, Rule::HalfCircle);
    assert_eq!(
        plan.present_misses(Rule::HalfCircle),
        [Miss::Unsafe, Miss::Slow]
    );
    // Another rule does without a wider tolerance, and without another start.
    assert_eq!(plan.rig.settings().loop_.tolerance_deg, 0.2);
    assert!(plan.window.low_deg < Some(0.2) && plan.window.advised_deg == 0.2);
    assert_eq!(plan.changes.len(), 1, "{:?}", plan.changes);
    let repair = plan.repair.as_ref().expect("ways out");
    assert!(
        !repair.moves.is_empty() && repair.moves.len() <= 2,
        "{repair:?}"
    );
    let [one, other] = repair.split.as_ref().expect("two groups");
    assert_eq!(one.targets.len() + other.targets.len(), 60);
    assert!(one.margin_deg > 40.0 && other.margin_deg > 40.0);
    assert!(
        a.repair_sentence()
            .contains("Or split the night: 30 targets")
    );
    // With the moves made the list is safe.
    let mut moved = list.clone();
    for m in &repair.moves {
        moved[m.number] = m.to_deg;
    }
    let there = planned(HUNTING, &moved, Wishes::default());
    assert!(there.after.all_safe(), "{}", there.sentence());
}

#[test]
fn a_clear_arc_goes_before_a_cheaper_rule() {
    let keep_out = "[[keep_out]]\nfrom_deg = 200\nto_deg = 250\n";
    let list = [0.0, 22.0, 64.0, 129.0, 157.0, 179.6];
    let a = planned(&format!("{HUNTING}{keep_out}"), &list, Wishes::default());
    assert_eq!(a.plan.rig.settings().wrap.rule, Rule::HalfCircle);
    let cost = |rule: Rule| {
        let found = a.plan.rules.iter().find(|r| r.policy.rule == rule);
        found.map_or(f64::NAN, |r| r.total_time_s)
    };
    assert!(cost(Rule::FullCircle) < 0.95 * cost(Rule::HalfCircle));
    assert!(a.rule_sentence().starts_with("Keep the rule half-circle"));
    assert!(
        a.rule_sentence()
            .ends_with("but its arc overlaps a keep-out.")
    );
    let free = planned(HUNTING, &list, Wishes::default());
    assert_eq!(free.plan.rig.settings().wrap.rule, Rule::FullCircle);
    // A full circle of endless travel has no seam to move.
    assert_eq!(free.plan.rig.settings().wrap.arc_start_deg, 0.0);
}

/// From -1.5 to 179.5 the short way is downwards, through 178.5 on the other side.
#[test]
fn the_short_way_can_leave_a_widened_arc() {
    let toml = "[drive]\npark_deg = -1.5\nzero_point_sigma_deg = 0.01\n\
        [wrap]\nrule = \"hysteresis-band\"\nband_deg = 2.0\nsymmetry = 2\n\
        [[keep_out]]\nfrom_deg = 185\nto_deg = 187\n";
    let rig = read(toml, "test", &[]).expect("a valid rig");
    assert_eq!(short_way_trap(&rig, Policy::of(&rig)), Some(184.0));
    let scenario = Scenario::new(&rig, Policy::of(&rig), 179.5);
    let plan = Batch {
        trials: 100,
        seed: 1,
    };
    let tally = batch(&scenario, plan, &Unattended);
    // 179 deg the other way round, of which 175 lie outside [-2, 182]; and through the keep-out.
    let outside = tally.outside_arc_deg.moments().mean().unwrap_or(0.0);
    assert!((outside - 176.0).abs() < 1.0, "{outside}");
    assert_eq!(tally.keep_out, 100);
    let half = rig
        .with(|s| s.wrap.rule = Rule::HalfCircle)
        .expect("a valid rig");
    assert_eq!(short_way_trap(&half, Policy::of(&half)), None);
    let stops = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 200\n[wrap]\nrule = \"hysteresis-band\"\n";
    let stops = read(stops, "test", &[]).expect("a valid rig");
    assert_eq!(short_way_trap(&stops, Policy::of(&stops)), None);
}

#[test]
fn where_no_rule_meets_the_limits_the_plan_says_so() {
    let a = planned("[solve]\nfailure_rate = 1.0\n", &[50.0], Wishes::default());
    assert!(a.plan.chosen.is_none() && !a.plan.holds());
    assert_eq!(
        a.plan_headline(),
        "No rule meets every limit on the whole list."
    );
    assert!(
        a.rule_sentence()
            .contains("half-circle: the target is not safe, only 0 %")
    );
    assert!(
        a.window_sentence()
            .starts_with("No tolerance serves: T50 never settles")
    );
    let strict = Wishes {
        clear_of_keep_outs: true,
        ..Wishes::default()
    };
    let all = format!(
        "{HUNTING}[[keep_out]]\nfrom_deg = 30\nto_deg = 31\n[[keep_out]]\nfrom_deg = 210\nto_deg = 211\n"
    );
    let a = planned(&all, &[80.0, 100.0], strict);
    assert!(
        a.plan
            .rules
            .iter()
            .all(|r| r.misses.contains(&Miss::KeepOut))
    );
    let lenient = planned(&all, &[80.0, 100.0], Wishes::default());
    assert!(lenient.plan.holds(), "{}", lenient.rule_sentence());
}
