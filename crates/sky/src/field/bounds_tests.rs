//! Random rigs that follow a field, checked by plain arithmetic, and folds, checked against the rule.

use super::bounds::WayEnd;
use super::follow::{During, follow_steps};
use super::follow_tests::{rig, turning};
use crate::time::Moment;
use halfturn_engine::plant::Plant;
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::scenario::Policy;
use halfturn_engine::verdict::Fault;

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

/// Whether a reading violates a keep-out or the cable, by plain arithmetic. Readings closer than `margin_deg` to an
/// edge count as good; with a negative margin, as bad.
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

/// 400 rigs, seed 5, follow a field to and fro.
/// Shows (sky): random rigs with keep-outs, stops and cable: nothing bad happens unsaid, nothing said does not happen,
/// every framing is kept, and who is stuck has no way out. Source: brute force: readings in small steps, plain
/// arithmetic.
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
        let rule = numbers.of(Rule::ALL);
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
        // Its reading, row by row.
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
                // A turn out of a bad place was reported when the rotator stood there.
                let bad = (0..=steps).any(|i| broken(&rig, way(i), MARGIN_DEG)[kind]);
                let out = kind == 1 && !broken(&rig, to, MARGIN_DEG)[kind];
                let says = is_told(at, fault, during);
                assert!(
                    !bad || says || out,
                    "{text}{rule:?} {angle} {fault:?} {from} {to}"
                );
            }
        }
        // The rule itself folds past a limit. No other unwind does.
        for unwind in found.unwinds.iter().filter(|u| u.end != WayEnd::Seam) {
            let past =
                [Fault::KeepOut, Fault::Winding].map(|f| is_told(unwind.at, f, During::Unwind));
            assert_eq!(past, [false; 2], "{text}{rule:?} {angle} {unwind:?}");
        }
        // A stuck rotator really is: every equivalent framing on the way back is past a limit, or has no room.
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
    // The rigs have each kind.
    assert!(
        told > 40 && stuck > 40 && unwound > 40,
        "{told} {stuck} {unwound}"
    );
}

/// Shows (sky): at the seam the rule folds by itself, the short way. Source: brute force: the rule's own commands, 0.01°
/// apart, each the short way.
#[test]
fn folds_are_those_of_the_rule() {
    let stops = "[drive]\ntravel = \"stops\"\nstop_from_deg = -200\nstop_to_deg = 560\n";
    for text in [
        "",
        "[wrap]\nsymmetry = 4\nband_deg = 20\n",
        "[wrap]\nband_deg = 100\n",
        stops,
    ] {
        for &rule in Rule::ALL {
            for rate in [1.0, -1.0] {
                let rig = rig(text);
                let rows = turning(rate, 700);
                let found = follow_steps(&rig, rule, 30.0, &rows);
                let plant = Plant::new(&rig);
                let wrap = Policy::with_rule(&rig, rule).wrap(rig.travel());
                let mut at = 30.0;
                for (row, followed) in rows.iter().zip(&found.rows).skip(1) {
                    for _ in 0..100 {
                        let command = wrap.correction(at - 0.01 * rate).drive_deg;
                        if plant.refuses(command) {
                            break;
                        }
                        at = plant.goal_deg(at, command);
                    }
                    // At a stop the rule does nothing.
                    let other = found.unwinds.iter().find(|u| u.end != WayEnd::Seam);
                    if other.is_some_and(|u| u.at.since_s(row.at) < 61.0) {
                        break;
                    }
                    assert_eq!(found.stuck, None);
                    let off = (followed.reading_deg - at).abs();
                    // A fold may come exactly at the row.
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
