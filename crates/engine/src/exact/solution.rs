//! The figures of a solution with the bounds of their errors.

use super::chain_model::ChainModel;
use super::figures::{Failures, Figures, SHARES, Totals, angle_bin_deg};
use super::gauss::beyond;
use super::missed::Missed;
use crate::angle::AngleSpan;
use crate::plant::PlannedMove;

/// A figure, and how far a grid twice as fine may move it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bounded {
    /// The figure.
    pub value: f64,
    /// Bound of its error.
    pub bound: f64,
}

impl Bounded {
    /// `off` is how far other grids are from this one, or what this one misses.
    fn of(value: f64, off: f64, floor: f64) -> Self {
        Self {
            value,
            bound: SAFETY * off + floor * (1.0 + value.abs()) + ROUNDING * value.abs(),
        }
    }
}

/// Mean and quantiles of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundedSpread {
    /// Mean.
    pub mean: Bounded,
    /// 50 %, 90 % and 99 % quantiles.
    pub quantiles: [Option<Bounded>; 3],
}

/// The figures of a scenario, found without sampling.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Settled.
    pub settled: Bounded,
    /// Out of solves.
    pub unsettled: Bounded,
    /// Too many failures in a row.
    pub unsolved: Bounded,
    /// A command outside the stops.
    pub refused: Bounded,
    /// Two or more long swings.
    pub hunting: Bounded,
    /// Out of solves without a second long swing.
    pub stuck: Bounded,
    /// Hunting, not settled, through a keep-out, or with the cable wound too far.
    pub ended_badly: Bounded,
    /// Through a keep-out.
    pub keep_out: Bounded,
    /// With the cable wound too far.
    pub overwound: Bounded,
    /// Elapsed time of settled runs \[s\]; `None` where none settles.
    pub settle_time_s: Option<BoundedSpread>,
    /// Times by which 50 %, 90 % and 99 % of all runs have settled \[s\]; `None` where fewer ever do.
    pub settled_within_s: [Option<Bounded>; 3],
    /// True error of settled runs \[deg\].
    pub true_error_deg: Option<BoundedSpread>,
    /// Good solves.
    pub solves: BoundedSpread,
    /// Long swings.
    pub long_swings: BoundedSpread,
    /// Mean elapsed time of all runs \[s\].
    pub elapsed_s: Bounded,
    /// Mean number of failed attempts.
    pub failed_attempts: Bounded,
    /// Mean number of commands after which the reading had changed.
    pub moves: Bounded,
    /// Mean degrees turned.
    pub travel_deg: Bounded,
    /// Mean degrees turned outside the arc.
    pub outside_arc_deg: Bounded,
    /// Mean degrees turned inside keep-outs.
    pub keep_out_deg: Bounded,
    /// No correction wanted to leave the arc and nothing turned outside it, so that every rule with this arc
    /// comes to the same.
    pub within_arc: bool,
    /// The angles that corrections want, from the lowest to the highest \[deg\]; `None` where one wants to leave the arc.
    pub wanted: Option<AngleSpan>,
    /// Probability of settling at every number of good solves, from 0.
    pub settled_shares: Vec<f64>,
    /// Probability of every number of good solves, from 0.
    pub solves_shares: Vec<f64>,
    /// Probability of every number of long swings, from 0; the last stands for more as well where it is the most
    /// that the precision tells apart.
    pub long_swings_shares: Vec<f64>,
}

/// How much more than the difference to a grid twice as coarse, or than what is [`Missed`], a bound is. Where a grid is
/// fine enough to converge, either alone is already far above the error; this is for where it is not yet.
pub(super) const SAFETY: f64 = 5.0;

/// What rounding may move a figure by, relative to itself: it is a sum of many positive numbers.
const ROUNDING: f64 = 1e-12;

/// A sum of probabilities may be off by so much from rounding alone.
const NOISE: f64 = 1e-12;

/// Width of two bins of settle times, relative to the time: a quantile may lie in the next one.
const TIME_BINS: f64 = 2.0 / 512.0;

/// The figures of all grids.
pub(super) struct Grids {
    /// The finest of all.
    pub(super) fine: Figures,
    /// With every second zero point.
    pub(super) coarse: Figures,
    /// What the zero points of the finest one miss.
    pub(super) missed: Missed,
    /// With every fourth zero point, if there are others.
    pub(super) coarser: Figures,
    /// The same, for every other kind of grid, where this kind alone is coarser.
    pub(super) others: Vec<Vec<Figures>>,
}

impl Grids {
    /// One grid of zero points.
    pub(super) fn one(figures: Figures) -> Self {
        Self {
            coarse: figures.clone(),
            coarser: figures.clone(),
            fine: figures,
            missed: Missed::UNKNOWN,
            others: Vec::new(),
        }
    }

