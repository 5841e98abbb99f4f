//! Where an arc can start, and what speaks for and against a start: targets, keep-outs, stops, the cable limit.

use std::cmp::Ordering;

use super::score::{Angles, Score};
use crate::advise::arc::{ArcFacts, TOUCH_DEG};
use crate::angle::{AngleSpan, Sectors, TURN_DEG, fold_finite, residual_finite};
use crate::plant::Travel;
use crate::rig::{Rig, Rule};
use crate::scenario::keep_out_sectors;
use crate::scenario::{Policy, Scenario, Target};

/// Distance of the places that are tried in a narrow gap \[deg\].
const STEP_DEG: f64 = 0.5;

/// How far from the parking reading a start between stops may be \[deg\]: farther out only the cable winds more.
const FARTHEST_DEG: f64 = 3.0 * TURN_DEG;

/// Most starts that are tried.
const MOST_CANDIDATES: usize = 1500;

/// Share of the room beside the seam that rounding a start may cost.
const LOSS: f64 = 0.05;

/// How good a start looks before anything is run.
struct Rank {
    /// Place of the first of [`CONDITIONS`] that it keeps.
    conditions: usize,
    score: Score,
}

impl Rank {
    /// Greater is better.
    fn compare(&self, other: &Self) -> Ordering {
        // Targets in reach first: a target that the first command cannot reach is lost.
        (self.score.reachable.cmp(&other.score.reachable))
            .then(other.conditions.cmp(&self.conditions))
            .then_with(|| self.score.compare(&other.score, TOUCH_DEG))
    }
}

/// What a start has to keep.
#[derive(Debug, Clone, Copy)]
pub(in crate::advise) struct Conditions {
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

    pub(in crate::advise) fn hold(self, ground: &Grounds, start_deg: f64) -> bool {
        (!self.clear || ground.clear_of_keep_outs(start_deg))
            && (!self.stops || ground.within_stops(start_deg))
            && (!self.winding || ground.within_winding(start_deg))
    }
}

