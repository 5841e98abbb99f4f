//! The step of the drive, from the lattice of its readings.

use super::interval::Estimate;
use super::log::Log;
use crate::angle::{TURN_DEG, residual_finite};
use crate::decimal::power_of_ten;

/// Only the decimals of a log tell a finer lattice from none \[deg\].
const FINE_DEG: f64 = 1e-6;

/// A lattice up to this size counts as the step \[deg\]. A larger one may come from round commands.
const BELIEVED_DEG: f64 = 0.1;

/// Most parts into which the smallest difference of readings is split to find the step.
const MOST_PARTS: u32 = 2000;

/// The step of the drive. `harmless_deg` is the largest step that need not be known \[deg\].
pub(super) fn step(log: &Log, harmless_deg: f64) -> Estimate {
    let unit = log.resolution_deg;
    let readings: Vec<f64> = log.rows.iter().map(|r| r.reading_deg).collect();
    let Some((lattice, error)) = lattice(&readings, unit) else {
        let high = smallest_gap(&readings).unwrap_or(TURN_DEG);
        return Estimate {
            identifiable: false,
            ..bounded(0.0, high)
        };
    };
    // A lattice as fine as the last decimal of the log may be the rounding of the log.
    if lattice <= 1.5 * unit || lattice < FINE_DEG {
        let value = if unit < FINE_DEG { 0.0 } else { lattice };
        return Estimate {
            identifiable: lattice <= harmless_deg,
            ..bounded(value, lattice)
        };
    }
    if lattice <= BELIEVED_DEG || is_rounding(log, lattice) || is_varied(&readings, lattice) {
        return Estimate {
            value: lattice,
            se: Some(error / 3_f64.sqrt()),
            low: Some(lattice - error),
            high: Some(lattice + error),
            identifiable: true,
        };
    }
    // The readings are round because somebody commanded round angles. The step is a part of these.
    Estimate {
        identifiable: lattice <= harmless_deg,
        ..bounded(lattice, lattice)
    }
}

fn bounded(value: f64, high: f64) -> Estimate {
    Estimate {
        value,
        se: None,
        low: Some(0.0),
        high: Some(high),
        identifiable: false,
    }
}

fn sorted_differences(readings: &[f64]) -> Vec<f64> {
    let mut sorted = readings.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut differences: Vec<f64> = sorted.windows(2).map(|w| w[1] - w[0]).collect();
    differences.retain(|d| *d > 1e-9);
    differences.sort_by(f64::total_cmp);
    differences
}

/// The smallest difference of two readings that are not the same.
fn smallest_gap(readings: &[f64]) -> Option<f64> {
    sorted_differences(readings).first().copied()
}

/// The largest step that divides all differences of readings, within the `unit` of their last decimal, and its
/// possible error.
fn lattice(readings: &[f64], unit: f64) -> Option<(f64, f64)> {
    let differences = sorted_differences(readings);
    let first = *differences.first()?;
    let span: f64 = differences.iter().sum();
    // Exactly, in units of the last decimal.
    let units = |d: &f64| (d / unit).round() as u64;
    let divisor = differences
        .iter()
        .map(units)
        .fold(0, greatest_common_divisor);
    if divisor >= 2 {
        let step = divisor as f64 * unit;
        return Some((
            roundest(step * (1.0 - 1e-9), step * (1.0 + 1e-9)),
            unit * step / span,
        ));
    }
    // Or within a unit: the step may have more decimals than the log.
    let slack = 1.01 * unit + 1e-9;
    let least = readings.iter().copied().fold(f64::INFINITY, f64::min);
    let mut spans: Vec<f64> = readings.iter().map(|p| p - least).collect();
    spans.sort_by(f64::total_cmp);
    let all = differences.iter().chain(&spans);
    let all: Vec<f64> = all.copied().filter(|d| *d > slack).collect();
    for parts in 1..=MOST_PARTS {
        // The smallest difference is a whole number of steps. Larger ones narrow the step down.
        let parts = f64::from(parts);
        let (mut low, mut high) = ((first - slack) / parts, (first + slack) / parts);
        if high < 4.0 * slack {
            break; // anything fits
        }
        let fits = all.iter().all(|d| {
            let steps = (d / (0.5 * (low + high))).round().max(1.0);
            low = low.max((d - slack) / steps);
            high = high.min((d + slack) / steps);
            low <= high
        });
        if fits {
            return Some((roundest(low, high), 0.5 * (high - low)));
        }
    }
    Some((unit, unit))
}

fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a
    } else {
        greatest_common_divisor(b, a % b)
    }
}

