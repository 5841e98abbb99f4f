//! What limits the start of the arc: keep-outs, stops, the winding limit.

use super::score::{Angles, Score};
use super::{ArcChoice, TOUCH_DEG};
use crate::angle::{Sectors, TURN_DEG, fold_finite, residual_finite};
use crate::plant::{Plant, Travel};
use crate::rig::{Rig, Rule};
use crate::scenario::keep_out_sectors;
use crate::scenario::{Policy, Scenario, Target};

/// What a start has to keep.
#[derive(Debug, Clone, Copy)]
pub(super) struct Conditions {
    clear: bool,
    stops: bool,
    winding: bool,
}

impl Conditions {
    const fn of(clear: bool, stops: bool, winding: bool) -> Self {
        Self {
            clear,
            stops,
            winding,
        }
    }

    pub(super) fn hold(self, ground: &Grounds, start_deg: f64) -> bool {
        (!self.clear || ground.clear_of_keep_outs(start_deg))
            && (!self.stops || ground.within_stops(start_deg))
            && (!self.winding || ground.within_winding(start_deg))
    }
}

/// In the order in which they are given up: the winding limit first, the keep-outs last.
pub(super) const CONDITIONS: [Conditions; 8] = [
    Conditions::of(true, true, true),
    Conditions::of(true, true, false),
    Conditions::of(true, false, true),
    Conditions::of(true, false, false),
    Conditions::of(false, true, true),
    Conditions::of(false, true, false),
    Conditions::of(false, false, true),
    Conditions::of(false, false, false),
];

/// What limits the choice.
pub(super) struct Grounds {
    pub(super) policy: Policy,
    travel: Travel,
    pub(super) width_deg: f64,
    band_deg: f64,
    keep_out: Sectors,
    /// `(from, to)` of every keep-out \[deg\].
    keep_out_ends_deg: Vec<(f64, f64)>,
    pub(super) no_seam: bool,
    park_deg: f64,
    /// \[deg\]; infinite for none.
    limit_deg: f64,
}

