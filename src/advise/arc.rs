//! Where the arc should start: the seam in the middle of the widest gap between the drive angles.

mod grounds;
mod repair;
mod score;
#[cfg(test)]
mod tests;

use crate::rig::Rig;
use crate::scenario::Target;
use grounds::{CONDITIONS, Grounds};
pub use repair::{Group, Move, Repair};
use score::Angles;

/// Degrees that count as none: rounding at a boundary that is only touched \[deg\].
const TOUCH_DEG: f64 = 1e-9;

/// The chosen start of the arc.
#[derive(Debug, Clone, PartialEq)]
pub struct ArcChoice {
    /// Where the allowed arc should start \[deg\].
    pub start_deg: f64,
    /// Smallest distance of a target's drive angle from the seam \[deg\].
    pub margin_deg: f64,
    /// That distance for the present start \[deg\].
    pub present_margin_deg: f64,
    /// Drive angles of the two targets beside the seam, as angles from the start \[deg\]: below and above.
    pub neighbours_deg: (f64, f64),
    /// The rule has no seam on this rig, so the start does not matter.
    pub no_seam: bool,
    /// The arc, band included, is clear of every keep-out sector.
    pub clear_of_keep_outs: bool,
    /// So it is with the present start.
    pub present_clear_of_keep_outs: bool,
    /// The arc fits between the stops.
    pub within_stops: bool,
    /// So it does with the present start.
    pub present_within_stops: bool,
    /// No reading of the arc, band included, is farther from the parking angle than the cable allows.
    pub within_winding: bool,
    /// The largest band around this arc that keeps out of keep-outs and inside stops and winding limit
    /// \[deg\]; `None` where the arc without a band does not.
    pub largest_band_deg: Option<f64>,
    /// The start is the present one.
    pub kept_present: bool,
}

impl ArcChoice {
    /// It keeps out of keep-outs and inside stops and winding limit.
    #[must_use]
    pub fn keeps_all(&self) -> bool {
        self.clear_of_keep_outs && self.within_stops && self.within_winding
    }
}

/// Chooses the start of the arc that keeps the seam as far as possible from every target, among the
/// starts whose arc, band included, is clear of the keep-outs, fits between the stops and keeps to the winding
/// limit. If no arc fits between the stops, as many targets as possible are sent to angles between them, as far from stops and
/// seam as possible. The keep-outs are given up last, and the choice says so. Of equally good starts it
/// takes the one nearest to the present start; the same arc a turn away is the present start.
///
/// `targets` must not be empty; without one the present start is kept.
#[must_use]
pub fn choose_arc(rig: &Rig, targets: &[Target]) -> ArcChoice {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    let present_deg = ground.policy.arc_start_deg;
    if ground.no_seam || targets.is_empty() {
        return ground.choice(present_deg, &drive_deg);
    }
    let reachable_deg: Vec<f64> = drive_deg
        .iter()
        .copied()
        .filter(|d| ground.has_reachable_copy(*d))
        .collect();
    // A target that no start can reach does not say where the seam should lie.
    let angles = Angles::new(
        if reachable_deg.is_empty() {
            &drive_deg
        } else {
            &reachable_deg
        },
        ground.width_deg,
    );
    let candidates = ground.candidates(&angles);
    let best = CONDITIONS.iter().find_map(|wanted| {
        candidates
            .iter()
            .copied()
            .filter(|s| wanted.hold(&ground, *s))
            .map(|s| (ground.score(s, &angles), s))
            .reduce(|best, other| {
                let far = |s: f64| ground.distance_deg(s, present_deg);
                let order = other.0.compare(&best.0, TOUCH_DEG);
                let order = order
                    .then_with(|| far(best.1).total_cmp(&far(other.1)))
                    .then_with(|| best.1.total_cmp(&other.1));
                if order.is_gt() { other } else { best }
            })
    });
    let start_deg = best.map_or(present_deg, |(_, start)| start);
    if ground.distance_deg(start_deg, present_deg) <= TOUCH_DEG {
        return ground.choice(present_deg, &drive_deg);
    }
    ground.choice(start_deg, &drive_deg)
}

/// The choice of staying where the arc is.
#[must_use]
pub(super) fn keep_present(rig: &Rig, targets: &[Target]) -> ArcChoice {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    ground.choice(ground.policy.arc_start_deg, &drive_deg)
}
