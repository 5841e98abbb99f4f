//! Exact angles, odd notation, the first move, forbidden targets and keep-outs.

use super::super::case::{Case, Expect};
use super::Base;
use super::make::{Maker, ROOM_DEG, Sketch};
use super::rigs::{ECCENTRIC, graded};
use crate::angle::TURN_DEG;

/// Exact multiples of the period from the start of the arc, and angles beside them. The rig is perfect, so that the
/// first move alone is right, and the arc is half open: its end frames the same field as its start.
pub(super) fn multiples(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.perfect();
    let ground = maker.ground(&[2, 2, 1, 4])?;
    let ground = maker.some_whole_turns(ground, 0.2);
    let whole = |deg: f64| deg.fract() == 0.0;
    if *maker.base != Base::Graded && !(whole(ground.start_deg) && whole(ground.zero_deg)) {
        return None; // sums of other angles are rounded
    }
    let multiple = maker.dice.pick(&[0.0, 1.0, 1.0, -1.0, 2.0, -2.0, 3.0, 4.0]);
    let beside_deg = maker.dice.pick(&[
        0.0,
        0.0,
        0.0,
        0.125,
        -0.125,
        2.0_f64.powi(-20),
        -(2.0_f64.powi(-20)),
    ]);
    let drive_deg = ground.start_deg + multiple * ground.period_deg() + beside_deg;
    let sketch = maker.sketch(s, ground, 0.0, drive_deg);
    let target_deg = ground.zero_deg + ground.sense.factor() * drive_deg;
    Some(maker.case_at(
        Sketch {
            zero_error_deg: 0.0,
            ..sketch
        },
        target_deg,
    ))
}

/// Angles in unusual notation.
pub(super) fn notation(maker: &mut Maker<'_>) -> Option<Case> {
    let mut s = maker.errors();
    s.drive.gain_error = 0.0; // grows with the turns of the reading
    if *maker.base == Base::Graded && maker.dice.happens(0.5) {
        s = graded()[ECCENTRIC].clone();
    }
    let mut ground = maker.ground(&[2, 2, 4, 1])?;
    let odd = [360.0, -0.0, 720.25, -360.0, 180.0, -720.25, 540.0];
    if *maker.base == Base::Graded {
        ground.start_deg = maker.dice.pick(&[0.0, -0.0, 360.0, 720.25, -360.0]);
        ground.zero_deg = maker.dice.pick(&[0.0, -0.0, 360.0, 720.25]);
        ground.stops = ground.stops && ground.start_deg == 0.0;
    }
    if !maker.has_seam(&ground) {
        return None;
    }
    let band_deg = Maker::band_deg(&s, &ground, 0.0);
    let sketch = maker.sketch(s, ground, band_deg, 0.0);
    let park_deg = maker.dice.pick(&odd);
    let target_deg = maker.dice.pick(&odd);
    Some(maker.case_at(Sketch { park_deg, ..sketch }, target_deg))
}

/// Only two solves, on a rig with no error but backlash: less than the tolerance after one move, more after a move
/// there and back. A wrong first move cannot be repaired. The run starts at the target: a controller that solves
/// before it moves is right too, and so is one that wants two passes.
pub(super) fn first_move(maker: &mut Maker<'_>) -> Option<Case> {
    let mut s = maker.perfect();
    s.loop_.max_solves = 2;
    let ground = maker.ground(&[1, 2, 2, 4])?;
    s.drive.backlash_deg = (1.6 * s.loop_.tolerance_deg).min(45.0);
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let sketch = maker.sketch(s, ground, 0.0, drive_deg);
    let turns = if ground.stops {
        0.0
    } else {
        maker.dice.pick(&[0.0, 1.0, -1.0])
    };
    let sketch = Sketch {
        zero_error_deg: 0.0,
        park_deg: drive_deg + turns * TURN_DEG,
        ..sketch
    };
    Some(maker.case(sketch))
}

/// A target whose place in the arc lies beyond a stop. In an arc wider than a period, another place may be within.
pub(super) fn forbidden(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 2, 4])?;
    let ground = maker.with_stops(ground, true)?;
    let ground = maker.some_whole_turns(ground, 0.2);
    let (lo, hi) = match maker.base {
        Base::Graded => {
            let width_deg = ground.width_deg();
            let low = ground.start_deg - maker.dice.between(0.0, 0.1) * width_deg;
            (low.floor(), (ground.start_deg + 0.55 * width_deg).ceil())
        }
        Base::Rig(_) => maker.stops_deg(&ground, 0.0)?,
    };
    let drive_deg = maker.start_inside_deg(&ground);
    let beyond = |angle_deg: f64| angle_deg < lo - ROOM_DEG || angle_deg > hi + ROOM_DEG;
    if !beyond(drive_deg) {
        return None;
    }
    let period_deg = ground.period_deg();
    let reach = 2.0 * TURN_DEG / period_deg;
    let steps = (-reach as i32)..=(reach as i32);
    let all = steps
        .map(|k| drive_deg + f64::from(k) * period_deg)
        .all(beyond);
    let band_deg = maker.some_band_deg(&s, &ground);
    let mut sketch = maker.sketch(s, ground, band_deg, drive_deg);
    sketch.stops_deg = Some((lo, hi));
    sketch.expect = if all { Expect::GiveUp } else { Expect::Either };
    Some(maker.case(sketch))
}

/// A keep-out outside the arc. No way within the arc meets it.
pub(super) fn keep_outs(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[2, 2, 4])?;
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let own = !s.keep_out.is_empty();
    if *maker.base == Base::Graded && ground.whole_turn {
        return None; // nothing is outside
    }
    let mut sketch = maker.sketch(s, ground, 0.0, drive_deg);
    if let Base::Rig(_) = maker.base {
        return own.then(|| maker.case(sketch));
    }
    // From 15 degrees beyond the arc to 15 degrees before the arc begins again.
    let from_deg = ground.end_deg() + 15.0;
    let to_deg = ground.start_deg + TURN_DEG - 15.0;
    sketch.settings.keep_out = vec![Maker::keep_out(from_deg, to_deg)];
    if let Some(stops) = &mut sketch.stops_deg {
        stops.1 = to_deg + 30.0;
    }
    // Less than half a turn from the target: otherwise the short way may lead outside the arc.
    sketch.park_deg = drive_deg
        .min(ground.end_deg() - 1.0)
        .max(sketch.park_deg.min(drive_deg + 150.0))
        .max(drive_deg - 150.0);
    Some(maker.case(sketch))
}
