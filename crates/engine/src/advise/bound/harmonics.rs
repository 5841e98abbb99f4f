//! How much a periodic error can differ between the two ends of a swing.

use crate::angle::{TURN_DEG, sin_deg};
use crate::rig::Periodic;

/// Points of a search for the largest difference.
const POINTS: u32 = 720;

/// Cycles this near to a whole number repeat every turn.
const WHOLE: f64 = 1e-12;

/// Degrees of error for each degree of turn, at most.
pub(super) fn steepest(periodic: &[Periodic]) -> f64 {
    let slopes = periodic.iter().map(|p| p.amplitude_deg * p.cycles);
    slopes.sum::<f64>().to_radians()
}

/// The difference between a position and one a swing further on is again a sum of sines: that of a harmonic of
/// amplitude A and k cycles has the amplitude `2 A |sin(k width / 2)|`, which is nothing for whole turns of
/// the harmonic and 2 A for odd half turns.
fn amplitude_deg(p: &Periodic, width_deg: f64) -> f64 {
    2.0 * p.amplitude_deg * sin_deg(0.5 * p.cycles * width_deg).abs()
}

/// Largest difference where a swing begins within `reach_deg` of the start of the arc \[deg\].
pub(super) fn difference_near_deg(
    periodic: &[Periodic],
    width_deg: f64,
    start_deg: f64,
    reach_deg: f64,
) -> f64 {
    let from_deg = start_deg - reach_deg;
    largest_deg(periodic, width_deg, from_deg, 2.0 * reach_deg)
}

/// Largest difference wherever a swing begins \[deg\].
pub(super) fn difference_anywhere_deg(periodic: &[Periodic], width_deg: f64) -> f64 {
    let whole = |p: &Periodic| (p.cycles - p.cycles.round()).abs() < WHOLE;
    if periodic.iter().all(whole) {
        largest_deg(periodic, width_deg, 0.0, TURN_DEG)
    } else {
        periodic.iter().map(|p| amplitude_deg(p, width_deg)).sum()
    }
}

/// Over a range of positions: the largest at the points of a grid, and what may lie between them.
fn largest_deg(periodic: &[Periodic], width_deg: f64, from_deg: f64, range_deg: f64) -> f64 {
    let amplitudes = periodic.iter().map(|p| amplitude_deg(p, width_deg));
    let most_deg: f64 = amplitudes.clone().sum();
    if most_deg == 0.0 {
        return 0.0;
    }
    let value =
        |p: &Periodic, at_deg: f64| p.amplitude_deg * sin_deg(p.cycles * at_deg + p.phase_deg);
    let at = |y: f64| -> f64 {
        let of = |p: &Periodic| value(p, y + width_deg) - value(p, y);
        periodic.iter().map(of).sum::<f64>().abs()
    };
    let spacing_deg = range_deg / f64::from(POINTS);
    let on_grid = (0..=POINTS)
        .map(|i| at(from_deg + f64::from(i) * spacing_deg))
        .fold(0.0, f64::max);
    // The second derivative bounds what a point between two others can add.
    let bend: f64 = amplitudes
        .zip(periodic)
        .map(|(a, p)| a * p.cycles.to_radians().powi(2))
        .sum();
    (on_grid + 0.125 * bend * spacing_deg * spacing_deg).min(most_deg)
}
