//! A rotator that follows a field with a known rotation.

use super::bounds::WayEnd;
use super::follow::{During, Follow, follow_steps};
use super::session::FieldRow;
use crate::pointing::Pointing;
use crate::time::Moment;
use halfturn_engine::rig::{Rig, Rule, read};
use halfturn_engine::verdict::Fault;

/// A field that turns by `deg_per_min`, from a zenith at position angle 0.
pub(super) fn turning(deg_per_min: f64, minutes: u32) -> Vec<FieldRow> {
    let start = Moment::read("2026-10-14T20:00:00").expect("a moment");
    (0..=minutes)
        .map(|i| FieldRow {
            at: start.plus_s(60.0 * f64::from(i)),
            pointing: Pointing {
                hour_angle_h: 0.0,
                dec_of_date_deg: 0.0,
                azimuth_deg: 180.0,
                altitude_deg: 45.0,
                parallactic_deg: 0.0,
                zenith_deg: 0.0,
            },
            turned_deg: deg_per_min * f64::from(i),
            rate_deg_per_h: 60.0 * deg_per_min,
        })
        .collect()
}

pub(super) fn rig(text: &str) -> Rig {
    read(text, "rig", &[]).expect("a valid rig")
}

/// Minute, limit, reading before and after of every unwind.
fn unwinds(
    text: &str,
    rule: Rule,
    angle_deg: f64,
    rows: &[FieldRow],
) -> Vec<(f64, WayEnd, f64, f64)> {
    let found = follow_steps(&rig(text), rule, angle_deg, rows);
    assert_eq!(found.stuck, None);
    let minute = |at: Moment| at.since_s(rows[0].at) / 60.0;
    found
        .unwinds
        .iter()
        .map(|u| (minute(u.at), u.end, u.from_deg, u.to_deg))
        .collect()
}

fn near(found: &[(f64, WayEnd, f64, f64)], expected: &[(f64, WayEnd, f64, f64)]) {
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for (f, e) in found.iter().zip(expected) {
        let off = [f.0 - e.0, f.2 - e.2, f.3 - e.3].map(f64::abs);
        assert!(f.1 == e.1 && off.iter().all(|o| *o < 1e-6), "{f:?} {e:?}");
    }
}

/// From 30 degrees, a field that turns backwards by 1 degree a minute drives the reading up to the end of the half
/// circle at 180 in 150 minutes. A command just beyond folds to just above 0, a little less than half a turn back:
/// the short way is downwards.
#[test]
fn the_seam_comes_every_half_turn() {
    let rows = turning(-1.0, 400);
    let expected = [
        (150.0, WayEnd::Seam, 180.0, 0.0),
        (330.0, WayEnd::Seam, 180.0, 0.0),
    ];
    near(&unwinds("", Rule::HalfCircle, 30.0, &rows), &expected);
    // A band of 10 degrees delays it by 10 minutes, and the fold still goes back by half a turn.
    let expected = [
        (160.0, WayEnd::Seam, 190.0, 10.0),
        (340.0, WayEnd::Seam, 190.0, 10.0),
    ];
    let band = "[wrap]\nband_deg = 10\n";
    near(&unwinds(band, Rule::HysteresisBand, 30.0, &rows), &expected);
    assert!(unwinds("", Rule::FoldOnce, 30.0, &rows).is_empty());
    assert!(unwinds("", Rule::FullCircle, 30.0, &rows).is_empty());
}

/// A sense of -1 turns the drive the other way.
#[test]
fn the_drive_turns_against_the_field_in_its_own_sense() {
    let rows = turning(-1.0, 60);
    let text = "[drive]\nsense = -1\n[loop]\nbelieved_sense = -1\n";
    let found = follow_steps(&rig(text), Rule::HalfCircle, -30.0, &rows);
    assert!((found.rows[0].reading_deg - 30.0).abs() < 1e-9);
    assert!(
        (found.rows[20].reading_deg - 10.0).abs() < 1e-9,
        "{:?}",
        found.rows[20]
    );
    assert_eq!(found.unwinds.len(), 1);
}

