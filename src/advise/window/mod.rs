//! The window of tolerances: wide enough that the loop settles, narrow enough that the frame is kept
//! (docs/advice.md, section 2).

mod framing;
mod low;
mod sensitivity;

pub use framing::{FrameLimits, frame_lost, mosaic_left, tolerance_limits};
use low::Lowest;
pub use sensitivity::Improvement;

use serde::Serialize;

use super::settling::{FoundBy, Settling};
use super::wishes::Wishes;
use crate::decimal::power_of_ten;
use crate::rig::Rig;
use crate::sample::Cancelled;
use crate::scenario::{Policy, Target};
use low::{Search, hardest_first};
use sensitivity::improvements;

/// Digits to which an advised tolerance is rounded, into the window.
const DIGITS: i32 = 2;

/// A tolerance that has to be raised is raised this much farther than the lower end.
const ROOM: f64 = 1.1;

/// The tolerances that serve a rig and a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Window {
    /// The smallest with which every tried target settles as wished \[deg\]; `None` where none was found.
    pub low_deg: Option<f64>,
    /// How that was found.
    pub low_by: FoundBy,
    /// The target that needs the most, by its place in the list.
    pub hardest: usize,
    /// Targets that were tried.
    pub tried: usize,
    /// What limits it from above.
    pub limits: Option<FrameLimits>,
    /// The largest that keeps the frame \[deg\]; `None` without `[framing]`.
    pub high_deg: Option<f64>,
    /// The present one \[deg\].
    pub present_deg: f64,
    /// The advised one \[deg\]; the present one where that lies in the window or nothing better is known.
    pub advised_deg: f64,
    /// What halving each error would do for the lower end, the best first.
    pub improvements: Vec<Improvement>,
}

impl Window {
    /// No tolerance serves.
    #[must_use]
    pub fn empty(&self) -> bool {
        match (self.low_deg, self.high_deg) {
            (None, _) => true,
            (Some(low), Some(high)) => low > high,
            (Some(_), None) => false,
        }
    }

    /// Searches the window for a rig under a policy. `targets` is not empty.
    pub(super) fn find(
        rig: &Rig,
        policy: Policy,
        targets: &[Target],
        wishes: &Wishes,
        settling: &dyn Settling,
    ) -> Result<Self, Cancelled> {
        let present_deg = rig.settings().loop_.tolerance_deg;
        let limits = rig
            .settings()
            .framing
            .map(|framing| tolerance_limits(&framing, wishes));
        let high_deg = limits.as_ref().map(FrameLimits::least_deg);
        let order = hardest_first(rig, policy, targets);
        let mut search = Search {
            rig,
            policy,
            targets,
            order,
            wishes,
            settling,
        };
        settling.found_by();
        let Lowest { low_deg, hardest } = search.lowest()?;
        let low_by = settling.found_by();
        let improvements = match low_deg {
            Some(low_deg) => improvements(&mut search, low_deg)?,
            None => Vec::new(),
        };
        let tried = search.order.len();
        // At the very end half of all proofs by runs would fail.
        let provable_deg = low_deg.map(|low| match high_deg {
            _ if present_deg >= low => low,
            Some(high) => (ROOM * low).min(high).max(low),
            None => ROOM * low,
        });
        Ok(Self {
            low_deg,
            low_by,
            hardest,
            tried,
            limits,
            high_deg,
            present_deg,
            advised_deg: advised_deg(present_deg, provable_deg, high_deg),
            improvements,
        })
    }
}

/// The tolerance nearest to the present one inside the window, with few digits.
fn advised_deg(present_deg: f64, low_deg: Option<f64>, high_deg: Option<f64>) -> f64 {
    let Some(low_deg) = low_deg else {
        return present_deg;
    };
    let high_deg = high_deg.unwrap_or(f64::INFINITY);
    if low_deg > high_deg {
        return present_deg;
    }
    let unit = |x: f64| power_of_ten(libm::log10(x).floor() as i32 + 1 - DIGITS);
    if present_deg < low_deg {
        let unit = unit(low_deg);
        Some((low_deg / unit).ceil() * unit)
            .filter(|rounded| *rounded <= high_deg)
            .unwrap_or(low_deg)
    } else if present_deg > high_deg {
        let unit = unit(high_deg);
        Some((high_deg / unit).floor() * unit)
            .filter(|rounded| *rounded >= low_deg)
            .unwrap_or(high_deg)
    } else {
        present_deg
    }
}

#[cfg(test)]
mod tests {
    use super::advised_deg;

    #[test]
    fn the_advised_tolerance_is_the_nearest_in_the_window() {
        for (present, low, high, expected) in [
            (0.3, Some(0.1), Some(1.0), 0.3),
            (0.05, Some(0.123), Some(1.0), 0.13),
            (2.0, Some(0.1), Some(1.06), 1.0),
            (0.05, Some(0.123), Some(0.124), 0.123),
            (0.5, Some(0.6), Some(0.4), 0.5),
            (0.5, None, Some(0.4), 0.5),
            (0.05, Some(0.123), None, 0.13),
        ] {
            let found = advised_deg(present, low, high);
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
    }
}
