//! The choice of the arc: cases worked by hand, and a search over a grid.

use super::*;
use crate::angle::{fold_finite, residual_finite};
use crate::rig::read;

fn targets(angles: &[f64]) -> Vec<Target> {
    angles
        .iter()
        .map(|a| Target {
            name: a.to_string(),
            position_angle_deg: *a,
            ra_deg: None,
            dec_deg: None,
            minutes: None,
        })
        .collect()
}

fn start(toml: &str, angles: &[f64]) -> ArcChoice {
    let rig = read(toml, "test", &[]).expect("a valid rig");
    choose_arc(&rig, &targets(angles))
}

#[test]
fn the_seam_goes_to_the_middle_of_the_widest_gap() {
    let c = start("", &[0.0, 20.0, 100.0, 179.0]);
    assert_eq!((c.start_deg, c.margin_deg), (60.0, 40.0));
    // 200 and 20 frame the same field.
    let c = start("", &[0.0, 200.0, 100.0, 179.0]);
    assert_eq!(c.start_deg, 60.0);
    assert_eq!(c.neighbours_deg, (20.0, 100.0));
}

#[test]
fn one_target_is_put_in_the_middle_of_the_arc() {
    let c = start("", &[0.0]);
    assert_eq!((c.start_deg, c.margin_deg), (90.0, 90.0));
}

#[test]
fn keep_outs_choose_the_other_arc_with_the_same_seam() {
    let rig = "[[keep_out]]\nfrom_deg = 200.0\nto_deg = 250.0\n";
    // 60 has the widest margin, but its arc reaches 240, and the arc from 240 starts inside.
    let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
    assert!(c.clear_of_keep_outs);
    assert_eq!((c.start_deg, c.margin_deg), (319.5, 39.5));
    // Here no middle of a gap is as good as the first start above the keep-out.
    let c = start(rig, &[0.0, 20.0, 100.0, 120.0, 140.0, 160.0]);
    assert!(c.clear_of_keep_outs);
    assert_eq!((c.start_deg, c.margin_deg), (250.0, 30.0));
}

#[test]
fn a_keep_out_that_no_arc_can_avoid_is_reported() {
    let rig = "[[keep_out]]\nfrom_deg = 0.0\nto_deg = 10.0\n[[keep_out]]\nfrom_deg = 180.0\nto_deg = 190.0\n";
    let c = start(rig, &[0.0, 90.0]);
    assert!(!c.clear_of_keep_outs);
    assert_eq!(c.margin_deg, 45.0);
}

#[test]
fn the_arc_fits_between_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n";
    let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
    assert!(c.within_stops);
    assert_eq!((c.start_deg, c.margin_deg), (10.0, 10.0));
}

#[test]
fn fold_once_keeps_away_from_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n[wrap]\nrule = \"fold-once\"\n";
    // From -10 the target at 178 goes to -2, 8 from a stop; from 12 it stays at 178, 22 from one.
    let c = start(rig, &[40.0, 178.0]);
    assert!(c.within_stops);
    assert!(c.start_deg > -2.0 && c.margin_deg > 14.0, "{c:?}");
}

#[test]
fn an_endless_full_circle_has_no_seam() {
    let c = start(
        "[wrap]\nrule = \"full-circle\"\narc_start_deg = 5.0\n",
        &[5.0],
    );
    assert!(c.no_seam);
    assert_eq!(c.start_deg, 5.0);
}

/// The closed form against a search over a fine grid.
#[test]
fn no_grid_point_beats_the_choice() {
    let angles = [3.0, 17.5, 44.0, 91.0, 133.3, 160.25];
    let c = start("", &angles);
    for i in 0..18_000 {
        let s = f64::from(i) * 0.01;
        let margin = angles
            .iter()
            .map(|a| residual_finite(a - s, 180.0).abs())
            .fold(f64::INFINITY, f64::min);
        assert!(margin <= c.margin_deg + 1e-9, "{s}");
    }
}

/// Exact fits fail by rounding without a tolerance: -3.08 - 0.9 is below -3.98.
#[test]
fn an_arc_that_just_fits_between_the_stops_fits() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -3.98\nstop_to_deg = 177.82\n\
        [wrap]\nrule = \"hysteresis-band\"\nband_deg = 0.9\narc_start_deg = -3.08\n";
    let c = start(rig, &[0.0, 40.0, 90.0]);
    assert!(
        c.within_stops && c.present_within_stops && c.kept_present,
        "{c:?}"
    );
    assert_eq!(c.start_deg.to_bits(), (-3.08_f64).to_bits());
}

#[test]
fn where_no_arc_fits_the_targets_go_between_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 170.0\nbacklash_deg = 0.6\n\
        [loop]\ntolerance_deg = 0.2\n[wrap]\narc_start_deg = 5.0\n";
    let c = start(rig, &[5.0, 100.0]);
    assert!(!c.within_stops);
    assert_eq!((c.start_deg, c.margin_deg), (-37.5, 42.5));
}