/// The number with the fewest decimals in an interval.
fn roundest(low: f64, high: f64) -> f64 {
    let middle = 0.5 * (low + high);
    for decimals in 0..=9 {
        let power = power_of_ten(decimals);
        let rounded = (middle * power).round() / power;
        if rounded > 0.0 && (low..=high).contains(&rounded) {
            return rounded;
        }
    }
    middle
}

/// Whether the readings differ from the commands as rounding to this lattice makes them differ.
fn is_rounding(log: &Log, lattice: f64) -> bool {
    let off: Vec<f64> = commands(log).map(|(_, off)| off.abs()).collect();
    let near = off
        .iter()
        .filter(|o| **o <= 0.5 * lattice + log.resolution_deg);
    let largest = near.clone().copied().fold(0.0, f64::max);
    off.len() >= 8 && near.count() * 10 >= off.len() * 9 && largest > 0.25 * lattice
}

/// For every row with a command: the row, from 0, and how far the reading is from the command \[deg\].
pub(super) fn commands(log: &Log) -> impl Iterator<Item = (usize, f64)> {
    log.rows.iter().enumerate().filter_map(|(i, row)| {
        let commanded = row.commanded_deg?;
        Some((i, residual_finite(row.reading_deg - commanded, TURN_DEG)))
    })
}

/// Whether the moves have many different sizes on this lattice. Then nobody chose them there.
fn is_varied(readings: &[f64], lattice: f64) -> bool {
    let moves = readings
        .windows(2)
        .map(|w| ((w[1] - w[0]) / lattice).round().abs() as i64);
    let mut sizes: Vec<i64> = moves.filter(|steps| *steps > 0).collect();
    let count = sizes.len();
    sizes.sort_unstable();
    sizes.dedup();
    sizes.len() >= 8 && 4 * sizes.len() >= count
}

#[cfg(test)]
mod tests {
    use super::super::log::LogRow;
    use super::*;

    fn log(readings: &[f64], resolution_deg: f64) -> Log {
        let row = |reading_deg: &f64| LogRow {
            line: 1,
            run: String::new(),
            time_s: None,
            commanded_deg: None,
            reading_deg: *reading_deg,
            position_angle_deg: None,
        };
        Log {
            rows: readings.iter().map(row).collect(),
            resolution_deg,
        }
    }

    /// Goals on no lattice, rounded to a step and written with `decimals` decimals.
    fn rounded(step: f64, decimals: i32) -> Log {
        let power = 10_f64.powi(decimals);
        let readings: Vec<f64> = (0..80)
            .map(|i| (f64::from(i * i) * 6.180_339_887) % 180.0)
            .map(|goal| {
                if step > 0.0 {
                    (goal / step).round() * step
                } else {
                    goal
                }
            })
            .map(|p| (p * power).round() / power)
            .collect();
        log(&readings, 1.0 / power)
    }

    /// Shows (fit): the step from the lattice of the readings. With: `the_decimals_of_a_log_are_a_bound_only`,
    /// `round_angles_are_no_step`. Source: by hand.
    #[test]
    fn steps_are_found_from_rounded_readings() {
        let table = [
            (0.02, 4),
            (0.02, 2),
            (0.05, 3),
            (0.5, 2),
            (1.0, 4),
            (360.0 / 25_600.0, 4),
            (1.0 / 3.0, 3),
            (0.01, 6),
        ];
        for (truth, decimals) in table {
            let found = step(&rounded(truth, decimals), 0.05);
            assert!(found.identifiable, "{truth}: {found:?}");
            let (low, high) = (found.low.unwrap_or(9.0), found.high.unwrap_or(0.0));
            assert!(
                low <= truth + 1e-12 && truth <= high + 1e-12,
                "{truth}: {found:?}"
            );
            assert!((found.value - truth).abs() < 1e-5, "{truth}: {found:?}");
        }
    }

    #[test]
    fn the_decimals_of_a_log_are_a_bound_only() {
        let found = step(&rounded(0.0, 3), 0.05);
        assert_eq!((found.low, found.high), (Some(0.0), Some(0.001)));
        let found = step(&rounded(0.0, 12), 0.05);
        assert_eq!(found.value, 0.0);
        assert!(found.high < Some(1e-6) && found.identifiable);
    }

    #[test]
    fn round_angles_are_no_step() {
        let readings: Vec<f64> = (0..40)
            .map(|i| 10.0 * f64::from(if i < 20 { i } else { 39 - i }))
            .collect();
        let found = step(&log(&readings, 0.1), 0.05);
        assert!(!found.identifiable && found.low == Some(0.0), "{found:?}");
    }
}
