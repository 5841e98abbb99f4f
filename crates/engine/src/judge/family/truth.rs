//! Rigs that differ from what the controller believes (zero points, senses, flips), and solves that fail.

use super::super::case::{Case, Expect};
use super::super::limits::shaft_error_deg;
use super::make::{FamilyGround, Maker, ROOM_DEG, Sketch};
use crate::angle::{TURN_DEG, residual_finite};

/// A zero point that is far off, and a target far enough inside that the correction stays in the arc.
pub(super) fn zero_point(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 2, 4])?;
    let most_deg = 0.25 * ground.period_deg();
    let zero_error_deg = maker.dice.sign() * maker.dice.between(2.0, most_deg);
    let drive_deg = maker.inside_deg(&s, &ground, zero_error_deg)?;
    let sketch = maker.sketch(s, ground, 0.0, drive_deg);
    Some(maker.case(Sketch {
        zero_error_deg,
        ..sketch
    }))
}

/// A zero point so far off that the first correction leads out of the arc and folds, once. A controller that never
/// folds a correction leaves the arc here by design, and is not judged for it.
pub(super) fn far_zero_point(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[2, 2, 4])?;
    let ground = maker.with_stops(ground, false)?;
    if !maker.has_seam(&ground) {
        return None;
    }
    let errors_deg = Maker::excursion_deg(&s, &ground, 0.0) + ROOM_DEG;
    let from_end_deg = maker.dice.between(errors_deg, errors_deg + 5.0);
    let most_deg = 0.4 * ground.period_deg();
    let least_deg = from_end_deg + errors_deg + 1.0;
    if least_deg + 1.0 > most_deg {
        return None;
    }
    let beyond_deg = maker.dice.between(least_deg, most_deg);
    let (drive_deg, towards) = near_an_end(maker, &ground, from_end_deg);
    let sketch = maker.sketch(s, ground, 0.0, drive_deg);
    let mut case = maker.case(Sketch {
        zero_error_deg: ground.sense.factor() * towards * beyond_deg,
        ..sketch
    });
    case.free_corrections = true;
    Some(case)
}

/// A perfect rig and a zero point that is off, so that the first correction ends just within the band, or beyond it by
/// 0.2, 1, 5 or 20 degrees, at either end of the arc. Beyond it, folding and leaving the arc are both right, unless the
/// controller claims a rule.
pub(super) fn beyond_band(maker: &mut Maker<'_>) -> Option<Case> {
    const BEYOND_DEG: [f64; 5] = [-0.25, 0.2, 1.0, 5.0, 20.0];
    let s = maker.perfect();
    let ground = maker.ground(&[2, 2, 4, 1])?;
    if !maker.has_seam(&ground) {
        return None;
    }
    let beyond_deg = BEYOND_DEG[maker.ordinal % BEYOND_DEG.len()];
    let least_deg = Maker::band_deg(&s, &ground, 0.0);
    let band_deg = least_deg + maker.dice.pick(&[0.0, 1.25, 3.0]);
    let from_end_deg = maker.dice.between(1.0, 10.0);
    let (drive_deg, towards) = near_an_end(maker, &ground, from_end_deg);
    // Folding once leaves the band, and must not meet a stop.
    let sketch = maker.sketch(s, ground, band_deg + beyond_deg.max(0.0), drive_deg);
    let off_deg = from_end_deg + band_deg + beyond_deg;
    let mut case = maker.case(Sketch {
        band_deg,
        zero_error_deg: ground.sense.factor() * towards * off_deg,
        ..sketch
    });
    case.free_corrections = true;
    Some(case)
}

/// A drive angle this far from one end of the arc \[deg\], and the sign of the zero point's error that leads beyond
/// that end: a true zero point above the believed one needs less of the drive angle, in its sense.
fn near_an_end(maker: &mut Maker<'_>, ground: &FamilyGround, from_end_deg: f64) -> (f64, f64) {
    if maker.dice.happens(0.5) {
        (ground.start_deg + from_end_deg, 1.0)
    } else {
        (ground.end_deg() - from_end_deg, -1.0)
    }
}

/// A wrong believed sense: every full correction doubles the error, and no wrap rule can help.
pub(super) fn wrong_sense(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 2, 4])?;
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let period_deg = ground.period_deg();
    // The error after the first move. Near 0 it needs no correction.
    let off_deg = residual_finite(2.0 * drive_deg, period_deg).abs();
    let errors_deg = Maker::excursion_deg(&s, &ground, 0.0) + s.loop_.tolerance_deg;
    if off_deg < 2.0 * errors_deg + 1.0 {
        return None;
    }
    let sketch = maker.sketch(s, ground, 0.0, drive_deg);
    let mut case = maker.case(Sketch {
        expect: Expect::Either,
        ..sketch
    });
    case.rig.drive.sense = ground.sense.other();
    case.free_corrections = true;
    Some(case)
}

/// The mount flips during the run. For a symmetric frame nothing changes, else the camera must turn half a turn.
pub(super) fn pier_flip(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let mut ground = maker.ground(&[1, 1, 2, 2, 4])?;
    if ground.symmetry == 1 {
        // Only endless travel has room for half a turn in either direction.
        ground = maker.with_stops(ground, false)?;
    }
    let least_deg = s.loop_.tolerance_deg
        + shaft_error_deg(&s, ground.start_deg.abs() + 2.0 * TURN_DEG)
        + 3.0 * s.solve.noise_deg
        + s.solve.bias_deg.abs()
        + ROOM_DEG;
    // The first solve must not pass, or the run would end before the flip.
    let zero_error_deg = maker.dice.sign() * maker.dice.between(least_deg, least_deg + 3.0);
    let drive_deg = maker.inside_deg(&s, &ground, zero_error_deg)?;
    let band_deg = maker.some_band_deg(&s, &ground);
    let sketch = maker.sketch(s, ground, band_deg, drive_deg);
    let mut case = maker.case(Sketch {
        zero_error_deg,
        ..sketch
    });
    case.flip_after_solves = Some(1);
    Some(case)
}

/// Some solves fail, at most two in a row.
pub(super) fn failed_solves(maker: &mut Maker<'_>) -> Option<Case> {
    let s = maker.errors();
    let ground = maker.ground(&[1, 2, 2, 4])?;
    let mut failing = Vec::new();
    let mut in_a_row = 0;
    let rate = maker.dice.pick(&[0.3, 0.6, 1.0]);
    for attempt in 0..40 {
        if in_a_row < 2 && maker.dice.happens(rate) {
            failing.push(attempt);
            in_a_row += 1;
        } else {
            in_a_row = 0;
        }
    }
    let drive_deg = maker.inside_deg(&s, &ground, 0.0)?;
    let band_deg = maker.some_band_deg(&s, &ground);
    let sketch = maker.sketch(s, ground, band_deg, drive_deg);
    let mut case = maker.case(sketch);
    case.failing_attempts = failing;
    Some(case)
}