#[test]
fn a_target_that_no_start_reaches_does_not_move_the_seam() {
    let rig =
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 100.0\npark_deg = 50.0\n";
    // 150 has no equivalent between the stops; without it the gap from 90 to 190 is the widest.
    let c = start(rig, &[10.0, 90.0, 150.0]);
    assert_eq!(c.start_deg, -40.0);
}

#[test]
fn the_same_arc_a_turn_away_is_no_change() {
    for present in [-90.0, 270.0, 630.0, 270.000_000_000_1] {
        let c = start(&format!("[wrap]\narc_start_deg = {present:?}\n"), &[0.0]);
        assert_eq!(c.start_deg.to_bits(), f64::to_bits(present));
        assert!(c.kept_present);
    }
    // From 420 the seam lies at 60 and 240; the middle of the gap is 60.
    let c = start(
        "[wrap]\narc_start_deg = 420.0\n",
        &[0.0, 20.0, 100.0, 179.0],
    );
    assert_eq!(c.start_deg, 420.0);
}

/// A small generator of cases: the digits of a linear congruence (Knuth's MMIX constants).
struct Cases(u64);

impl Cases {
    fn next(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((self.0 >> 11) as f64 / (1_u64 << 53) as f64)
    }
}

/// Every arc that the rule of the choice calls better would be found on a grid of 0.05 deg.
#[test]
fn random_cases_agree_with_a_grid() {
    const STEP_DEG: f64 = 0.05;
    let mut cases = Cases(1);
    for case in 0..150 {
        let rule = ["half-circle", "hysteresis-band", "fold-once"][case % 3];
        let lo = cases.next(-200.0, 100.0);
        let hi = lo + cases.next(60.0, 420.0);
        let stops = case % 2 == 0;
        let mut toml = format!(
            "[wrap]\nrule = \"{rule}\"\narc_start_deg = {}\n",
            cases.next(-200.0, 200.0)
        );
        if stops {
            toml.push_str(&format!(
                "[drive]\ntravel = \"stops\"\nstop_from_deg = {lo}\nstop_to_deg = {hi}\npark_deg = {}\n",
                0.5 * (lo + hi)
            ));
        }
        if case % 5 == 0 {
            let from = cases.next(lo, hi - 10.0);
            toml.push_str(&format!(
                "[[keep_out]]\nfrom_deg = {from}\nto_deg = {}\n",
                from + 8.0
            ));
        }
        let angles: Vec<f64> = (0..=case % 6).map(|_| cases.next(0.0, 360.0)).collect();
        let rig = read(&toml, "test", &[]).expect("a valid rig");
        let chosen = choose_arc(&rig, &targets(&angles)).start_deg;

        let ground = Grounds::of(&rig);
        // Slow and by the words of the documentation: condition, targets in reach, margin.
        let value = |s: f64| {
            let seam = |d: &f64| residual_finite(d - s, 180.0).abs();
            let folded = |d: &f64| fold_finite(*d, s, 180.0);
            let in_reach = |d: &&f64| !stops || (folded(d) >= lo && folded(d) <= hi);
            let anywhere: Vec<f64> = angles
                .iter()
                .copied()
                .filter(|d| {
                    !stops
                        || (-9..9).any(|k| {
                            let copy = d + 180.0 * f64::from(k);
                            copy >= lo && copy <= hi
                        })
                })
                .collect();
            let angles = if anywhere.is_empty() {
                angles.clone()
            } else {
                anywhere
            };
            let (clear, within) = (ground.clear_of_keep_outs(s), ground.within_stops(s));
            let class = usize::from(clear) * 2 + usize::from(within);
            let seams = angles.iter().map(seam).fold(f64::INFINITY, f64::min);
            let stop_counts = stops && (rule == "fold-once" || !within);
            // Among clear arcs that fit, the others do not compete; among those that do not, reach decides.
            let reach = if stop_counts {
                angles.iter().filter(in_reach).count()
            } else {
                angles.len()
            };
            let room = angles
                .iter()
                .filter(in_reach)
                .map(|d| (folded(d) - lo).min(hi - folded(d)))
                .fold(seams, f64::min);
            (class, reach, if stop_counts { room } else { seams })
        };
        let best = value(chosen);
        let mut s = lo - 200.0;
        while s < hi + 200.0 {
            let other = value(s);
            let better = other.0 > best.0
                || (other.0 == best.0 && other.1 > best.1)
                || (other.0 == best.0 && other.1 == best.1 && other.2 > best.2 + 1e-9);
            assert!(
                !better,
                "case {case}: {toml}{angles:?}: {chosen} {best:?}, {s} {other:?}"
            );
            s += STEP_DEG;
        }
    }
}
