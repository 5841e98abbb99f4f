//! The smallest tolerance with which the loop settles in time.

use crate::advise::list::Settling;
use crate::rig::Rig;
use crate::sample::Cancelled;

/// Least tolerance that is looked for \[deg\].
const LEAST_DEG: f64 = 1e-5;

/// Steps to a factor of two: 1.1 % each.
const STEPS: u32 = 64;

/// The smallest tolerance of a rig that serves, from a guess and up to a limit \[deg\]; `None` where none does.
pub(in crate::advise) fn lowest_deg(
    rig: &Rig,
    guess_deg: f64,
    most_deg: f64,
    serves: &mut dyn FnMut(&Rig) -> Result<Settling, Cancelled>,
) -> Result<Option<f64>, Cancelled> {
    let mut serves = |tolerance_deg: f64| {
        let rig = rig.with(|s| s.loop_.tolerance_deg = tolerance_deg);
        rig.map_or(Ok(Settling::FAILED), |rig| serves(&rig))
    };
    let guess_deg = guess_deg.min(most_deg);
    let mut high = guess_deg;
    let mut above = serves(high)?;
    let mut below = None;
    while !above.fine {
        if high >= most_deg {
            return Ok(None);
        }
        below = above.strain;
        high = (2.0 * high).min(most_deg);
        above = serves(high)?;
    }
    // Above the guess the last doubling failed; from the guess down, halve while it serves.
    let mut low = 0.5 * high;
    if high <= guess_deg {
        loop {
            let half = serves(low)?;
            if !half.fine {
                below = half.strain;
                break;
            }
            above = half;
            low *= 0.5;
            if low < LEAST_DEG {
                return Ok(Some(2.0 * low));
            }
        }
    }
    let at = |step: u32| low * libm::exp2(f64::from(step) / f64::from(STEPS));
    let (mut from, mut to, mut above) = (0, STEPS, above.strain);
    let mut halve = false;
    while to - from > 1 {
        let wide = to - from;
        let part = match (below, above) {
            (Some(below), Some(above)) if !halve && below > above => below / (below - above),
            _ => 0.5,
        };
        let next = from + (f64::from(wide) * part) as u32;
        let next = next.clamp(from + 1, to - 1);
        let found = serves(at(next))?;
        if found.fine {
            (to, above) = (next, found.strain);
        } else {
            (from, below) = (next, found.strain);
        }
        // Interpolation may creep up on the place from one side.
        halve = 2 * (to - from) > wide;
    }
    Ok(Some(at(to)))
}
