//! The smallest tolerance with which the loop settles in time.

use crate::advise::settling::Settling;
use crate::advise::wishes::Wishes;
use crate::rig::Rig;
use crate::sample::Cancelled;
use crate::scenario::{Policy, Scenario, Target};

/// Targets that are tried, the nearest to the seam and others all over the arc.
const MOST_TRIED: usize = 12;
const NEAREST: usize = 4;

/// Most that a tolerance can be, as a share of a period: no residual is larger.
const MOST_OF_PERIOD: f64 = 0.5;

/// Least tolerance that is looked for \[deg\].
const LEAST_DEG: f64 = 1e-5;

/// Bisections of a factor of two: to 1.1 %.
const HALVINGS: u32 = 6;

/// What a search finds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lowest {
    /// The smallest tolerance that serves every tried target \[deg\].
    pub(super) low_deg: Option<f64>,
    /// Place in the list of the target that needs it.
    pub(super) hardest: usize,
}

/// A search for the smallest tolerance.
pub(super) struct Search<'a> {
    pub(super) rig: &'a Rig,
    pub(super) policy: Policy,
    pub(super) targets: &'a [Target],
    /// Places in the list of the targets to try; the one that failed last stands first.
    pub(super) order: Vec<usize>,
    pub(super) wishes: &'a Wishes,
    pub(super) settling: &'a dyn Settling,
}

/// The targets to try: the nearest to the seam, and others evenly over the drive angles.
pub(super) fn hardest_first(rig: &Rig, policy: Policy, targets: &[Target]) -> Vec<usize> {
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

impl Search<'_> {
    /// Whether every tried target settles as wished with this tolerance \[deg\].
    pub(super) fn serves(&mut self, rig: &Rig, tolerance_deg: f64) -> Result<bool, Cancelled> {
        let Ok(rig) = rig.with(|s| s.loop_.tolerance_deg = tolerance_deg) else {
            return Ok(false);
        };
        for k in 0..self.order.len() {
            let target_deg = self.targets[self.order[k]].position_angle_deg;
            let solves = self.wishes.max_solves;
            let found = self
                .settling
                .settled_within(&rig, self.policy, target_deg, solves)?;
            if found.low < self.wishes.settle_chance {
                // It will be the first to fail next time, too.
                self.order[..=k].rotate_right(1);
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// The smallest tolerance of the rig as it is.
    pub(super) fn lowest(&mut self) -> Result<Lowest, Cancelled> {
        let most_deg = MOST_OF_PERIOD * self.policy.period_deg();
        let start_deg = self.rig.settings().loop_.tolerance_deg.min(most_deg);
        let low_deg = self.lowest_from(self.rig, start_deg, most_deg)?;
        Ok(Lowest {
            low_deg,
            hardest: self.order.first().copied().unwrap_or(0),
        })
    }

    /// The smallest tolerance of a rig, from a guess \[deg\].
    pub(super) fn lowest_from(
        &mut self,
        rig: &Rig,
        guess_deg: f64,
        most_deg: f64,
    ) -> Result<Option<f64>, Cancelled> {
        let mut high = guess_deg;
        while !self.serves(rig, high)? {
            if high >= most_deg {
                return Ok(None);
            }
            high = (2.0 * high).min(most_deg);
        }
        // Above the guess the last doubling failed; from the guess down, halve while it serves.
        let mut low = 0.5 * high;
        if high <= guess_deg {
            while self.serves(rig, low)? {
                high = low;
                low *= 0.5;
                if low < LEAST_DEG {
                    return Ok(Some(high));
                }
            }
        }
        for _ in 0..HALVINGS {
            let middle = (low * high).sqrt();
            if self.serves(rig, middle)? {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok(Some(high))
    }
}
