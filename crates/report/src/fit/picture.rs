//! A fit as a picture.

use crate::plot::{Leftover, Picture, Side, residuals};
use halfturn_engine::angle::sin_deg;
use halfturn_engine::fit::Fit;

/// Number of points of a fitted curve.
const POINTS: u32 = 240;

/// The solves of a log with the fitted curves, and the residuals row by row.
pub fn fit_picture(fit: &Fit, title: &str) -> Picture {
    let points: Vec<Leftover> = fit
        .rows
        .iter()
        .map(|r| {
            let side = match r.direction {
                1 => Side::Up,
                -1 => Side::Down,
                _ => Side::Unknown,
            };
            Leftover {
                row: r.row,
                reading_deg: r.reading_deg,
                fitted_deg: turned_more_deg(fit, r.reading_deg, side),
                residual_deg: r.residual_deg,
                side,
                outlier: r.outlier,
            }
        })
        .collect();
    let readings = fit.rows.iter().map(|r| r.reading_deg);
    let (low, high) = readings.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), r| {
        (low.min(r), high.max(r))
    });
    let curve = |side: Side| {
        let at = (0..=POINTS).map(|i| low + (high - low) * f64::from(i) / f64::from(POINTS));
        at.map(|reading_deg| (reading_deg, turned_more_deg(fit, reading_deg, side)))
            .collect()
    };
    let curves = [curve(Side::Up), curve(Side::Down)];
    residuals(&points, curves, fit.total_error_deg, title)
}

/// How far the fitted rig turns the camera, minus the reading \[deg\] (docs/model.md, section 2).
fn turned_more_deg(fit: &Fit, reading_deg: f64, side: Side) -> f64 {
    let half_deg = 0.5 * fit.parameters.backlash_deg.value;
    let shaft_deg = match side {
        Side::Up => reading_deg - half_deg,
        Side::Down => reading_deg + half_deg,
        Side::Unknown => reading_deg,
    };
    let periodic_deg: f64 = fit
        .periodic
        .iter()
        .map(|h| {
            let phase_deg = f64::from(h.cycles) * shaft_deg + h.phase_deg.value;
            h.amplitude_deg.value * sin_deg(phase_deg)
        })
        .sum();
    shaft_deg - reading_deg + fit.parameters.gain_error.value * shaft_deg + periodic_deg
}
