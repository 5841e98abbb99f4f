//! A rotator that follows a field of known turn.

use super::bounds::End;
use super::follow::{During, Follow, follow_steps};
use super::session::FieldRow;
use crate::plant::Plant;
use crate::rig::{Rig, Rule, read};
use crate::scenario::Policy;
use crate::sky::pointing::Pointing;
use crate::sky::time::Moment;
use crate::verdict::Fault;

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
/// minutes. A command just beyond folds to just above 0, a little less than half a turn back: the short way is downwards.
#[test]
fn the_seam_comes_every_half_turn() {
    let rows = turning(-1.0, 400);
    let expected = [
        (150.0, End::Seam, 180.0, 0.0),
        (330.0, End::Seam, 180.0, 0.0),
    ];
    near(&unwinds("", Rule::HalfCircle, 30.0, &rows), &expected);
    // A band of 10 degrees puts it off by 10 minutes, and the fold goes back by half a turn all the same.
    let expected = [
        (160.0, End::Seam, 190.0, 10.0),
        (340.0, End::Seam, 190.0, 10.0),
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

/// Up from 30 by a degree a minute: 200 is reached in 170 minutes, and 20 is the same framing. The full circle has no other.
#[test]
fn a_keep_out_ends_the_way() {
    let rows = turning(-1.0, 400);
    let expected = [
        (170.0, End::KeepOut, 200.0, 20.0),
        (350.0, End::KeepOut, 200.0, 20.0),
    ];
    near(&unwinds(KEEP_OUT, Rule::FoldOnce, 30.0, &rows), &expected);
    let found = follow_steps(&rig(KEEP_OUT), Rule::FullCircle, 30.0, &rows);
    let (at, end) = found.stuck.expect("stuck");
    assert_eq!((at.since_s(rows[0].at), end), (10_200.0, End::KeepOut));
    assert!(found.faults.is_empty() && found.is_bad());
    // Where the cable ends at 210, the keep-out comes first; where it ends at 190, the cable does.
    for (limit, end_deg, end) in [(120, 200.0, End::KeepOut), (100, 190.0, End::Cable)] {
        let text = format!("[drive]\nwinding_limit_deg = {limit}\n{KEEP_OUT}");
        let found = unwinds(&text, Rule::FoldOnce, 30.0, &rows);
        near(
            &found[..1],
            &[(end_deg - 30.0, end, end_deg, end_deg - 180.0)],
        );
    }
}

/// Parked at 90 and framed at 230, under the full circle: the first move passes 30 degrees of the keep-out, and a field that turns by a degree a
/// minute takes the rotator out of it downwards in 30 minutes. The cable of 130 degrees ends at 220, 10 minutes on. From 100 on the way is free.
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
    // With a symmetry of 2, 50 frames the same.
    let other = format!("{text}[wrap]\nsymmetry = 2\n");
    let found = follow_steps(&rig(&other), Rule::FullCircle, 230.0, &rows);
    assert_eq!(found.clear_first_deg, Some(50.0));
    // Beyond the cable and farther out: the way is at its end, and 230 has no other framing.
    let found = follow_steps(&rig(&text), Rule::FullCircle, 230.0, &turning(-1.0, 120));
    assert_eq!(found.stuck, Some((rows[0].at, End::Cable)));
    let last = faults(&found, &rows)[3];
    same(
        &[last],
        &[(Fault::Winding, stands, 0.0, 230.0, 230.0, 120.0)],
    );
}

/// Parked at 0, framed at 100 between stops: the way there crosses 40 to 60, and nothing more is wrong. A target at 160 is refused.
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
    assert_eq!(found.stuck, Some((rows[0].at, End::Stop)));
    assert_eq!(found.clear_first_deg, Some(-20.0));
    // An overrun of the first move by 30 degrees reaches into a keep-out behind the framing.
    let text = "[drive]\npark_deg = 0\n[loop]\napproach = \"from-above\"\noverrun_deg = 30\n[[keep_out]]\nfrom_deg = 120\nto_deg = 125\n";
    let found = follow_steps(&rig(text), Rule::FullCircle, 100.0, &rows);
    same(
        &faults(&found, &rows),
        &[(Fault::KeepOut, first, 0.0, 120.0, 120.0, 0.0)],
    );
}