/// In the order in which they are given up: the cable limit first, the keep-outs last.
pub(in crate::advise) const CONDITIONS: [Conditions; 8] = [
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
pub(in crate::advise) struct Grounds {
    pub(in crate::advise) policy: Policy,
    travel: Travel,
    pub(in crate::advise) width_deg: f64,
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
    pub(in crate::advise) fn of(rig: &Rig) -> Self {
        let policy = Policy::of(rig);
        let travel = rig.travel();
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

    pub(in crate::advise) fn drive_angles_deg(&self, rig: &Rig, targets: &[Target]) -> Vec<f64> {
        targets
            .iter()
            .map(|t| Scenario::new(rig, self.policy, t.position_angle_deg).drive_angle_deg())
            .collect()
    }

    /// Every start that can be the best, the most promising first: the middles of the gaps between drive angles, the ends
    /// and middles of the permitted ranges between them, and more places in gaps too narrow to be sure of.
    ///
    /// Where an arc starts matters to a run in two ways alone: through the multiple of the period that each target gets,
    /// and so the way there, which is the same all over a gap; and through the distance from the seam, which is widest in
    /// its middle. `wanted_deg` is the distance from the seam that is sure to be enough.
    pub(super) fn candidates(&self, drive_deg: &[f64], wanted_deg: f64) -> Vec<f64> {
        let angles = self.reachable(drive_deg);
        let middles: Vec<f64> = angles
            .middles_deg()
            .into_iter()
            .flat_map(|s| self.copies(s))
            .collect();
        let limits: Vec<f64> = self
            .limits_deg()
            .into_iter()
            .flat_map(|s| self.copies(s))
            .collect();
        let seams = angles.seams_deg().into_iter().flat_map(|s| self.copies(s));
        let mut edges: Vec<f64> = seams.chain(limits.iter().copied()).collect();
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        if let (Travel::Endless, Some(first)) = (self.travel, edges.first()) {
            edges.push(first + TURN_DEG);
        }
        let mut starts = middles;
        starts.extend(limits);
        for ends in edges.windows(2) {
            let (from, to) = (ends[0], ends[1]);
            starts.push(0.5 * (from + to));
            if to - from < 2.0 * wanted_deg {
                let first = (from / STEP_DEG).ceil() * STEP_DEG;
                let more = (0_u32..).map(|k| first + f64::from(k) * STEP_DEG);
                starts.extend(more.take_while(|s| *s < to));
            }
        }
        let mut ranked: Vec<(Rank, f64)> = starts
            .into_iter()
            .map(|s| self.rounded(s, &angles, wanted_deg))
            .map(|s| (self.rank(s, &angles), s))
            .collect();
        ranked.sort_by(|a, b| {
            (b.0.compare(&a.0))
                .then(
                    self.distance_deg(a.1, self.policy.arc_start_deg)
                        .total_cmp(&self.distance_deg(b.1, self.policy.arc_start_deg)),
                )
                .then(a.1.total_cmp(&b.1))
        });
        let mut starts: Vec<f64> = ranked.into_iter().map(|(_, s)| s).collect();
        starts.dedup();
        starts.truncate(MOST_CANDIDATES);
        starts
    }

    /// The start in whole degrees, or with one or two decimals, where that loses next to nothing.
    fn rounded(&self, start_deg: f64, angles: &Angles, wanted_deg: f64) -> f64 {
        let rank = self.rank(start_deg, angles);
        for unit in [1.0, 0.1, 0.01] {
            // By division, so that no rounding shows: 0.1 has no exact value.
            let per_degree = 1.0 / unit;
            let near = self.on_turn((start_deg * per_degree).round() / per_degree);
            let other = self.rank(near, angles);
            let room_deg = rank.score.seam_distance_deg.min(2.0 * wanted_deg);
            let keeps = other.conditions <= rank.conditions
                && other.score.reachable >= rank.score.reachable
                && other.score.seam_distance_deg >= (1.0 - LOSS) * room_deg
                && self.distance_deg(near, start_deg) < rank.score.seam_deg;
            if keeps {
                return near;
            }
        }
        self.on_turn(start_deg)
    }

    /// With endless travel, the same start in `[0, 360)` \[deg\].
    fn on_turn(&self, start_deg: f64) -> f64 {
        match self.travel {
            Travel::Endless => fold_finite(start_deg, 0.0, TURN_DEG),
            Travel::Stops { .. } => start_deg,
        }
    }

    fn rank(&self, start_deg: f64, angles: &Angles) -> Rank {
        let conditions = CONDITIONS.iter().position(|c| c.hold(self, start_deg));
        Rank {
            conditions: conditions.unwrap_or(CONDITIONS.len()),
            score: self.score(start_deg, angles),
        }
    }

    /// The drive angles that say where the seam should lie: those that some start can reach, or all where none can.
    fn reachable(&self, drive_deg: &[f64]) -> Angles {
        let reachable = drive_deg.iter().copied();
        let reachable: Vec<f64> = reachable.filter(|d| self.has_reachable_copy(*d)).collect();
        let counts = if reachable.is_empty() {
            drive_deg
        } else {
            &reachable
        };
        Angles::new(counts, self.width_deg)
    }

    /// The starts at which a permitted range ends \[deg\].
    pub(in crate::advise) fn limits_deg(&self) -> Vec<f64> {
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
    pub(in crate::advise) fn copies(&self, start_deg: f64) -> impl Iterator<Item = f64> + use<> {
        let width = self.width_deg;
        let (lowest, highest) = match self.travel {
            Travel::Endless => (0.0, TURN_DEG),
            Travel::Stops { lo_deg, hi_deg } => (
                (lo_deg - width).max(self.park_deg - FARTHEST_DEG),
                (hi_deg + width).min(self.park_deg + FARTHEST_DEG),
            ),
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

    /// Farthest that a reading gets from the parking reading in a run that stays in the arc, whatever the
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
            // The short way from the parking reading ends in the copy of the arc around it, or in the one above
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
        let around = AngleSpan::new(low - TURN_DEG, high + TURN_DEG);
        let clear = self.keep_out.clear_part(around, 0.5 * (low + high));
        let mut band = (low - clear.from_deg).min(clear.to_deg - high);
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
    pub(super) fn seam_distance_deg(&self, start_deg: f64, drive_deg: &[f64]) -> f64 {
        drive_deg
            .iter()
            .map(|d| residual_finite(d - start_deg, self.width_deg).abs())
            .fold(f64::INFINITY, f64::min)
    }

    /// How far two starts are apart \[deg\].
    pub(in crate::advise) fn distance_deg(&self, a: f64, b: f64) -> f64 {
        match self.travel {
            Travel::Endless => residual_finite(a - b, TURN_DEG).abs(),
            Travel::Stops { .. } => (a - b).abs(),
        }
    }

    /// What an arc is like for these targets.
    pub(super) fn facts(&self, start_deg: f64, drive_deg: &[f64]) -> ArcFacts {
        ArcFacts {
            start_deg,
            seam_distance_deg: self.seam_distance_deg(start_deg, drive_deg),
            no_seam: self.no_seam,
            clear_of_keep_outs: self.clear_of_keep_outs(start_deg),
            within_stops: self.within_stops(start_deg),
            largest_band_deg: self.largest_band_deg(start_deg),
        }
    }
}
