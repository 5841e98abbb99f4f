//! The smallest tolerance with which the loop settles in time.

use crate::rig::Rig;
use crate::sample::Cancelled;

/// Least tolerance that is looked for \[deg\].
const LEAST_DEG: f64 = 1e-5;

/// Bisections of a factor of two: to 1.1 %.
const HALVINGS: u32 = 6;

/// The smallest tolerance of a rig that serves, from a guess and up to a limit \[deg\]; `None` where none does.
pub(in crate::advise) fn lowest_deg(
    rig: &Rig,
    guess_deg: f64,
    most_deg: f64,
    serves: &mut dyn FnMut(&Rig) -> Result<bool, Cancelled>,
) -> Result<Option<f64>, Cancelled> {
    let mut serves = |tolerance_deg: f64| {
        let rig = rig.with(|s| s.loop_.tolerance_deg = tolerance_deg);
        rig.map_or(Ok(false), |rig| serves(&rig))
    };
    let guess_deg = guess_deg.min(most_deg);
    let mut high = guess_deg;
    while !serves(high)? {
        if high >= most_deg {
            return Ok(None);
        }
        high = (2.0 * high).min(most_deg);
    }
    // Above the guess the last doubling failed; from the guess down, halve while it serves.
    let mut low = 0.5 * high;
    if high <= guess_deg {
        while serves(low)? {
            high = low;
            low *= 0.5;
            if low < LEAST_DEG {
                return Ok(Some(high));
            }
        }
    }
    for _ in 0..HALVINGS {
        let middle = (low * high).sqrt();
        if serves(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(Some(high))
}