/// From 110 up to the end of the half circle in 70 minutes. The rule folds to 0, through 80 to 100. From there 80 is the end: no framing of the arc is left.
/// With a cable of 100 degrees from 120 it stands beyond 20 for 20 minutes before that.
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
    assert_eq!(end, End::KeepOut);
}

/// A keep-out that counts below 45 degrees comes into force between minutes 59 and 60, when the rotator stands in its midst: it leaves before.
/// Where there is no other framing it stands there, until it has left upwards.
#[test]
fn a_keep_out_counts_at_its_pointings() {
    let mut rows = turning(-1.0, 120);
    for row in &mut rows[60..] {
        row.pointing.altitude_deg = 40.0;
    }
    let text = "[[keep_out]]\nfrom_deg = 80\nto_deg = 120\nwhen = { altitude_deg = [0, 44] }\n";
    let expected = [(59.0, End::KeepOut, 89.0, -91.0)];
    near(&unwinds(text, Rule::FoldOnce, 30.0, &rows), &expected);
    let found = follow_steps(&rig(text), Rule::FullCircle, 30.0, &rows);
    let stands = During::Following;
    same(
        &faults(&found, &rows),
        &[(Fault::KeepOut, stands, 59.0, 89.0, 120.0, 31.0)],
    );
    let everywhere = text.replace("when", "why = \"\"\n# when");
    let found = follow_steps(&rig(&everywhere), Rule::FullCircle, 30.0, &rows);
    assert_eq!(found.stuck.map(|(_, end)| end), Some(End::KeepOut));
}

/// A generator for the rigs below: Knuth's 64-bit multiplier (The Art of Computer Programming 2, 3.3.4).
struct Numbers(u64);

impl Numbers {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[(self.between(0.0, list.len() as f64)) as usize]
    }
}

/// What a reading breaks, by plain arithmetic: a keep-out, the cable. Nearer than `margin_deg` to an edge it breaks nothing; with a margin below 0 it
/// breaks what it is that near to.
fn broken(rig: &Rig, reading_deg: f64, margin_deg: f64) -> [bool; 2] {
    let drive = &rig.settings().drive;
    let endless = drive.stop_from_deg.is_none();
    let inside = rig.settings().keep_out.iter().any(|k| {
        let width = k.to_deg - k.from_deg;
        let from = k.from_deg + margin_deg;
        let (into, width) = if endless {
            (
                (reading_deg - from).rem_euclid(360.0),
                width.rem_euclid(360.0),
            )
        } else {
            (reading_deg - from, width)
        };
        into > 0.0 && into < width - 2.0 * margin_deg
    });
    let limit = drive.winding_limit_deg;
    let far = (reading_deg - drive.park_deg).abs();
    [inside, limit > 0.0 && far > limit + margin_deg]
}

