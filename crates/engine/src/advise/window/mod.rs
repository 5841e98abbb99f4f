//! The window of tolerances: wide enough that the loop settles, narrow enough that the frame is kept
//! (docs/advice.md, section 2).

mod framing;
mod low;
mod search;
mod sensitivity;

pub use framing::{FrameLimits, frame_lost, mosaic_left, tolerance_limits};
pub(super) use low::lowest_deg;
pub use sensitivity::Improvement;

use serde::Serialize;

use super::found_by::FoundBy;
use super::list::ListJudge;
use super::one_sided::{OneSidedGain, one_sided_gain};
use super::source::Source;
use crate::decimal::power_of_ten;
use crate::rig::Rig;
use crate::sample::Cancelled;
use crate::scenario::{Policy, Scenario, Target};
use search::WindowSearch;
use sensitivity::improvements;

/// Digits to which an advised tolerance is rounded, into the window.
const DIGITS: i32 = 2;

/// A tolerance that has to be raised is raised this much farther than the lower end, where the frame lets it.
const ROOM: f64 = 1.1;

/// Targets that are tried, the nearest to the seam and others all over the arc.
const MOST_TRIED: usize = 12;
const NEAREST: usize = 4;

/// Most that a tolerance can be, as a share of a period: no residual is larger.
const MOST_OF_PERIOD: f64 = 0.5;

/// The tolerances that serve a rig and a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Window {
    /// The smallest with which every tried target settles as wished \[deg\]; `None` where none was found.
    pub low_deg: Option<f64>,
    /// How the lower end was found.
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
    /// Where no tolerance serves: what halving each error would do for the lower end, the best first.
    pub improvements: Vec<Improvement>,
    /// Where no tolerance serves and the backlash is what to halve first: what an approach from one side gains.
    pub one_sided: Option<OneSidedGain>,
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

    /// A tolerance lies in the window \[deg\].
    #[must_use]
    pub fn holds(&self, tolerance_deg: f64) -> bool {
        self.low_deg.is_some_and(|low| low <= tolerance_deg)
            && self.high_deg.is_none_or(|high| tolerance_deg <= high)
    }

    /// The window of a rig. There is a target at least. `present_deg` is the tolerance before any change.
    pub(super) fn find(
        rig: &Rig,
        present_deg: f64,
        list: &ListJudge<'_>,
    ) -> Result<Self, Cancelled> {
        let policy = Policy::of(rig);
        let limits = rig
            .settings()
            .framing
            .map(|framing| tolerance_limits(&framing, list.criteria));
        let advised_deg = rig.settings().loop_.tolerance_deg;
        let mut search = WindowSearch {
            policy,
            order: hardest_first(rig, policy, list.targets),
            list,
            solved: 0,
            asked: 0,
        };
        let most_deg = MOST_OF_PERIOD * policy.period_deg();
        let low_deg = search.lowest(rig, advised_deg, most_deg)?;
        let hardest = search.order.first().copied().unwrap_or(0);
        let low_by = FoundBy::of(search.solved, search.asked);
        let mut window = Self {
            low_deg,
            low_by,
            hardest,
            tried: search.order.len(),
            high_deg: limits.as_ref().map(FrameLimits::least_deg),
            limits,
            present_deg,
            advised_deg,
            improvements: Vec::new(),
            one_sided: None,
        };
        if let (Some(low_deg), true) = (low_deg, window.empty()) {
            window.improvements = improvements(rig, &mut search, low_deg)?;
            let first = window.improvements.first();
            if first.is_some_and(|best| best.what == Source::Backlash) {
                window.one_sided = one_sided_gain(rig);
            }
        }
        Ok(window)
    }
}

/// The targets to try: the nearest to the seam, and others evenly over the drive angles.
fn hardest_first(rig: &Rig, policy: Policy, targets: &[Target]) -> Vec<usize> {
    let mut places: Vec<(usize, f64, f64)> = targets
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let scenario = Scenario::new(rig, policy, t.position_angle_deg);
            let far = scenario.seam_distance_deg().unwrap_or(0.0);
            (i, far, scenario.drive_angle_deg())
        })
        .collect();
    places.sort_by(|a, b| a.1.total_cmp(&b.1));
    let rest = places.split_off(NEAREST.min(places.len()));
    let mut rest: Vec<(usize, f64)> = rest.into_iter().map(|(i, _, drive)| (i, drive)).collect();
    rest.sort_by(|a, b| a.1.total_cmp(&b.1));
    let wanted = (MOST_TRIED - NEAREST).min(rest.len());
    let spread = (0..wanted).map(|k| rest[k * rest.len() / wanted].0);
    places.iter().map(|p| p.0).chain(spread).collect()
}

/// The unit of the last digit of an advised tolerance \[deg\].
fn unit_deg(tolerance_deg: f64) -> f64 {
    power_of_ten(libm::log10(tolerance_deg).floor() as i32 + 1 - DIGITS)
}

/// A tolerance with two digits, no smaller than this one \[deg\].
pub(super) fn rounded_up_deg(tolerance_deg: f64) -> f64 {
    on_unit(tolerance_deg, unit_deg(tolerance_deg), f64::ceil)
}

/// A tolerance with two digits, no larger than this one \[deg\].
pub(super) fn rounded_down_deg(tolerance_deg: f64) -> f64 {
    on_unit(tolerance_deg, unit_deg(tolerance_deg), f64::floor)
}

/// A multiple of a power of ten, by division where that is exact.
fn on_unit(x: f64, unit: f64, round: fn(f64) -> f64) -> f64 {
    if unit < 1.0 {
        let per_unit = (1.0 / unit).round();
        round(x * per_unit) / per_unit
    } else {
        round(x / unit) * unit
    }
}

/// The tolerance to use where the present one is too small for a lower end, with two digits \[deg\]; the present one where
/// none serves.
pub(super) fn advised_deg(present_deg: f64, low_deg: Option<f64>, high_deg: Option<f64>) -> f64 {
    let high_deg = high_deg.unwrap_or(f64::INFINITY);
    let Some(low_deg) = low_deg.filter(|low| *low <= high_deg && present_deg < *low) else {
        return present_deg;
    };
    // At the very end half of all proofs by runs would fail.
    let sure_deg = (ROOM * low_deg).min(high_deg).max(low_deg);
    Some(rounded_up_deg(sure_deg))
        .filter(|rounded| *rounded <= high_deg)
        .unwrap_or(sure_deg)
}

#[cfg(test)]
mod tests {
    use super::advised_deg;

    /// Shows (advice 2): the present tolerance is kept if it lies in the window, else one with two digits is advised.
    /// Source: by hand.
    #[test]
    fn an_advised_tolerance_is_wide_enough_and_has_two_digits() {
        for (present, low, high, expected) in [
            (0.3, Some(0.1), Some(1.0), 0.3),
            (0.05, Some(0.112), Some(1.0), 0.13),
            (0.05, Some(0.123), Some(0.124), 0.124),
            (0.5, Some(0.6), Some(0.4), 0.5),
            (0.5, None, Some(0.4), 0.5),
            (0.05, Some(0.112), None, 0.13),
        ] {
            assert_eq!(advised_deg(present, low, high), expected);
        }
        assert_eq!(super::rounded_down_deg(1.06), 1.0);
        assert_eq!(super::rounded_down_deg(0.0317), 0.031);
    }
}
