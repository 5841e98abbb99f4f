//! Sums over all zero points -> the figures of a batch, with failed attempts put in.

use super::bins::quantiles;
use super::chain_model::{ChainModel, Part};
use super::gauss::between;
use super::place::ChainStart;
use super::sums::{SolveSums, Sums};
use super::transition::Added;
use crate::rig::SolveSettings;

/// Mean and quantiles of one figure.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct SolvedSpread {
    pub(super) mean: f64,
    /// Of 50, 90 and 99 %.
    pub(super) quantiles: [Option<f64>; 3],
}

const SHARES: [f64; 3] = [0.5, 0.9, 0.99];

/// Everything that is found for one grid.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Figures {
    pub(super) settled: f64,
    pub(super) unsettled: f64,
    pub(super) unsolved: f64,
    pub(super) refused: f64,
    pub(super) hunting: f64,
    pub(super) stuck: f64,
    pub(super) ended_badly: f64,
    pub(super) keep_out: f64,
    pub(super) overwound: f64,
    pub(super) settle_time_s: Option<SolvedSpread>,
    /// Quantiles of the settle time over all runs; `None` where fewer ever settle.
    pub(super) settled_within_s: [Option<f64>; 3],
    pub(super) true_error_deg: Option<SolvedSpread>,
    pub(super) solves: SolvedSpread,
    pub(super) long_swings: SolvedSpread,
    pub(super) elapsed_s: f64,
    pub(super) failed_attempts: f64,
    pub(super) added: Added,
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
            refused: 1.0,
            ended_badly: 1.0,
            solves: SolvedSpread::certain(0.0),
            long_swings: SolvedSpread::certain(0.0),
            settled_shares: vec![0.0],
            solves_shares: vec![1.0],
            long_swings_shares: vec![1.0],
            ..Self::default()
        }
    }

    pub(super) fn of(model: &ChainModel, first: &ChainStart, sums: &Sums) -> Self {
        let solve = &model.scenario.solve;
        let failures = Failures::of(solve);
        let mut found = Self {
            added: first.added,
            keep_out: if first.crosses() { 1.0 } else { 0.0 },
            overwound: if first.overwinds { 1.0 } else { 0.0 },
            settled_shares: vec![0.0],
            ..Self::default()
        };
        let mut settled_badly = 0.0;
        let (mut good_solves, mut many_swings) = (0.0, 0.0);
        let mut alive = 1.0;
        for (i, step) in sums.steps.iter().enumerate() {
            let solved = alive * failures.success;
            let running: f64 = step.running.iter().sum();
            found.failed_attempts += alive * running * failures.mean;
            good_solves += solved * running;
            found.unsolved += alive * running * failures.ends;
            let settled = solved * step.settled.iter().sum::<f64>();
            found.settled += settled;
            found.settled_shares.push(settled);
            found.refused += solved * step.refused.iter().sum::<f64>();
            found.unsettled += solved * step.unsettled.iter().sum::<f64>();
            many_swings += solved * step.unsettled.iter().skip(2).sum::<f64>();
            found.hunting += solved * step.second_swing;
            found.keep_out += solved * step.first_crossing;
            found.overwound += solved * step.first_winding;
            settled_badly += solved * step.settled_badly;
            found.added.add(&step.added, solved);
            found.count_ends(i + 1, step, alive, failures);
            alive = solved;
        }
        found.stuck = found.unsettled - many_swings;
        found.ended_badly = found.unsettled + found.unsolved + found.refused + settled_badly;
        found.elapsed_s = found.added.time_s
            + good_solves * (solve.exposure_s + solve.solve_s)
            + found.failed_attempts * (solve.exposure_s + solve.failure_s);
        let counts = |shares: &[f64], mean| SolvedSpread {
            mean,
            quantiles: quantiles(
                &mut shares
                    .iter()
                    .enumerate()
                    .map(|(count, share)| (count as f64, *share))
                    .collect::<Vec<_>>(),
                SHARES,
            ),
        };
        found.solves = counts(&found.solves_shares, good_solves);
        found.long_swings = counts(&found.long_swings_shares, found.added.long_swings);
        (found.settle_time_s, found.settled_within_s) = settle_time(model, first, sums, failures);
        found.true_error_deg = true_error(model, sums);
        found
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

impl SolvedSpread {
    fn certain(value: f64) -> Self {
        Self {
            mean: value,
            quantiles: [Some(value); 3],
        }
    }
}

/// Elapsed time of settled runs \[s\], and its quantiles over all runs.
fn settle_time(
    model: &ChainModel,
    first: &ChainStart,
    sums: &Sums,
    failures: Failures,
) -> (Option<SolvedSpread>, [Option<f64>; 3]) {
    let solve = &model.scenario.solve;
    let one = failures.before_success();
    let mut failed = vec![1.0];
    let mut atoms = Vec::new();
    let (mut mass, mut moment) = (0.0, 0.0);
    let mut alive = 1.0;
    for (i, step) in sums.steps.iter().enumerate() {
        alive *= failures.success;
        failed = convolved(&failed, &one);
        let solved_s = first.added.time_s + (i + 1) as f64 * (solve.exposure_s + solve.solve_s);
        let settled = alive * step.settled.iter().sum::<f64>();
        let failed_s =
            (i + 1) as f64 * failures.mean_before_success() * (solve.exposure_s + solve.failure_s);
        mass += settled;
        moment += alive * step.settled_moment_s + settled * (solved_s + failed_s);
        for (moving_s, share) in step.settled_moving_s.filled() {
            for (count, failed) in failed.iter().enumerate() {
                let time_s =
                    solved_s + moving_s + count as f64 * (solve.exposure_s + solve.failure_s);
                let share = alive * share * failed;
                if share > 1e-9 * mass {
                    atoms.push((time_s, share));
                }
            }
        }
    }
    let settled = (mass > 0.0).then(|| SolvedSpread {
        mean: moment / mass,
        quantiles: quantiles(&mut atoms, SHARES),
    });
    // Over all runs: one that does not settle takes for ever.
    atoms.push((f64::INFINITY, (1.0 - mass).max(0.0)));
    let within = quantiles(&mut atoms, SHARES);
    (
        settled,
        within.map(|q| q.filter(|time_s| time_s.is_finite())),
    )
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

/// True error of settled runs \[deg\].
///
/// Where repeatability error and noise are one error, runs arrive at a solve with a known mean residual `v`; a true residual `x`
/// then has the density of a repeatability error at `x - v`, and passes with a probability that depends on `x` alone.
fn true_error(model: &ChainModel, sums: &Sums) -> Option<SolvedSpread> {
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
                |Part {
                     share, sigma_deg, ..
                 }| {
                    if *sigma_deg == 0.0 {
                        return if off_deg.abs() <= tolerance_deg {
                            *share
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
    if repeatability_error_deg == 0.0 {
        let known = sums.arriving_deg.filled();
        atoms.extend(known.map(|(v, mass)| (v.abs(), mass * passes(v))));
    } else {
        atoms.extend(seated_errors(
            model,
            sums,
            repeatability_error_deg,
            bin_deg,
            &passes,
        ));
    }
    let mass: f64 = atoms.iter().map(|(_, mass)| mass).sum();
    let moment: f64 = atoms.iter().map(|(x, mass)| x * mass).sum();
    (mass > 0.0).then(|| SolvedSpread {
        mean: moment / mass,
        quantiles: quantiles(&mut atoms, SHARES),
    })
}

/// True errors \[deg\] and their masses, where repeatability errors spread what arrives.
fn seated_errors(
    model: &ChainModel,
    sums: &Sums,
    repeatability_error_deg: f64,
    bin_deg: f64,
    passes: &dyn Fn(f64) -> f64,
) -> Vec<(f64, f64)> {
    let each_side = (model.precision.reach * repeatability_error_deg / bin_deg).ceil() as i64;
    let steps: Vec<f64> = (-each_side..=each_side)
        .map(|k| {
            // The whole step, so that a repeatability error finer than a bin keeps its mass.
            let edge = |k: f64| k * bin_deg / repeatability_error_deg;
            between(edge(k as f64 - 0.5), edge(k as f64 + 0.5))
        })
        .collect();
    let mut spread = super::bins::Bins::default();
    spread.add_spread(&sums.arriving_deg, -each_side, &steps, bin_deg);
    spread
        .filled()
        .map(|(x, mass)| (x.abs(), mass * passes(x)))
        .collect()
}
