//! How good a start of the arc is, quickly: drive angles sorted once, each start by binary search.

use std::cmp::Ordering;

use crate::angle::fold_finite;

/// Drive angles modulo the width of the arc, sorted.
pub(super) struct Angles {
    /// In `[0, width)` \[deg\].
    sorted_deg: Vec<f64>,
    width_deg: f64,
}

/// How good a start is; compare with [`Score::compare`].
#[derive(Debug, Clone, Copy)]
pub(super) struct Score {
    /// Targets whose first drive angle lies between the stops.
    pub(super) reachable: usize,
    /// Smallest distance of a target from the seam, and from the stops where they count \[deg\].
    pub(super) seam_distance_deg: f64,
    /// Smallest distance from the seam alone \[deg\].
    pub(super) seam_deg: f64,
}

impl Score {
    /// Greater is better; distances that differ by no more than `touch_deg` are equal.
    pub(super) fn compare(&self, other: &Self, touch_deg: f64) -> Ordering {
        let distance = |a: f64, b: f64| {
            if (a - b).abs() <= touch_deg {
                Ordering::Equal
            } else {
                a.total_cmp(&b)
            }
        };
        self.reachable
            .cmp(&other.reachable)
            .then_with(|| distance(self.seam_distance_deg, other.seam_distance_deg))
            .then_with(|| distance(self.seam_deg, other.seam_deg))
    }
}

impl Angles {
    /// `drive_deg` must not be empty.
    pub(super) fn new(drive_deg: &[f64], width_deg: f64) -> Self {
        let mut sorted_deg: Vec<f64> = drive_deg
            .iter()
            .map(|d| fold_finite(*d, 0.0, width_deg))
            .collect();
        sorted_deg.sort_by(f64::total_cmp);
        sorted_deg.dedup();
        Self {
            sorted_deg,
            width_deg,
        }
    }

    /// The seams that a target lies on, modulo the width \[deg\].
    pub(super) fn seams_deg(&self) -> Vec<f64> {
        self.sorted_deg.clone()
    }

    /// The middles of the gaps, modulo the width \[deg\].
    pub(super) fn middles_deg(&self) -> Vec<f64> {
        let around = self.sorted_deg[0] + self.width_deg;
        let next = self.sorted_deg.iter().skip(1).copied().chain([around]);
        self.sorted_deg
            .iter()
            .zip(next)
            .map(|(below, above)| 0.5 * (below + above))
            .collect()
    }

    /// Only the seam counts.
    pub(super) fn score(&self, start_deg: f64) -> Score {
        let at = fold_finite(start_deg, 0.0, self.width_deg);
        let n = self.sorted_deg.len();
        let k = self.sorted_deg.partition_point(|d| *d < at);
        let above = if k < n {
            self.sorted_deg[k]
        } else {
            self.sorted_deg[0] + self.width_deg
        };
        let below = if k > 0 {
            self.sorted_deg[k - 1]
        } else {
            self.sorted_deg[n - 1] - self.width_deg
        };
        let seam_deg = (above - at).min(at - below);
        Score {
            reachable: n,
            seam_distance_deg: seam_deg,
            seam_deg,
        }
    }

    /// The stops count as well.
    pub(super) fn score_between(&self, start_deg: f64, lo_deg: f64, hi_deg: f64) -> Score {
        let seam_deg = self.score(start_deg).seam_deg;
        let at = fold_finite(start_deg, 0.0, self.width_deg);
        let k = self.sorted_deg.partition_point(|d| *d < at);
        let (wrapped, straight) = self.sorted_deg.split_at(k);
        let mut score = Score {
            reachable: 0,
            seam_distance_deg: seam_deg,
            seam_deg,
        };
        // The arc holds the angles from the start on as they are, and those below it one width higher.
        for (group, base) in [
            (straight, start_deg - at),
            (wrapped, start_deg - at + self.width_deg),
        ] {
            let first = group.partition_point(|d| base + d < lo_deg);
            let end = group.partition_point(|d| base + d <= hi_deg);
            if first < end {
                score.reachable += end - first;
                score.seam_distance_deg = score
                    .seam_distance_deg
                    .min(base + group[first] - lo_deg)
                    .min(hi_deg - (base + group[end - 1]));
            }
        }
        score
    }
}