    /// How far the finest grid may be off: every kind of grid adds its part. `off` is how far a grid is from others, the
    /// farther of them, and `missed` what the zero points of the finest one miss.
    fn off(&self, off: &dyn Fn(&Figures, &[Figures]) -> f64, missed: f64) -> f64 {
        let zero_points = off(&self.fine, std::slice::from_ref(&self.coarse)).min(missed);
        let others = self.others.iter().map(|kind| off(&self.coarser, kind));
        zero_points + others.sum::<f64>()
    }

    /// How far a sum over solves may be off.
    fn off_by_solve(&self, figure: &dyn Fn(&Totals) -> f64, missed: f64) -> f64 {
        self.off(&|a, others| a.off_by_solve(others, figure), missed)
    }

    /// How far a number may be off.
    fn moves(&self, number: &dyn Fn(&Figures) -> Option<f64>) -> f64 {
        let moves = |a: &Figures, others: &[Figures]| {
            let off = others
                .iter()
                .filter_map(|b| Some((number(a)? - number(b)?).abs()));
            off.fold(0.0, f64::max)
        };
        self.off(&moves, f64::INFINITY)
    }

    /// How far the share of the runs up to any number may be off.
    fn off_up_to(&self, shares: Shares) -> f64 {
        let off = |a: &Figures, others: &[Figures]| {
            let farthest = others.iter().map(|b| farthest(shares(a), shares(b)));
            farthest.fold(0.0, f64::max)
        };
        self.off(&off, self.missed.share)
    }
}

/// Probabilities of numbers from 0.
type Shares = fn(&Figures) -> &[f64];

/// The greatest difference of two cumulative distributions.
fn farthest(a: &[f64], b: &[f64]) -> f64 {
    let at = |shares: &[f64], i: usize| shares.get(i).copied().unwrap_or(0.0);
    let mut off = 0.0;
    (0..a.len().max(b.len()))
        .map(|i| {
            off += at(a, i) - at(b, i);
            f64::abs(off)
        })
        .fold(0.0, f64::max)
}

