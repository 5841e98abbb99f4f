//! The figures of a solution with the bounds of their errors.

use super::chain_model::ChainModel;
use super::figures::{Failures, Figures, SolvedSpread};
use super::gauss::beyond;
use super::missed::Missed;
use crate::angle::AngleSpan;

/// A figure, and how far a grid twice as fine may move it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bounded {
    /// The figure.
    pub value: f64,
    /// Bound of its error.
    pub bound: f64,
}

impl Bounded {
    /// `missed` is what the fine grid may miss of the figure.
    fn of(fine: f64, coarse: f64, missed: f64, floor: f64) -> Self {
        Self {
            value: fine,
            bound: SAFETY * (fine - coarse).abs().min(missed)
                + floor * (1.0 + fine.abs())
                + ROUNDING * fine.abs(),
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

/// Width of a bin of settle times, relative to the time.
const TIME_BIN: f64 = 1.0 / 512.0;

impl Solution {
    pub(super) fn of(
        model: &ChainModel,
        [fine, coarse]: &[Figures; 2],
        missed: Missed,
        wanted: Option<AngleSpan>,
    ) -> Self {
        // What was not followed, in tails and in masses too small, is missing in the sum of all probabilities.
        let missing = (1.0 - fine.solves_shares.iter().sum::<f64>()).abs();
        let unseen = 2.0 * beyond(model.precision.reach) + 10.0 * model.precision.least_mass;
        let floor = unseen + if missing > NOISE { missing } else { 0.0 };
        let Missed {
            share,
            added,
            settled_moment_s,
        } = missed;
        let of =
            |figure: fn(&Figures) -> f64| Bounded::of(figure(fine), figure(coarse), share, floor);
        // It may have gone on to the last solve.
        let solves = f64::from(model.scenario.brief.max_solves);
        let longest = floor * (1.0 + solves / fine.solves.mean.max(1.0));
        let mean = |figure: fn(&Figures) -> f64, missed: f64| {
            Bounded::of(figure(fine), figure(coarse), missed, longest)
        };
        let count = |figure: fn(&Figures) -> &SolvedSpread, missed: f64| {
            bounded([figure(fine), figure(coarse)], missed, longest, |_| 0.0)
        };
        let bin_deg = super::figures::angle_bin_deg(model);
        let quantile_deg = bin_deg + model.zero_spacing_deg + model.node_spacing_deg();
        let gap_s = model.time_gap_s();
        let time_bin_s = |time_s: f64| TIME_BIN * time_s + gap_s;
        let spread = |figure: fn(&Figures) -> Option<&SolvedSpread>,
                      missed: f64,
                      bin: &dyn Fn(f64) -> f64| {
            let pair = [figure(fine)?, figure(coarse)?];
            Some(bounded(pair, missed, longest, bin))
        };
        // A solve with its failed attempts, without its move.
        let solve = &model.scenario.solve;
        let failed = Failures::of(solve).mean;
        let failed_s = failed * (solve.exposure_s + solve.failure_s);
        let solves_s = share * (solve.exposure_s + solve.solve_s + failed_s);
        // Of the runs that settle, whose number is missed a little as well.
        let settle_s = fine.settle_time_s.map_or(0.0, |time| time.mean);
        let settle_missed_s = (settled_moment_s + solves_s + share * settle_s) / fine.settled;
        Self {
            settled: of(|f| f.settled),
            unsettled: of(|f| f.unsettled),
            unsolved: of(|f| f.unsolved),
            refused: of(|f| f.refused),
            hunting: of(|f| f.hunting),
            stuck: of(|f| f.stuck),
            ended_badly: of(|f| f.ended_badly),
            keep_out: of(|f| f.keep_out),
            overwound: of(|f| f.overwound),
            settle_time_s: spread(|f| f.settle_time_s.as_ref(), settle_missed_s, &time_bin_s),
            settled_within_s: [0, 1, 2].map(|i| {
                let (fine, coarse) = (fine.settled_within_s[i]?, coarse.settled_within_s[i]?);
                let mut quantile = Bounded::of(fine, coarse, f64::INFINITY, longest);
                quantile.bound += time_bin_s(fine);
                Some(quantile)
            }),
            true_error_deg: spread(|f| f.true_error_deg.as_ref(), f64::INFINITY, &|_| {
                quantile_deg
            })
            .map(|mut error| {
                // What passes changes within a bin.
                error.mean.bound += bin_deg * model.precision.error_bin;
                error
            }),
            solves: count(|f| &f.solves, share),
            long_swings: count(|f| &f.long_swings, added.long_swings),
            elapsed_s: mean(|f| f.elapsed_s, added.time_s + solves_s),
            failed_attempts: mean(|f| f.failed_attempts, share * failed),
            moves: mean(|f| f.added.moves, added.moves),
            travel_deg: mean(|f| f.added.travel_deg, added.travel_deg),
            outside_arc_deg: mean(|f| f.added.outside_arc_deg, added.outside_arc_deg),
            keep_out_deg: mean(|f| f.added.keep_out_deg, added.keep_out_deg),
            within_arc: wanted.is_some() && fine.added.outside_arc_deg == 0.0,
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

fn bounded(
    [fine, coarse]: [&SolvedSpread; 2],
    missed: f64,
    floor: f64,
    bin: impl Fn(f64) -> f64,
) -> BoundedSpread {
    let pairs = [0, 1, 2].map(|i| (fine.quantiles[i], coarse.quantiles[i]));
    BoundedSpread {
        mean: Bounded::of(fine.mean, coarse.mean, missed, floor),
        quantiles: pairs.map(|(fine, coarse)| {
            let (fine, coarse) = (fine?, coarse?);
            let mut quantile = Bounded::of(fine, coarse, f64::INFINITY, floor);
            quantile.bound += bin(fine);
            Some(quantile)
        }),
    }
}