/// A cable of 200 degrees about parking at 90 ends at 290. Under the fold-once rule framings are 180 degrees apart,
/// and the drive goes back by two of them, as far as the other end allows.
#[test]
fn a_cable_is_unwound_as_far_as_it_goes() {
    let rows = turning(-1.0, 400);
    let text = "[drive]\nwinding_limit_deg = 200\n";
    let expected = [(260.0, WayEnd::Cable, 290.0, -70.0)];
    near(&unwinds(text, Rule::FoldOnce, 30.0, &rows), &expected);
    // The full circle goes back by whole turns.
    near(&unwinds(text, Rule::FullCircle, 30.0, &rows), &expected);
}

#[test]
fn stops_end_the_way_and_may_hold_it() {
    let rows = turning(1.0, 120);
    // Downwards from 30 to the stop at -10 in 40 minutes. Then to 170, the equivalent above.
    let wide = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 200\n";
    let expected = [(40.0, WayEnd::Stop, -10.0, 170.0)];
    near(&unwinds(wide, Rule::FoldOnce, 30.0, &rows), &expected);
    // The arc from 0 ends earlier.
    let expected = [(30.0, WayEnd::Seam, 0.0, 180.0)];
    near(&unwinds(wide, Rule::HalfCircle, 30.0, &rows), &expected);
    let narrow = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 100\n";
    let found = follow_steps(&rig(narrow), Rule::FoldOnce, 30.0, &rows);
    let (at, end) = found.stuck.expect("stuck");
    assert_eq!((at.since_s(rows[0].at), end), (2400.0, WayEnd::Stop));
    assert!(found.unwinds.is_empty());
}

/// 3 degrees a second are 10800 an hour.
/// Shows (sky): a field too fast for the drive is named. Source: by hand.
#[test]
fn a_field_too_fast_for_the_drive_is_told() {
    let slow = follow_steps(&rig(""), Rule::FullCircle, 0.0, &turning(179.0, 1));
    let fast = follow_steps(&rig(""), Rule::FullCircle, 0.0, &turning(181.0, 1));
    let back = follow_steps(&rig(""), Rule::FullCircle, 0.0, &turning(-181.0, 1));
    assert!(!slow.rows[0].too_fast && fast.rows[0].too_fast && back.rows[0].too_fast);
}

const KEEP_OUT: &str = "[[keep_out]]\nfrom_deg = 200\nto_deg = 240\n";

/// Fault, occasion, minute, where it begins and ends, and how many minutes it lasts (only while following).
type Found = (Fault, During, f64, f64, f64, f64);

fn faults(found: &Follow, rows: &[FieldRow]) -> Vec<Found> {
    let all = found.faults.iter().map(|f| {
        let minute = f.at.since_s(rows[0].at) / 60.0;
        let lasts = match f.during {
            During::Following => f.lasts_s / 60.0,
            During::FirstMove | During::Unwind => 0.0,
        };
        (f.fault, f.during, minute, f.reading_deg, f.to_deg, lasts)
    });
    all.collect()
}

fn same(found: &[Found], expected: &[Found]) {
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for (f, e) in found.iter().zip(expected) {
        let off = [f.2 - e.2, f.3 - e.3, f.4 - e.4, f.5 - e.5].map(f64::abs);
        let alike = (f.0, f.1) == (e.0, e.1);
        assert!(alike && off.iter().all(|o| *o < 1e-5), "{f:?} {e:?}");
    }
}

