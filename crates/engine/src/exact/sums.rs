//! What the chains of all zero points add up to, solve by solve.

use super::bins::Bins;
use super::transition::Added;

/// Sums over zero points, weighted by their probability. Failed attempts are left out: they are independent of
/// everything else and are put in at the end.
#[derive(Debug, Clone, Default)]
pub(super) struct Sums {
    /// Long swings that are told apart.
    levels: usize,
    /// One for every solve; the first stands for the first command.
    pub(super) steps: Vec<SolveSums>,
    /// Target less true angle on arrival at a solve, where repeatability error and noise are one error \[deg\].
    pub(super) arriving_deg: Bins,
    /// Target less true angle of settled runs, where it is known \[deg\].
    pub(super) settled_deg: Bins,
}

/// The sums of one solve, given that no attempt before it failed.
#[derive(Debug, Clone, Default)]
pub(super) struct SolveSums {
    /// Still running before this solve, by long swings so far.
    pub(super) running: Vec<f64>,
    /// Settled by this solve, by long swings.
    pub(super) settled: Vec<f64>,
    /// Settled by this solve, but after two or more long swings, through a keep-out, or with the cable wound too far.
    pub(super) settled_badly: f64,
    /// Not settled by this solve, the last, by long swings.
    pub(super) unsettled: Vec<f64>,
    /// Refused on the command after this solve, by long swings.
    pub(super) refused: Vec<f64>,
    /// Makes its second long swing after this solve.
    pub(super) second_swing: f64,
    /// Turns through a keep-out for the first time after this solve.
    pub(super) first_crossing: f64,
    /// Winds the cable too far for the first time after this solve.
    pub(super) first_winding: f64,
    /// Time of the commands of those that settle by this solve, the first left out \[s\]: for quantiles.
    pub(super) settled_moving_s: Bins,
    /// That time, times probability, in sum: for the mean.
    pub(super) settled_moment_s: f64,
    /// What the commands after this solve add.
    pub(super) added: Added,
}

impl Sums {
    /// Empty sums that tell apart up to `most_swings` long swings.
    pub(super) fn new(most_swings: usize) -> Self {
        Self {
            levels: most_swings + 1,
            ..Self::default()
        }
    }

    /// The sums of the solve number `solve`, counted from 1.
    pub(super) fn step(&mut self, solve: usize) -> &mut SolveSums {
        while self.steps.len() < solve {
            let none = || vec![0.0; self.levels];
            self.steps.push(SolveSums {
                running: none(),
                settled: none(),
                refused: none(),
                unsettled: none(),
                ..SolveSums::default()
            });
        }
        &mut self.steps[solve - 1]
    }

    /// The sums, weighted.
    pub(super) fn scaled(&self, weight: f64) -> Self {
        let mut scaled = Self::new(self.levels - 1);
        scaled.add(self, weight);
        scaled
    }

    /// Adds other sums, weighted.
    pub(super) fn add(&mut self, other: &Self, weight: f64) {
        let plus = |mine: &mut [f64], theirs: &[f64]| {
            for (mine, theirs) in mine.iter_mut().zip(theirs) {
                *mine += weight * theirs;
            }
        };
        self.arriving_deg.add(&other.arriving_deg, weight);
        self.settled_deg.add(&other.settled_deg, weight);
        for (i, theirs) in other.steps.iter().enumerate() {
            let mine = self.step(i + 1);
            plus(&mut mine.running, &theirs.running);
            plus(&mut mine.settled, &theirs.settled);
            plus(&mut mine.refused, &theirs.refused);
            mine.settled_badly += weight * theirs.settled_badly;
            plus(&mut mine.unsettled, &theirs.unsettled);
            mine.second_swing += weight * theirs.second_swing;
            mine.first_crossing += weight * theirs.first_crossing;
            mine.first_winding += weight * theirs.first_winding;
            mine.settled_moment_s += weight * theirs.settled_moment_s;
            mine.settled_moving_s.add(&theirs.settled_moving_s, weight);
            mine.added.add(&theirs.added, weight);
        }
    }
}
