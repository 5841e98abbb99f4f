//! Sums over all zero points -> the figures of a batch, with failed attempts put in.

use super::bins::{Bins, Distribution};
use super::chain_model::{ChainModel, Part};
use super::gauss::between;
use super::place::ChainStart;
use super::sums::{SolveSums, Sums};
use super::transition::Added;
use crate::rig::SolveSettings;

/// Of the quantiles.
pub(super) const SHARES: [f64; 3] = [0.5, 0.9, 0.99];

/// What the solves up to one have added up to. Every field is a sum over solves.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Totals {
    pub(super) settled: f64,
    pub(super) unsettled: f64,
    pub(super) unsolved: f64,
    pub(super) refused: f64,
    pub(super) hunting: f64,
    pub(super) stuck: f64,
    pub(super) ended_badly: f64,
    pub(super) keep_out: f64,
    pub(super) overwound: f64,
    pub(super) good_solves: f64,
    pub(super) failed_attempts: f64,
    pub(super) elapsed_s: f64,
    /// Elapsed time of settled runs, times probability \[s\].
    pub(super) settle_time_s: f64,
    pub(super) added: Added,
}

/// Everything that is found for one grid.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Figures {
    /// Before the first solve, and after every one.
    pub(super) course: Vec<Totals>,
    /// Elapsed time of settled runs \[s\].
    pub(super) settle_time_s: Distribution,
    /// True error of settled runs \[deg\].
    pub(super) true_error_deg: Distribution,
    /// Its mean.
    pub(super) mean_true_error_deg: f64,
    pub(super) solves: Distribution,
    pub(super) long_swings: Distribution,
    /// What the bins may miss of the settled runs: a share, and that share times the true error \[deg\].
    pub(super) true_error_off: [f64; 2],
    /// Probability of settling at every number of good solves.
    pub(super) settled_shares: Vec<f64>,
    /// Probability of every number of good solves.
    pub(super) solves_shares: Vec<f64>,
    /// Probability of every number of long swings; the last stands for more as well.
    pub(super) long_swings_shares: Vec<f64>,
}

/// What failed attempts do to a solve.
#[derive(Debug, Clone, Copy)]
pub(super) struct Failures {
    rate: f64,
    /// Failures in a row that end a run.
    most: u32,
    /// Too many in a row.
    pub(super) ends: f64,
    /// A solve succeeds.
    pub(super) success: f64,
    /// Mean failed attempts of a solve, the last included.
    pub(super) mean: f64,
}

impl Failures {
    pub(super) fn of(solve: &SolveSettings) -> Self {
        let (rate, most) = (solve.failure_rate, solve.max_failures);
        let ends = rate.powi(most as i32);
        Self {
            rate,
            most,
            ends,
            success: 1.0 - ends,
            mean: if rate < 1.0 {
                rate * (1.0 - ends) / (1.0 - rate)
            } else {
                f64::from(most)
            },
        }
    }

    /// Mean failed attempts of a solve that succeeds.
    fn mean_before_success(&self) -> f64 {
        if self.success == 0.0 {
            return 0.0;
        }
        (self.mean - f64::from(self.most) * self.ends) / self.success
    }

    /// Probabilities of the number of failed attempts of a solve that succeeds, up to where they do not matter.
    fn before_success(&self) -> Vec<f64> {
        if self.success == 0.0 {
            return vec![1.0];
        }
        let mut shares = Vec::new();
        let mut share = (1.0 - self.rate) / self.success;
        for _ in 0..self.most {
            if share < NO_MATTER && !shares.is_empty() {
                break;
            }
            shares.push(share);
            share *= self.rate;
        }
        shares
    }
}

/// Shares of failures below this are left out of quantiles.
const NO_MATTER: f64 = 1e-9;

impl Figures {
    /// A run whose first command is refused.
    pub(super) fn refused_at_once() -> Self {
        Self {
            course: vec![Totals {
                refused: 1.0,
                ended_badly: 1.0,
                ..Totals::default()
            }],
            settled_shares: vec![0.0],
            solves_shares: vec![1.0],
            long_swings_shares: vec![1.0],
            ..Self::default()
        }
        .with_counts()
    }

    fn with_counts(mut self) -> Self {
        let of = |shares: &[f64]| {
            let counted = shares.iter().enumerate();
            let atoms = counted
                .map(|(count, share)| (count as f64, *share))
                .collect();
            Distribution::of(atoms, shares.iter().sum())
        };
        self.solves = of(&self.solves_shares);
        self.long_swings = of(&self.long_swings_shares);
        self
    }

