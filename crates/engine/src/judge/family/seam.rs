//! Seams, arcs, starts and stops.

use super::super::case::Case;
use super::Base;
use super::make::{FamilyGround, Maker, Sketch};
use super::rigs::{ECCENTRIC, graded};
use crate::angle::TURN_DEG;
use crate::rig::RigSettings;

/// Distances from an end of the arc \[deg\].
const BESIDE_DEG: [f64; 10] = [0.0, 0.0, 0.01, 0.05, 0.125, 0.25, 0.4, 0.75, 1.0, 2.5];

/// A target on or beside an end of the arc, from both sides.
pub(super) fn seam(maker: &mut Maker<'_>) -> Option<Case> {
    let mut s = maker.errors();
    let ground = maker.ground(&[2, 2, 2, 4, 1])?;
    if !maker.has_seam(&ground) {
        return None;
    }
    let worst = *maker.base == Base::Graded && maker.dice.happens(0.6);
    if worst {
        s = eccentric(s, &ground);
    }
    let band_deg = Maker::band_deg(&s, &ground, 0.0);
    let near = if worst { &BESIDE_DEG[..5] } else { &BESIDE_DEG };
    let beside_deg = maker.dice.pick(near);
    let low_end = maker.dice.happens(0.5);
    let drive_deg = if low_end {
        ground.start_deg + beside_deg
    } else {
        ground.end_deg() - beside_deg
    };
    let mut sketch = maker.sketch(s, ground, band_deg, drive_deg);
    if !ground.stops {
        sketch.park_deg += maker.dice.pick(&[0.0, 0.0, TURN_DEG, -TURN_DEG]);
    }
    if worst {
        // Enough to start the hunting, but not enough for the first swing to end it.
        let outwards = if low_end { 1.0 } else { -1.0 };
        let off_deg = maker.dice.between(0.1, 0.4);
        sketch.zero_error_deg = ground.sense.factor() * outwards * off_deg;
    }
    Some(maker.case(sketch))
}

/// The worst case of an eccentric gear: its error is largest at the seam, and at both ends of the arc it needs a
/// correction that leads out of the arc (docs/model.md, section 7).
fn eccentric(s: RigSettings, ground: &FamilyGround) -> RigSettings {
    let mut s = if s.drive.periodic.is_empty() {
        graded()[ECCENTRIC].clone()
    } else {
        s
    };
    if let Some(first) = s.drive.periodic.first_mut() {
        // Half a cycle from one end to the other.
        first.cycles = 0.5 * f64::from(ground.symmetry);
        first.phase_deg = 90.0 - first.cycles * ground.start_deg;
    }
    s
}

/// A target far from the ends of any arc. Half of the arcs have no band.
pub(super) fn arcs(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 4])?;
    let ground = maker.some_whole_turns(ground, 0.25);
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let band_deg = maker.some_band_deg(&s, &ground);
    let sketch = maker.sketch(s, ground, band_deg, drive_deg);
    Some(maker.case(sketch))
}

/// A run that starts anywhere.
pub(super) fn starts(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 2, 4])?;
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let mut sketch = maker.sketch(s, ground, 0.0, drive_deg);
    // In steps over the arc, and over as much again on both sides.
    let share = (maker.ordinal % 60) as f64 / 20.0 - 1.0;
    sketch.park_deg = ground.start_deg + share * ground.width_deg();
    if !ground.stops && maker.dice.happens(0.2) {
        sketch.park_deg += TURN_DEG * maker.dice.sign();
    }
    Some(maker.case(sketch))
}

/// From one end of the line to the other.
pub(super) fn stops(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 1, 2])?;
    let ground = maker.with_stops(ground, true)?;
    let ground = maker.some_whole_turns(ground, 0.6);
    let margin_deg = Maker::excursion_deg(&s, &ground, 0.0) + super::make::ROOM_DEG;
    let near_deg = maker.dice.between(margin_deg, margin_deg + 25.0);
    let ends = [ground.start_deg + near_deg, ground.end_deg() - near_deg];
    let from = maker.dice.pick(&[0, 1]);
    let sketch = maker.sketch(s, ground, 0.0, ends[1 - from]);
    let sketch = Sketch {
        park_deg: ends[from],
        ..sketch
    };
    Some(maker.case(sketch))
}