/// Up from 30 by a degree a minute: 200 is reached in 170 minutes, and 20 frames the same. The full circle has no
/// other framing.
#[test]
fn a_keep_out_ends_the_way() {
    let rows = turning(-1.0, 400);
    let expected = [
        (170.0, WayEnd::KeepOut, 200.0, 20.0),
        (350.0, WayEnd::KeepOut, 200.0, 20.0),
    ];
    near(&unwinds(KEEP_OUT, Rule::FoldOnce, 30.0, &rows), &expected);
    let found = follow_steps(&rig(KEEP_OUT), Rule::FullCircle, 30.0, &rows);
    let (at, end) = found.stuck.expect("stuck");
    assert_eq!((at.since_s(rows[0].at), end), (10_200.0, WayEnd::KeepOut));
    assert!(found.faults.is_empty() && found.is_bad());
    // From 140 up the other framing lies beyond a second keep-out.
    let text = format!("{KEEP_OUT}[[keep_out]]\nfrom_deg = 100\nto_deg = 110\n");
    let found = follow_steps(&rig(&text), Rule::FoldOnce, 140.0, &rows);
    assert_eq!(found.stuck.map(|(_, end)| end), Some(WayEnd::KeepOut));
    // In the half circle from 90, the other framing, 20, would fold back at once.
    let text = format!("{KEEP_OUT}[wrap]\narc_start_deg = 90\n");
    let found = follow_steps(&rig(&text), Rule::HalfCircle, 140.0, &rows);
    assert_eq!(found.stuck.map(|(_, end)| end), Some(WayEnd::KeepOut));
    // If the cable ends at 210, the keep-out comes first. If it ends at 190, the cable does.
    for (limit, end_deg, end) in [(120, 200.0, WayEnd::KeepOut), (100, 190.0, WayEnd::Cable)] {
        let text = format!("[drive]\nwinding_limit_deg = {limit}\n{KEEP_OUT}");
        let found = unwinds(&text, Rule::FoldOnce, 30.0, &rows);
        near(
            &found[..1],
            &[(end_deg - 30.0, end, end_deg, end_deg - 180.0)],
        );
    }
}

/// Parked at 90 and framed at 230, under the full circle: the first move passes 30 degrees of the keep-out. A field
/// that turns by a degree a minute takes the rotator out of it downwards in 30 minutes. The cable of 130 degrees ends
/// at 220, 10 minutes on. From 100 the way is free.
#[test]
fn a_bad_first_framing_is_told() {
    let rows = turning(1.0, 120);
    let text = format!("[drive]\nwinding_limit_deg = 130\n{KEEP_OUT}");
    let found = follow_steps(&rig(&text), Rule::FullCircle, 230.0, &rows);
    let (first, stands) = (During::FirstMove, During::Following);
    let expected = [
        (Fault::KeepOut, first, 0.0, 200.0, 230.0, 0.0),
        (Fault::Winding, first, 0.0, 220.0, 230.0, 0.0),
        (Fault::KeepOut, stands, 0.0, 230.0, 200.0, 30.0),
        (Fault::Winding, stands, 0.0, 230.0, 220.0, 10.0),
    ];
    same(&faults(&found, &rows), &expected);
    assert!(found.unwinds.is_empty() && found.stuck.is_none());
    assert_eq!(found.clear_first_deg, None);
    // With a symmetry of 2, 50 frames the same field.
    let other = format!("{text}[wrap]\nsymmetry = 2\n");
    let found = follow_steps(&rig(&other), Rule::FullCircle, 230.0, &rows);
    assert_eq!(found.clear_first_deg, Some(50.0));
    // Beyond the cable and farther out, the rotator is stuck: 230 has no other framing.
    let found = follow_steps(&rig(&text), Rule::FullCircle, 230.0, &turning(-1.0, 120));
    assert_eq!(found.stuck, Some((rows[0].at, WayEnd::Cable)));
    let last = faults(&found, &rows)[3];
    same(
        &[last],
        &[(Fault::Winding, stands, 0.0, 230.0, 230.0, 120.0)],
    );
}