    pub(super) fn of(model: &ChainModel, first: &ChainStart, sums: &Sums) -> Self {
        let solve = &model.scenario.solve;
        let failures = Failures::of(solve);
        let mut at = Totals {
            added: first.added,
            elapsed_s: first.added.time_s,
            keep_out: if first.crosses() { 1.0 } else { 0.0 },
            overwound: if first.overwinds { 1.0 } else { 0.0 },
            ..Totals::default()
        };
        let mut found = Self {
            course: vec![at],
            settled_shares: vec![0.0],
            ..Self::default()
        };
        let (solve_s, failure_s) = (solve.good_attempt_s(), solve.failed_attempt_s());
        let mut alive = 1.0;
        for (i, step) in sums.steps.iter().enumerate() {
            let solved = alive * failures.success;
            let running: f64 = step.running.iter().sum();
            let settled = solved * step.settled.iter().sum::<f64>();
            let refused = solved * step.refused.iter().sum::<f64>();
            let unsettled = solved * step.unsettled.iter().sum::<f64>();
            let unsolved = alive * running * failures.ends;
            let failed = alive * running * failures.mean;
            at.good_solves += solved * running;
            at.failed_attempts += failed;
            at.settled += settled;
            at.refused += refused;
            at.unsettled += unsettled;
            at.unsolved += unsolved;
            at.stuck += unsettled - solved * step.unsettled.iter().skip(2).sum::<f64>();
            at.ended_badly += unsettled + unsolved + refused + solved * step.settled_badly;
            at.hunting += solved * step.second_swing;
            at.keep_out += solved * step.first_crossing;
            at.overwound += solved * step.first_winding;
            at.added.add(&step.added, solved);
            at.elapsed_s += solved * (step.added.time_s + running * solve_s) + failed * failure_s;
            let waited_s = solve_s + failures.mean_before_success() * failure_s;
            let until_s = first.added.time_s + (i + 1) as f64 * waited_s;
            at.settle_time_s += solved * step.settled_moment_s + settled * until_s;
            found.course.push(at);
            found.settled_shares.push(settled);
            found.count_ends(i + 1, step, alive, failures);
            alive = solved;
        }
        found.settle_time_s = settle_times(model, first, sums);
        found.true_error(model, sums, at.settled);
        found.with_counts()
    }

    /// After the last solve.
    pub(super) fn total(&self) -> &Totals {
        &self.course[self.course.len() - 1]
    }

    /// By how much a figure differs from those of other grids, the farther of them: solve by solve, without signs, so
    /// that no two solves make up for each other.
    pub(super) fn off_by_solve(&self, others: &[Self], figure: &dyn Fn(&Totals) -> f64) -> f64 {
        let up_to = |of: &Self, solve: usize| figure(&of.course[solve.min(of.course.len() - 1)]);
        let at = |of: &Self, solve| up_to(of, solve + 1) - up_to(of, solve);
        let longest = others.iter().chain([self]).map(|f| f.course.len()).max();
        (0..longest.unwrap_or(0))
            .map(|solve| {
                let off = others
                    .iter()
                    .map(|o| (at(self, solve) - at(o, solve)).abs());
                off.fold(0.0, f64::max)
            })
            .sum()
    }

    /// Counts the runs that end at a solve, by good solves and by long swings.
    fn count_ends(&mut self, solve: usize, step: &SolveSums, alive: f64, failures: Failures) {
        let levels = step.running.len();
        self.long_swings_shares.resize(levels, 0.0);
        self.solves_shares.resize(solve + 1, 0.0);
        let solved = alive * failures.success;
        for swings in 0..levels {
            let unsolved = alive * failures.ends * step.running[swings];
            let ended = step.settled[swings] + step.refused[swings] + step.unsettled[swings];
            self.solves_shares[solve - 1] += unsolved;
            self.solves_shares[solve] += solved * ended;
            self.long_swings_shares[swings] += unsolved + solved * ended;
        }
    }
}

/// Elapsed time of settled runs \[s\].
fn settle_times(model: &ChainModel, first: &ChainStart, sums: &Sums) -> Distribution {
    let solve = &model.scenario.solve;
    let failures = Failures::of(solve);
    let one = failures.before_success();
    let mut failed = vec![1.0];
    let mut atoms = Vec::new();
    let mut mass = 0.0;
    let mut alive = 1.0;
    for (i, step) in sums.steps.iter().enumerate() {
        alive *= failures.success;
        failed = convolved(&failed, &one);
        let solved_s = first.added.time_s + (i + 1) as f64 * solve.good_attempt_s();
        mass += alive * step.settled.iter().sum::<f64>();
        for (moving_s, share) in step.settled_moving_s.filled() {
            for (count, failed) in failed.iter().enumerate() {
                let time_s = solved_s + moving_s + count as f64 * solve.failed_attempt_s();
                let share = alive * share * failed;
                if share.abs() > 1e-9 * mass {
                    atoms.push((time_s, share));
                }
            }
        }
    }
    Distribution::of(atoms, mass)
}