/// 400 random rigs (seed 5) with keep-outs, stops and cable follow a field to and fro; nothing bad happens that is not told, nothing is told
/// that does not happen, every framing is kept, and who is stuck has no way out. Held against readings in small steps and plain arithmetic.
#[test]
fn random_rigs_keep_their_bounds_or_tell() {
    const MARGIN_DEG: f64 = 1e-3;
    let mut numbers = Numbers(5);
    let [mut told, mut stuck, mut unwound] = [0; 3];
    for _ in 0..400 {
        let park = numbers.between(0.0, 180.0);
        let mut text = format!("[drive]\npark_deg = {park:.1}\n");
        if numbers.between(0.0, 1.0) < 0.5 {
            text += &format!("winding_limit_deg = {:.1}\n", numbers.between(60.0, 400.0));
        }
        let stops = numbers.between(0.0, 1.0) < 0.4;
        let (low, high) = (numbers.between(-200.0, 0.0), numbers.between(180.0, 400.0));
        if stops {
            text +=
                &format!("travel = \"stops\"\nstop_from_deg = {low:.1}\nstop_to_deg = {high:.1}\n");
        }
        text += &format!(
            "[wrap]\narc_start_deg = {:.1}\nband_deg = 12\nsymmetry = {}\n",
            numbers.between(-90.0, 90.0),
            numbers.of(&[1, 2, 4])
        );
        for _ in 0..numbers.of(&[0, 1, 2]) {
            let from = numbers.between(0.0, 330.0);
            text += &format!(
                "[[keep_out]]\nfrom_deg = {from:.1}\nto_deg = {:.1}\n",
                from + numbers.between(1.0, 50.0)
            );
        }
        let rule = numbers.of(&Rule::ALL);
        let angle = numbers.between(0.0, 360.0);
        let rig = rig(&text);
        // There and back again, by up to 300 degrees.
        let swing = numbers.between(-300.0, 300.0);
        let mut rows = turning(0.0, 3000);
        for (i, row) in rows.iter_mut().enumerate() {
            row.turned_deg = swing * (i as f64 / 1000.0).sin();
        }
        let found = follow_steps(&rig, rule, angle, &rows);
        let period = Policy::with_rule(&rig, rule).period_deg();
        let is_told = |at: Moment, fault: Fault, during: During| {
            found.faults.iter().any(|f| {
                let after = at.since_s(f.at);
                let then = match during {
                    During::Following => after >= -1e-3 && after <= f.lasts_s + 1e-3,
                    During::FirstMove | During::Unwind => after.abs() < 1e-3,
                };
                f.fault == fault && f.during == during && then
            })
        };
        // Where it stands, row by row.
        for (row, followed) in rows.iter().zip(&found.rows) {
            let kinds = [Fault::KeepOut, Fault::Winding];
            let surely = broken(&rig, followed.reading_deg, MARGIN_DEG);
            let perhaps = broken(&rig, followed.reading_deg, -MARGIN_DEG);
            for (i, fault) in kinds.into_iter().enumerate() {
                let says = is_told(row.at, fault, During::Following);
                // A rotator that has just unwound from there is elsewhere.
                let turns = found
                    .unwinds
                    .iter()
                    .any(|u| u.at.since_s(row.at).abs() < 61.0);
                assert!(
                    !surely[i] || says || turns,
                    "{text}{rule:?} {angle} {row:?} {followed:?}"
                );
                assert!(
                    !says || perhaps[i] || turns,
                    "{text}{rule:?} {angle} {row:?} {followed:?}"
                );
            }
            if found.stuck.is_none_or(|(at, _)| row.at.since_s(at) <= 0.0) {
                let off = (followed.reading_deg - angle + row.turned_deg).rem_euclid(period);
                assert!(off.min(period - off) < 1e-6, "{text}{rule:?} {angle} {off}");
            }
        }
        // Every turn, in small steps.
        let first = found.rows.first().map(|r| {
            (
                rows[0].at,
                rig.settings().drive.park_deg,
                r.reading_deg,
                During::FirstMove,
            )
        });
        let turns = found
            .unwinds
            .iter()
            .map(|u| (u.at, u.from_deg, u.to_deg, During::Unwind));
        for (at, from, to, during) in first.into_iter().chain(turns) {
            let steps = ((to - from).abs() / 2e-3).ceil() as usize + 1;
            let way = |i: usize| from + (to - from) * i as f64 / steps as f64;
            for (kind, fault) in [(0, Fault::KeepOut), (1, Fault::Winding)] {
                // A turn out of a place that is bad already is told where it stood.
                let bad = (0..=steps).any(|i| broken(&rig, way(i), MARGIN_DEG)[kind]);
                let out = kind == 1 && !broken(&rig, to, MARGIN_DEG)[kind];
                let says = is_told(at, fault, during);
                assert!(
                    !bad || says || out,
                    "{text}{rule:?} {angle} {fault:?} {from} {to}"
                );
            }
        }
        // Who is stuck is so: every equivalent framing on the way back is past a bound, or has no room.
        if let Some((_, end)) = found
            .stuck
            .filter(|_| !found.rows.is_empty() && rule == Rule::FoldOnce)
        {
            let at = found.rows.last().expect("rows").reading_deg;
            let drive = &rig.settings().drive;
            let off = |x: f64| {
                broken(&rig, x, -MARGIN_DEG) != [false; 2]
                    || drive.stop_from_deg.is_some_and(|s| x < s)
                    || drive.stop_to_deg.is_some_and(|s| x > s)
            };
            // It was stuck going up if just above is bad.
            let up = off(at + 2.0 * MARGIN_DEG);
            let direction = if up { 1.0 } else { -1.0 };
            assert!(
                off(at + direction * 2.0 * MARGIN_DEG),
                "{text} {at} {end:?}"
            );
            for turns in 1..=8 {
                let length = f64::from(turns) * period;
                let steps = (length / 2e-3) as usize;
                let back = |i: usize| at - direction * (5.0 * MARGIN_DEG + i as f64 * 2e-3);
                let blocked = (0..steps - 3).any(|i| off(back(i)));
                let room = (0..500).any(|i| off(at - direction * (length - f64::from(i) * 2e-3)));
                assert!(blocked || room, "{text} {at} {end:?} {turns}");
            }
        }
        told += u32::from(!found.faults.is_empty());
        stuck += u32::from(found.stuck.is_some());
        unwound += u32::from(!found.unwinds.is_empty());
    }
    // Each kind is met.
    assert!(
        told > 40 && stuck > 40 && unwound > 40,
        "{told} {stuck} {unwound}"
    );
}