/// Parked at 0, framed at 100 between stops: the first move crosses 40 to 60, its only fault. The stops refuse a
/// target at 160.
#[test]
fn the_way_to_the_first_framing_counts() {
    let text = "[drive]\npark_deg = 0\ntravel = \"stops\"\nstop_from_deg = -100\nstop_to_deg = 150\n[wrap]\nsymmetry = 2\n[[keep_out]]\nfrom_deg = 40\nto_deg = 60\n";
    let rows = turning(0.1, 60);
    let found = follow_steps(&rig(text), Rule::FullCircle, 100.0, &rows);
    let first = During::FirstMove;
    same(
        &faults(&found, &rows),
        &[(Fault::KeepOut, first, 0.0, 40.0, 60.0, 0.0)],
    );
    assert_eq!(found.clear_first_deg, Some(-80.0));
    let found = follow_steps(&rig(text), Rule::FullCircle, 160.0, &rows);
    same(
        &faults(&found, &rows),
        &[(Fault::Refused, first, 0.0, 160.0, 160.0, 0.0)],
    );
    assert_eq!(found.stuck, Some((rows[0].at, WayEnd::Stop)));
    assert_eq!(found.clear_first_deg, Some(-20.0));
    // An overrun of the first move by 30 degrees reaches into a keep-out behind the framing.
    let text = "[drive]\npark_deg = 0\n[loop]\napproach = \"from-above\"\noverrun_deg = 30\n[[keep_out]]\nfrom_deg = 120\nto_deg = 125\n";
    let found = follow_steps(&rig(text), Rule::FullCircle, 100.0, &rows);
    same(
        &faults(&found, &rows),
        &[(Fault::KeepOut, first, 0.0, 120.0, 120.0, 0.0)],
    );
}

/// From 110 up to the end of the half circle in 70 minutes. The rule folds to 0, through 80 to 100. From there 80 is
/// the end, with no framing of the arc left. With a cable of 100 degrees about 120 the rotator stands beyond 20 for
/// 20 minutes before that.
#[test]
fn a_fold_past_a_bound_is_named() {
    let text = "[drive]\npark_deg = 120\nwinding_limit_deg = 100\n[[keep_out]]\nfrom_deg = 80\nto_deg = 100\n";
    let rows = turning(-1.0, 200);
    let found = follow_steps(&rig(text), Rule::HalfCircle, 110.0, &rows);
    let expected = [
        (Fault::KeepOut, During::Unwind, 70.0, 100.0, 80.0, 0.0),
        (Fault::Winding, During::Unwind, 70.0, 20.0, 0.0, 0.0),
        (Fault::Winding, During::Following, 70.0, 0.0, 20.0, 20.0),
    ];
    same(&faults(&found, &rows), &expected);
    let (at, end) = found.stuck.expect("stuck");
    assert!((at.since_s(rows[0].at) - 9000.0).abs() < 1e-6);
    assert_eq!(end, WayEnd::KeepOut);
}

/// A keep-out that counts below 45 degrees comes into force between minutes 59 and 60, when the rotator stands in its midst: it leaves before.
/// Where there is no other framing it stands there, until it has left upwards.
/// Shows (sky): a keep-out with `when` in a session counts at its pointings. Source: by hand.
#[test]
fn a_keep_out_counts_at_its_pointings() {
    let mut rows = turning(-1.0, 120);
    for row in &mut rows[60..] {
        row.pointing.altitude_deg = 40.0;
    }
    let text = "[[keep_out]]\nfrom_deg = 80\nto_deg = 120\nwhen = { altitude_deg = [0, 44] }\n";
    let expected = [(59.0, WayEnd::KeepOut, 89.0, -91.0)];
    near(&unwinds(text, Rule::FoldOnce, 30.0, &rows), &expected);
    let found = follow_steps(&rig(text), Rule::FullCircle, 30.0, &rows);
    let stands = During::Following;
    same(
        &faults(&found, &rows),
        &[(Fault::KeepOut, stands, 59.0, 89.0, 120.0, 31.0)],
    );
    let everywhere = text.replace("when", "why = \"\"\n# when");
    let found = follow_steps(&rig(&everywhere), Rule::FullCircle, 30.0, &rows);
    assert_eq!(found.stuck.map(|(_, end)| end), Some(WayEnd::KeepOut));
}
