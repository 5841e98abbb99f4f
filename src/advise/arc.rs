//! Where the arc should start: the seam in the middle of the widest gap between the drive angles.

mod score;
#[cfg(test)]
mod tests;

use crate::angle::{Sectors, TURN_DEG, fold_finite, residual_finite};
use crate::plant::{Plant, Travel};
use crate::rig::{Rig, Rule};
use crate::scenario::keep_out_sectors;
use crate::scenario::{Policy, Scenario, Target};
use score::{Angles, Score};

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
    /// The start is the present one.
    pub kept_present: bool,
}

/// Chooses the start of the arc that keeps the seam as far as possible from every target, among the
/// starts whose arc, band included, is clear of the keep-outs and fits between the stops. If no arc fits
/// between the stops, as many targets as possible are sent to angles between them, as far from stops and
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
    let conditions: [fn(&Grounds, f64) -> bool; 4] = [
        |g, s| g.clear_of_keep_outs(s) && g.within_stops(s),
        |g, s| g.clear_of_keep_outs(s),
        |g, s| g.within_stops(s),
        |_, _| true,
    ];
    let best = conditions.iter().find_map(|holds| {
        candidates
            .iter()
            .copied()
            .filter(|s| holds(&ground, *s))
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

/// What limits the choice.
struct Grounds {
    policy: Policy,
    travel: Travel,
    width_deg: f64,
    band_deg: f64,
    keep_out: Sectors,
    /// `(from, to)` of every keep-out \[deg\].
    keep_out_ends_deg: Vec<(f64, f64)>,
    no_seam: bool,
}

impl Grounds {
    fn of(rig: &Rig) -> Self {
        let policy = Policy::of(rig);
        let travel = Plant::new(rig).travel();
        let wrap = policy.wrap(travel);
        let keep_out = &rig.settings().keep_out;
        Self {
            policy,
            travel,
            width_deg: wrap.width_deg(),
            band_deg: wrap.band_deg(),
            keep_out: keep_out_sectors(travel, keep_out),
            keep_out_ends_deg: keep_out.iter().map(|k| (k.from_deg, k.to_deg)).collect(),
            // The drive turns past the end of an endless full circle without noticing.
            no_seam: wrap.width_deg() >= TURN_DEG && travel == Travel::Endless,
        }
    }

    fn drive_angles_deg(&self, rig: &Rig, targets: &[Target]) -> Vec<f64> {
        targets
            .iter()
            .map(|t| Scenario::new(rig, self.policy, t.position_angle_deg).drive_angle_deg())
            .collect()
    }

    /// Every start that can be the best: the middles of the gaps between drive angles, the ends of the
    /// permitted ranges, and the present start. The same seam belongs to several arcs, one period apart.
    fn candidates(&self, angles: &Angles) -> Vec<f64> {
        let width = self.width_deg;
        let mut starts = angles.middles_deg();
        for (from, to) in &self.keep_out_ends_deg {
            starts.push(to + self.band_deg);
            starts.push(from - width - self.band_deg);
        }
        if let Travel::Stops { lo_deg, hi_deg } = self.travel {
            starts.push(lo_deg + self.band_deg);
            starts.push(hi_deg - width - self.band_deg);
        }
        let (lowest, highest) = match self.travel {
            Travel::Endless => (0.0, TURN_DEG),
            Travel::Stops { lo_deg, hi_deg } => (lo_deg - width, hi_deg + width),
        };
        let mut all: Vec<f64> = starts
            .iter()
            .flat_map(|start| {
                let first = fold_finite(*start, lowest, width);
                (0_u32..)
                    .map(move |k| first + f64::from(k) * width)
                    .take_while(move |s| *s < highest)
            })
            .collect();
        // As it stands: folding could change its last digit.
        all.push(self.policy.arc_start_deg);
        all
    }

    /// Some equivalent of this drive angle lies between the stops.
    fn has_reachable_copy(&self, drive_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => true,
            Travel::Stops { lo_deg, hi_deg } => {
                fold_finite(drive_deg, lo_deg, self.width_deg) <= hi_deg
            }
        }
    }

    fn clear_of_keep_outs(&self, start_deg: f64) -> bool {
        let from = start_deg - self.band_deg;
        let to = start_deg + self.width_deg + self.band_deg;
        self.keep_out.inside_deg(from, to) <= TOUCH_DEG
    }

    fn within_stops(&self, start_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => true,
            Travel::Stops { lo_deg, hi_deg } => {
                start_deg - self.band_deg >= lo_deg - TOUCH_DEG
                    && start_deg + self.width_deg + self.band_deg <= hi_deg + TOUCH_DEG
            }
        }
    }

    /// How good a start is. Stops count where nothing else holds a command: corrections that never fold,
    /// and an arc that reaches beyond them.
    fn score(&self, start_deg: f64, angles: &Angles) -> Score {
        match self.travel {
            Travel::Stops { lo_deg, hi_deg }
                if self.policy.rule == Rule::FoldOnce || !self.within_stops(start_deg) =>
            {
                angles.score_between(start_deg, lo_deg, hi_deg)
            }
            Travel::Stops { .. } | Travel::Endless => angles.score(start_deg),
        }
    }

    /// Smallest distance of a target from the seam \[deg\].
    fn margin_deg(&self, start_deg: f64, drive_deg: &[f64]) -> f64 {
        drive_deg
            .iter()
            .map(|d| residual_finite(d - start_deg, self.width_deg).abs())
            .fold(f64::INFINITY, f64::min)
    }

    /// How far two starts are apart \[deg\].
    fn distance_deg(&self, a: f64, b: f64) -> f64 {
        match self.travel {
            Travel::Endless => residual_finite(a - b, TURN_DEG).abs(),
            Travel::Stops { .. } => (a - b).abs(),
        }
    }

    fn choice(&self, start_deg: f64, drive_deg: &[f64]) -> ArcChoice {
        let from_start = |d: &f64| fold_finite(d - start_deg, 0.0, self.width_deg);
        let least = drive_deg
            .iter()
            .map(from_start)
            .fold(f64::INFINITY, f64::min);
        let most = drive_deg.iter().map(from_start).fold(0.0, f64::max);
        let present_deg = self.policy.arc_start_deg;
        ArcChoice {
            start_deg,
            margin_deg: self.margin_deg(start_deg, drive_deg),
            present_margin_deg: self.margin_deg(present_deg, drive_deg),
            neighbours_deg: (start_deg + most - self.width_deg, start_deg + least),
            no_seam: self.no_seam,
            clear_of_keep_outs: self.clear_of_keep_outs(start_deg),
            present_clear_of_keep_outs: self.clear_of_keep_outs(present_deg),
            within_stops: self.within_stops(start_deg),
            present_within_stops: self.within_stops(present_deg),
            kept_present: start_deg == present_deg,
        }
    }
}