/// The seam by the rule itself: commands a hundredth of a degree apart, each taken the short way from where the drive stands.
#[test]
fn folds_are_those_of_the_rule() {
    let stops = "[drive]\ntravel = \"stops\"\nstop_from_deg = -200\nstop_to_deg = 560\n";
    for text in [
        "",
        "[wrap]\nsymmetry = 4\nband_deg = 20\n",
        "[wrap]\nband_deg = 100\n",
        stops,
    ] {
        for rule in Rule::ALL {
            for rate in [1.0, -1.0] {
                let rig = rig(text);
                let rows = turning(rate, 700);
                let found = follow_steps(&rig, rule, 30.0, &rows);
                let plant = Plant::new(&rig);
                let wrap = Policy::with_rule(&rig, rule).wrap(plant.travel());
                let mut at = 30.0;
                for (row, followed) in rows.iter().zip(&found.rows).skip(1) {
                    for _ in 0..100 {
                        let command = wrap.correction(at - 0.01 * rate).drive_deg;
                        if plant.refuses(command) {
                            break;
                        }
                        at = plant.goal_deg(at, command);
                    }
                    // At a stop the rule does nothing by itself.
                    let other = found.unwinds.iter().find(|u| u.end != End::Seam);
                    if other.is_some_and(|u| u.at.since_s(row.at) < 61.0) {
                        break;
                    }
                    assert_eq!(found.stuck, None);
                    let off = (followed.reading_deg - at).abs();
                    // A fold may fall on the row.
                    let folds = found
                        .unwinds
                        .iter()
                        .any(|u| u.at.since_s(row.at).abs() < 61.0);
                    assert!(
                        off < 1e-6 || folds,
                        "{text} {rule:?} {rate} {followed:?} {at}"
                    );
                }
            }
        }
    }
}