impl Solution {
    pub(super) fn of(model: &ChainModel, grids: &Grids, wanted: Option<AngleSpan>) -> Self {
        let (fine, missed) = (&grids.fine, grids.missed);
        let total = fine.total();
        // What was not followed, in tails and in masses too small, is missing in the sum of all probabilities.
        let missing = (1.0 - fine.solves_shares.iter().sum::<f64>()).abs();
        let unseen = 2.0 * beyond(model.precision.reach) + 10.0 * model.precision.least_mass;
        let floor = unseen + if missing > NOISE { missing } else { 0.0 };
        let share = missed.share;
        let of = |figure: fn(&Totals) -> f64| {
            // All runs end: what is missed of some is missed of the rest with the other sign.
            let rest = |t: &Totals| t.settled + t.unsettled + t.unsolved + t.refused - figure(t);
            let off = 2.0 * missing + grids.off_by_solve(&rest, share);
            let off = off.min(grids.off_by_solve(&figure, share));
            Bounded::of(figure(total), off, floor)
        };
        // It may have gone on to the last solve.
        let solves = f64::from(model.scenario.brief.max_solves);
        let longest = floor * (1.0 + solves / total.good_solves.max(1.0));
        // A run that was not followed may add as much as a long swing.
        let unfollowed = |mut mean: Bounded, swing: f64| {
            mean.bound += floor * swing;
            mean
        };
        let mean = |figure: fn(&Totals) -> f64, missed: f64| {
            Bounded::of(figure(total), grids.off_by_solve(&figure, missed), longest)
        };
        // `unsure` is how far a share of the runs may be off: beside a gap, the quantile may lie beyond it.
        let quantiles =
            |at: fn(&Figures, f64) -> Option<f64>, unsure: f64, bin: &dyn Fn(f64) -> f64| {
                SHARES.map(|share| {
                    let value = at(fine, share)?;
                    let moves = grids.moves(&|figures| at(figures, share));
                    let mut quantile = Bounded::of(value, moves, longest);
                    for share in [share - unsure, share + unsure] {
                        let beside = at(fine, share).map_or(0.0, |beside| (beside - value).abs());
                        quantile.bound = quantile.bound.max(beside);
                    }
                    quantile.bound += bin(value);
                    Some(quantile)
                })
            };
        let unsure = |shares: Shares| grids.off_up_to(shares) + floor;
        let counts = |mean: Bounded, at, shares: Shares| BoundedSpread {
            mean,
            quantiles: quantiles(at, unsure(shares), &|_| 0.0),
        };
        let settled = of(|t| t.settled);
        // By a time: after so many solves, and after one more of those that swing the least.
        let settled_by = unsure(|f| &f.settled_shares) + unsure(|f| &f.long_swings_shares);
        let settled_by = (settled_by / settled.value) + fine.settle_time_s.unsure;
        let if_settled = settled_by + settled.bound / settled.value;
        let gap_s = model.time_gap_s();
        let time_bin_s = |time_s: f64| TIME_BINS * time_s + gap_s;
        // The move of a long swing.
        let swing_deg = model.scenario.period_deg;
        let swing = PlannedMove::Move {
            via_deg: None,
            to_deg: swing_deg,
        };
        let swing_s = model.scenario.plant.duration_s(0.0, &swing);
        // A solve with its failed attempts, without its move.
        let solve = &model.scenario.solve;
        let failed = Failures::of(solve).mean;
        let failed_s = failed * solve.failed_attempt_s();
        let solves_s = share * (solve.good_attempt_s() + failed_s);
        let settle_time_s = (total.settled > 0.0).then(|| {
            let mean_s = total.settle_time_s / total.settled;
            // Of the runs that settle, whose number is missed a little as well.
            let missed_s = (missed.settled_moment_s + solves_s + share * mean_s) / total.settled;
            let beside_mean = |t: &Totals| (t.settle_time_s - mean_s * t.settled) / total.settled;
            let off_s = grids.off_by_solve(&beside_mean, missed_s);
            BoundedSpread {
                mean: unfollowed(Bounded::of(mean_s, off_s, longest), swing_s),
                quantiles: quantiles(
                    |f, share| f.settle_time_s.quantile(share),
                    if_settled,
                    &time_bin_s,
                ),
            }
        });
        let within = |f: &Figures, share: f64| {
            let settled = f.total().settled;
            f.settle_time_s.quantile((share / settled).min(1.0))
        };
        let mut settled_within_s = quantiles(within, settled_by, &time_bin_s);
        for (within, share) in settled_within_s.iter_mut().zip(SHARES) {
            *within = within.filter(|_| share <= total.settled);
        }
        let bin_deg = angle_bin_deg(model);
        let (gap_deg, kink_deg) = (model.gap_deg(), model.kink_gap_deg());
        let known = total.settled > 0.0 && fine.mean_true_error_deg >= 0.0;
        let true_error_deg = known.then(|| {
            let mean_deg = fine.mean_true_error_deg;
            let moved_deg = grids.moves(&|f| Some(f.mean_true_error_deg));
            let mut mean = Bounded::of(mean_deg, moved_deg, longest);
            let [off, off_deg] = fine.true_error_off;
            // What passes changes within a bin; and the error has a kink where it is zero.
            mean.bound += off_deg + mean_deg * off + bin_deg * model.precision.error_bin;
            mean.bound += kink_deg / 6.0 * fine.true_error_deg.share_below(2.0 * kink_deg);
            BoundedSpread {
                mean,
                quantiles: quantiles(
                    |f, share| f.true_error_deg.quantile(share),
                    if_settled + off + fine.true_error_deg.unsure,
                    &|_| bin_deg + gap_deg,
                ),
            }
        });
        Self {
            settled,
            unsettled: of(|t| t.unsettled),
            unsolved: of(|t| t.unsolved),
            refused: of(|t| t.refused),
            hunting: of(|t| t.hunting),
            stuck: of(|t| t.stuck),
            ended_badly: of(|t| t.ended_badly),
            keep_out: of(|t| t.keep_out),
            overwound: of(|t| t.overwound),
            settle_time_s,
            settled_within_s,
            true_error_deg,
            solves: counts(
                mean(|t| t.good_solves, share),
                |f, share| f.solves.quantile(share),
                |f| &f.solves_shares,
            ),
            long_swings: counts(
                mean(|t| t.added.long_swings, missed.added.long_swings),
                |f, share| f.long_swings.quantile(share),
                |f| &f.long_swings_shares,
            ),
            elapsed_s: unfollowed(
                mean(|t| t.elapsed_s, missed.added.time_s + solves_s),
                swing_s,
            ),
            failed_attempts: mean(|t| t.failed_attempts, share * failed),
            moves: mean(|t| t.added.moves, missed.added.moves),
            travel_deg: unfollowed(
                mean(|t| t.added.travel_deg, missed.added.travel_deg),
                swing_deg,
            ),
            outside_arc_deg: unfollowed(
                mean(|t| t.added.outside_arc_deg, missed.added.outside_arc_deg),
                swing_deg,
            ),
            keep_out_deg: unfollowed(
                mean(|t| t.added.keep_out_deg, missed.added.keep_out_deg),
                swing_deg,
            ),
            within_arc: wanted.is_some() && total.added.outside_arc_deg == 0.0,
            wanted: wanted.map(|wanted| {
                // Where nothing is ever corrected the drive stays where it first went.
                let at_deg = model.scenario.drive_angle_deg();
                if wanted.from_deg > wanted.to_deg {
                    AngleSpan::new(at_deg, at_deg)
                } else {
                    wanted
                }
            }),
            settled_shares: fine.settled_shares.clone(),
            solves_shares: fine.solves_shares.clone(),
            long_swings_shares: fine.long_swings_shares.clone(),
        }
    }
}