/// The distribution of a sum, cut where it does not matter.
fn convolved(a: &[f64], b: &[f64]) -> Vec<f64> {
    if b.len() == 1 {
        return a.to_vec();
    }
    let mut sum = vec![0.0; a.len() + b.len() - 1];
    for (i, a) in a.iter().enumerate() {
        for (j, b) in b.iter().enumerate() {
            sum[i + j] += a * b;
        }
    }
    let far = sum.iter().rposition(|share| *share > NO_MATTER);
    sum.truncate(far.map_or(1, |far| far + 1));
    sum
}

/// The angle by which bins of true errors are told apart \[deg\].
pub(super) fn angle_bin_deg(model: &ChainModel) -> f64 {
    let widest_deg = model.scenario.brief.tolerance_deg.min(90.0);
    let sigma_deg = model.noise[0].sigma_deg;
    if sigma_deg == 0.0 {
        widest_deg / 2000.0
    } else {
        (model.precision.error_bin * sigma_deg).max(widest_deg / 4000.0)
    }
}

/// Runs that arrive farther from the target than this \[deg\] do not pass.
pub(super) fn farthest_pass_deg(model: &ChainModel) -> f64 {
    let wide_deg = model.noise.iter().map(|p| p.sigma_deg).fold(0.0, f64::max);
    let scenario = model.scenario;
    scenario.brief.tolerance_deg + scenario.solve.bias_deg.abs() + model.precision.reach * wide_deg
}

impl Figures {
    /// Finds the true error of settled runs.
    ///
    /// Where repeatability error and noise are one error, runs arrive at a solve with a known mean residual `v`; a true residual `x`
    /// then has the density of a repeatability error at `x - v`, and passes with a probability that depends on `x` alone.
    fn true_error(&mut self, model: &ChainModel, sums: &Sums, settled: f64) {
        let scenario = model.scenario;
        let bin_deg = angle_bin_deg(model);
        let repeatability_error_deg = scenario.repeatability_deg;
        let mut atoms: Vec<(f64, f64)> = sums
            .settled_deg
            .filled()
            .map(|(x, mass)| (x.abs(), mass))
            .collect();
        let passes = |x: f64| -> f64 {
            let tolerance_deg = scenario.brief.tolerance_deg;
            let off_deg = x - scenario.solve.bias_deg;
            model
                .still_noise
                .iter()
                .map(
                    |&Part {
                         share, sigma_deg, ..
                     }| {
                        if sigma_deg == 0.0 {
                            return if off_deg.abs() <= tolerance_deg {
                                share
                            } else {
                                0.0
                            };
                        }
                        let sigmas = |edge: f64| (edge - off_deg) / sigma_deg;
                        share * between(sigmas(-tolerance_deg), sigmas(tolerance_deg))
                    },
                )
                .sum()
        };
        let arrived = if repeatability_error_deg == 0.0 {
            sums.arriving_deg.clone()
        } else {
            seated_errors(model, sums, repeatability_error_deg, bin_deg)
        };
        // What passes changes within a bin.
        let mut off = [0.0; 2];
        for (x, mass) in arrived.filled() {
            let passed = passes(x);
            let at_ends = 0.5 * (passes(x - 0.5 * bin_deg) + passes(x + 0.5 * bin_deg));
            let missed = (mass * (passed - at_ends)).abs();
            off[0] += missed;
            off[1] += missed * x.abs();
            atoms.push((x.abs(), mass * passed));
        }
        let mass: f64 = atoms.iter().map(|(_, mass)| mass).sum();
        let moment: f64 = atoms.iter().map(|(x, mass)| x * mass).sum();
        self.mean_true_error_deg = moment / mass;
        self.true_error_off = off.map(|off| off / mass);
        self.true_error_deg = Distribution::of(atoms, settled);
    }
}

/// True errors on arrival at a solve \[deg\], where repeatability errors spread them.
fn seated_errors(
    model: &ChainModel,
    sums: &Sums,
    repeatability_error_deg: f64,
    bin_deg: f64,
) -> Bins {
    let each_side = (model.precision.reach * repeatability_error_deg / bin_deg).ceil() as i64;
    let steps: Vec<f64> = (-each_side..=each_side)
        .map(|k| {
            // The whole step, so that a repeatability error finer than a bin keeps its mass.
            let edge = |k: f64| k * bin_deg / repeatability_error_deg;
            between(edge(k as f64 - 0.5), edge(k as f64 + 0.5))
        })
        .collect();
    let mut spread = Bins::default();
    spread.add_spread(&sums.arriving_deg, -each_side, &steps, bin_deg);
    spread
}