impl Grounds {
    pub(super) fn of(rig: &Rig) -> Self {
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
            park_deg: rig.settings().drive.park_deg,
            limit_deg: match rig.settings().drive.winding_limit_deg {
                0.0 => f64::INFINITY,
                limit => limit,
            },
        }
    }

    pub(super) fn drive_angles_deg(&self, rig: &Rig, targets: &[Target]) -> Vec<f64> {
        targets
            .iter()
            .map(|t| Scenario::new(rig, self.policy, t.position_angle_deg).drive_angle_deg())
            .collect()
    }

    /// Every start that can be the best: the middles of the gaps between drive angles, the ends of the
    /// permitted ranges, and the present start. The same seam belongs to several arcs, one period apart.
    pub(super) fn candidates(&self, angles: &Angles) -> Vec<f64> {
        let mut starts = angles.middles_deg();
        starts.extend(self.limits_deg());
        let mut all: Vec<f64> = starts.iter().flat_map(|s| self.copies(*s)).collect();
        // As it stands: folding could change its last digit.
        all.push(self.policy.arc_start_deg);
        all
    }

    /// The starts at which a permitted range ends \[deg\].
    pub(super) fn limits_deg(&self) -> Vec<f64> {
        let (width, band) = (self.width_deg, self.band_deg);
        let mut starts = Vec::new();
        for (from, to) in &self.keep_out_ends_deg {
            starts.push(to + band);
            starts.push(from - width - band);
        }
        if let Travel::Stops { lo_deg, hi_deg } = self.travel {
            starts.push(lo_deg + band);
            starts.push(hi_deg - width - band);
        }
        if self.limit_deg.is_finite() {
            starts.push(self.park_deg - self.limit_deg + band);
            starts.push(self.park_deg + self.limit_deg - width - band);
        }
        starts
    }

    /// The same seam as the start of every arc that it can belong to \[deg\].
    pub(super) fn copies(&self, start_deg: f64) -> impl Iterator<Item = f64> + use<> {
        let width = self.width_deg;
        let (lowest, highest) = match self.travel {
            Travel::Endless => (0.0, TURN_DEG),
            Travel::Stops { lo_deg, hi_deg } => (lo_deg - width, hi_deg + width),
        };
        let first = fold_finite(start_deg, lowest, width);
        (0_u32..)
            .map(move |k| first + f64::from(k) * width)
            .take_while(move |s| *s < highest)
    }

    /// Some equivalent of this drive angle lies between the stops.
    pub(super) fn has_reachable_copy(&self, drive_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => true,
            Travel::Stops { lo_deg, hi_deg } => {
                fold_finite(drive_deg, lo_deg, self.width_deg) <= hi_deg
            }
        }
    }

    pub(super) fn clear_of_keep_outs(&self, start_deg: f64) -> bool {
        let from = start_deg - self.band_deg;
        let to = start_deg + self.width_deg + self.band_deg;
        self.keep_out.inside_deg(from, to) <= TOUCH_DEG
    }

    pub(super) fn within_stops(&self, start_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => true,
            Travel::Stops { lo_deg, hi_deg } => {
                start_deg - self.band_deg >= lo_deg - TOUCH_DEG
                    && start_deg + self.width_deg + self.band_deg <= hi_deg + TOUCH_DEG
            }
        }
    }

    /// Farthest that a reading gets from the parking angle in a run that stays in the arc, whatever the
    /// target \[deg\].
    pub(super) fn winding_deg(&self, start_deg: f64) -> f64 {
        let (park, band) = (self.park_deg, self.band_deg);
        let ends_deg = |from: f64| {
            let (low, high) = (from - band, from + self.width_deg + band);
            (low - park).abs().max((high - park).abs())
        };
        let half_turn = 0.5 * TURN_DEG;
        match self.travel {
            Travel::Stops { .. } => ends_deg(start_deg),
            // The short way from the parking angle ends in the copy of the arc around it, or in the one above
            // or the one below.
            Travel::Endless => {
                let first = fold_finite(start_deg, park - TURN_DEG, TURN_DEG);
                [first, first + TURN_DEG]
                    .into_iter()
                    .filter(|from| {
                        from + self.width_deg > park - half_turn && *from < park + half_turn
                    })
                    .map(ends_deg)
                    .fold(0.0, f64::max)
            }
        }
    }

    pub(super) fn within_winding(&self, start_deg: f64) -> bool {
        self.no_seam || self.winding_deg(start_deg) <= self.limit_deg + TOUCH_DEG
    }

    /// The largest band around an arc that keeps every condition \[deg\].
    pub(super) fn largest_band_deg(&self, start_deg: f64) -> Option<f64> {
        let (low, high) = (start_deg, start_deg + self.width_deg);
        let around = (low - TURN_DEG, high + TURN_DEG);
        let (clear_low, clear_high) = self.keep_out.clear_part(around, 0.5 * (low + high));
        let mut band = (low - clear_low).min(clear_high - high);
        if let Travel::Stops { lo_deg, hi_deg } = self.travel {
            band = band.min(low - lo_deg).min(hi_deg - high);
        } else {
            // From there on the widened arc is the whole turn.
            band = band.min(0.5 * (TURN_DEG - self.width_deg));
        }
        let wound = self.winding_deg(start_deg) - self.band_deg;
        band = band.min(self.limit_deg - wound);
        (band >= -TOUCH_DEG).then_some(band.max(0.0))
    }

    /// How good a start is. Stops count where nothing else holds a command: corrections that never fold,
    /// and an arc that reaches beyond them.
    pub(super) fn score(&self, start_deg: f64, angles: &Angles) -> Score {
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
    pub(super) fn margin_deg(&self, start_deg: f64, drive_deg: &[f64]) -> f64 {
        drive_deg
            .iter()
            .map(|d| residual_finite(d - start_deg, self.width_deg).abs())
            .fold(f64::INFINITY, f64::min)
    }

    /// How far two starts are apart \[deg\].
    pub(super) fn distance_deg(&self, a: f64, b: f64) -> f64 {
        match self.travel {
            Travel::Endless => residual_finite(a - b, TURN_DEG).abs(),
            Travel::Stops { .. } => (a - b).abs(),
        }
    }

    pub(super) fn choice(&self, start_deg: f64, drive_deg: &[f64]) -> ArcChoice {
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
            within_winding: self.within_winding(start_deg),
            largest_band_deg: self.largest_band_deg(start_deg),
            kept_present: start_deg == present_deg,
        }
    }
}
