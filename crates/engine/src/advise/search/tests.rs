//! The order in which starts are tried: cases worked by hand.

use super::*;
use crate::angle::residual_finite;
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
            after_deg: None,
        })
        .collect()
}

fn start(toml: &str, angles: &[f64]) -> ArcFacts {
    let rig = read(toml, "test", &[]).expect("a valid rig");
    widest_arc(&rig, &targets(angles))
}

/// Shows (advice 3): the middles of the gaps are tried; where nothing else counts, that of the widest gap comes first.
/// With: `no_grid_point_beats_the_choice`. Source: by hand; search over a fine grid.
#[test]
fn the_seam_goes_to_the_middle_of_the_widest_gap() {
    let c = start("", &[0.0, 20.0, 100.0, 179.0]);
    assert_eq!((c.start_deg, c.seam_distance_deg), (60.0, 40.0));
    // 200 and 20 frame the same field.
    let c = start("", &[0.0, 200.0, 100.0, 179.0]);
    assert_eq!(c.start_deg, 60.0);
}

#[test]
fn one_target_is_put_in_the_middle_of_the_arc() {
    let c = start("", &[0.0]);
    assert_eq!((c.start_deg, c.seam_distance_deg), (90.0, 90.0));
}

/// Shows (advice 3): starts are tried in the order of targets in reach, keep-outs, stops, cable, distance; every way to
/// a target is among them. With: `starts_are_round_and_cover_every_way_to_a_target`. Source: by hand; a fine grid.
#[test]
fn keep_outs_choose_the_other_arc_with_the_same_seam() {
    let rig = "[[keep_out]]\nfrom_deg = 200.0\nto_deg = 250.0\n";
    // 60 has the widest margin, but its arc reaches 240, and the arc from 240 starts inside.
    let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
    assert!(c.clear_of_keep_outs);
    assert_eq!((c.start_deg, c.seam_distance_deg), (320.0, 39.0));
    // Here no middle of a gap is as good as the first start above the keep-out.
    let c = start(rig, &[0.0, 20.0, 100.0, 120.0, 140.0, 160.0]);
    assert!(c.clear_of_keep_outs);
    assert_eq!((c.start_deg, c.seam_distance_deg), (250.0, 30.0));
}

#[test]
fn a_keep_out_that_no_arc_can_avoid_is_reported() {
    let rig = "[[keep_out]]\nfrom_deg = 0.0\nto_deg = 10.0\n[[keep_out]]\nfrom_deg = 180.0\nto_deg = 190.0\n";
    let c = start(rig, &[0.0, 90.0]);
    assert!(!c.clear_of_keep_outs);
    assert_eq!(c.seam_distance_deg, 45.0);
}

#[test]
fn the_arc_fits_between_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n";
    let c = start(rig, &[0.0, 20.0, 100.0, 179.0]);
    assert!(c.within_stops);
    assert_eq!((c.start_deg, c.seam_distance_deg), (10.0, 10.0));
}

#[test]
fn fold_once_keeps_away_from_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10.0\nstop_to_deg = 200.0\n[wrap]\nrule = \"fold-once\"\n";
    // From -10 the target at 178 goes to -2, 8 from a stop; from 12 it stays at 178, 22 from one.
    let c = start(rig, &[40.0, 178.0]);
    assert!(c.within_stops);
    assert!(c.start_deg > -2.0 && c.seam_distance_deg > 14.0, "{c:?}");
}

/// Shows (model 5): an endless full circle has no seam; between stops it has one. With:
/// `reference_program::batches_agree_with_the_independent_program`. Source: by hand; independent program (full circle
/// between stops).
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
        // A start in whole degrees may be half a degree off the best one.
        assert!(margin <= c.seam_distance_deg + 0.5 + 1e-9, "{s}");
    }
}

/// Exact fits fail by rounding without a tolerance: -3.08 - 0.9 is below -3.98.
#[test]
fn an_arc_that_just_fits_between_the_stops_fits() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = -3.98\nstop_to_deg = 177.82\n\
        [wrap]\nrule = \"hysteresis-band\"\nband_deg = 0.9\narc_start_deg = -3.08\n";
    let rig = read(rig, "test", &[]).expect("a valid rig");
    let there = present_arc(&rig, &targets(&[0.0, 40.0, 90.0]));
    assert!(there.within_stops, "{there:?}");
}

#[test]
fn where_no_arc_fits_the_targets_go_between_the_stops() {
    let rig = "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 170.0\nbacklash_deg = 0.6\n\
        [loop]\ntolerance_deg = 0.2\n[wrap]\narc_start_deg = 5.0\n";
    let c = start(rig, &[5.0, 100.0]);
    assert!(!c.within_stops);
    assert_eq!((c.start_deg, c.seam_distance_deg), (-38.0, 42.0));
}

#[test]
fn a_target_that_no_start_reaches_does_not_move_the_seam() {
    let rig =
        "[drive]\ntravel = \"stops\"\nstop_from_deg = 0.0\nstop_to_deg = 100.0\npark_deg = 50.0\n";
    // 150 has no equivalent between the stops; without it the gap from 90 to 190 is the widest.
    let c = start(rig, &[10.0, 90.0, 150.0]);
    assert_eq!(c.start_deg, -40.0);
}

/// Each start that is tried has at most two decimals, and the present one is not among the needs: it is tried first.
#[test]
fn starts_are_round_and_cover_every_way_to_a_target() {
    let toml = "[[keep_out]]\nfrom_deg = 100.0\nto_deg = 140.0\n";
    let rig = read(toml, "test", &[]).expect("a valid rig");
    let list = targets(&[3.25, 17.5, 44.125, 91.0, 133.3, 160.25]);
    let tried = starts(&rig, &list, 2.0);
    for s in &tried {
        assert_eq!((s * 100.0).round() / 100.0, *s);
        assert!((0.0..360.0).contains(s));
    }
    // The drive angle of every target, of its two, under the starts of a fine grid: each pattern is tried.
    let pattern = |s: f64| -> Vec<u8> {
        let at = |t: &Target| crate::angle::fold_finite(t.position_angle_deg, s, 180.0);
        list.iter()
            .map(|t| u8::from(crate::angle::fold_finite(at(t), 0.0, 360.0) >= 180.0))
            .collect()
    };
    let known: std::collections::HashSet<Vec<u8>> = tried.iter().map(|s| pattern(*s)).collect();
    for i in 0..3600 {
        let s = 0.1 * f64::from(i);
        assert!(known.contains(&pattern(s)), "{s}");
    }
}

/// Stops are closed: a command to one of them is carried out (docs/model.md, section 2).
#[test]
fn what_stands_at_a_stop_is_in_reach() {
    let score = score::Angles::new(&[20.0, 170.0], 180.0).score_between(5.0, 20.0, 170.0);
    assert_eq!((score.reachable, score.seam_distance_deg), (2, 0.0));
}
