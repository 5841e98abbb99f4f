//! A rotator that follows a field of known turn.

use super::follow::{End, follow_steps};
use super::session::FieldRow;
use crate::rig::{Rig, Rule, read};
use crate::sky::pointing::Pointing;
use crate::sky::time::Moment;

/// A field that turns by so much every minute, from a zenith at position angle 0.
fn turning(deg_per_min: f64, minutes: u32) -> Vec<FieldRow> {
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

fn rig(text: &str) -> Rig {
    read(text, "rig", &[]).expect("a valid rig")
}

/// Minute, end, from, to of every unwind.
fn unwinds(text: &str, rule: Rule, angle_deg: f64, rows: &[FieldRow]) -> Vec<(f64, End, f64, f64)> {
    let found = follow_steps(&rig(text), rule, angle_deg, rows);
    assert_eq!(found.stuck, None);
    let minute = |at: Moment| at.since_s(rows[0].at) / 60.0;
    found
        .unwinds
        .iter()
        .map(|u| (minute(u.at), u.end, u.from_deg, u.to_deg))
        .collect()
}

fn near(found: &[(f64, End, f64, f64)], expected: &[(f64, End, f64, f64)]) {
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for (f, e) in found.iter().zip(expected) {
        let off = [f.0 - e.0, f.2 - e.2, f.3 - e.3].map(f64::abs);
        assert!(f.1 == e.1 && off.iter().all(|o| *o < 1e-6), "{f:?} {e:?}");
    }
}

/// From 30 degrees, a field that turns backwards by 1 degree a minute drives the reading up to the end of the half circle at 180 in 150
/// minutes. The fold back by 180 is half a turn, for which the short way is upwards: readings go on counting.
#[test]
fn the_seam_comes_every_half_turn() {
    let rows = turning(-1.0, 400);
    let expected = [
        (150.0, End::Seam, 180.0, 360.0),
        (330.0, End::Seam, 540.0, 720.0),
    ];
    near(&unwinds("", Rule::HalfCircle, 30.0, &rows), &expected);
    // A band of 10 degrees puts it off by 10 minutes, and the fold goes back by half a turn all the same.
    let expected = [
        (160.0, End::Seam, 190.0, 370.0),
        (340.0, End::Seam, 550.0, 730.0),
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

/// A cable of 200 degrees about parking at 90 ends at 290; whole turns of framing are 180 degrees under the fold-once rule, so that the
/// drive goes back by two of them, as far as the other end allows.
#[test]
fn a_cable_is_unwound_as_far_as_it_goes() {
    let rows = turning(-1.0, 400);
    let text = "[drive]\nwinding_limit_deg = 200\n";
    let expected = [(260.0, End::Cable, 290.0, -70.0)];
    near(&unwinds(text, Rule::FoldOnce, 30.0, &rows), &expected);
    // The full circle goes back by whole turns.
    near(&unwinds(text, Rule::FullCircle, 30.0, &rows), &expected);
}

#[test]
fn stops_end_the_way_and_may_hold_it() {
    let rows = turning(1.0, 120);
    // Downwards from 30 to the stop at -10 in 40 minutes; then to 170, the equivalent above.
    let wide = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 200\n";
    let expected = [(40.0, End::Stop, -10.0, 170.0)];
    near(&unwinds(wide, Rule::FoldOnce, 30.0, &rows), &expected);
    // The arc from 0 ends sooner.
    let expected = [(30.0, End::Seam, 0.0, 180.0)];
    near(&unwinds(wide, Rule::HalfCircle, 30.0, &rows), &expected);
    let narrow = "[drive]\ntravel = \"stops\"\nstop_from_deg = -10\nstop_to_deg = 100\n";
    let found = follow_steps(&rig(narrow), Rule::FoldOnce, 30.0, &rows);
    let (at, end) = found.stuck.expect("stuck");
    assert_eq!((at.since_s(rows[0].at), end), (2400.0, End::Stop));
    assert!(found.unwinds.is_empty());
}

/// 3 degrees a second are 10800 an hour.
#[test]
fn a_field_too_fast_for_the_drive_is_told() {
    let slow = follow_steps(&rig(""), Rule::FullCircle, 0.0, &turning(179.0, 1));
    let fast = follow_steps(&rig(""), Rule::FullCircle, 0.0, &turning(181.0, 1));
    assert!(!slow.rows[0].too_fast && fast.rows[0].too_fast);
}
