//! Exact solution -> summary: the same figures, with bounds in place of intervals.

use super::exact_details::ExactDetails;
use super::{Distribution, PolicySummary, Rate, SettledBy};
use crate::exact::{Bounded, BoundedSpread, LongRun, Solution};
use crate::scenario::Policy;

impl Rate {
    /// A probability with its bounds, all kept within 0 and 1. Rounding may take the sum behind it beyond.
    #[must_use]
    pub fn bounded(p: Bounded) -> Self {
        Self {
            rate: p.value.clamp(0.0, 1.0),
            low: (p.value - p.bound).max(0.0),
            high: (p.value + p.bound).min(1.0),
        }
    }
}

impl Distribution {
    /// A mean with its bounds.
    #[must_use]
    pub fn bounded_mean(mean: Bounded) -> Self {
        Self {
            mean: Some(mean.value),
            mean_low: Some(mean.value - mean.bound),
            mean_high: Some(mean.value + mean.bound),
            ..Self::default()
        }
    }

    /// A mean without error.
    #[must_use]
    pub(crate) fn certain_mean(value: f64) -> Self {
        Self::bounded_mean(Bounded { value, bound: 0.0 })
    }

    /// A mean and quantiles with their bounds.
    #[must_use]
    pub fn bounded(spread: &BoundedSpread) -> Self {
        let [p50, p90, p99] = spread.quantiles;
        let value = |q: Option<Bounded>| q.map(|q| q.value);
        let low = |q: Option<Bounded>| q.map(|q| q.value - q.bound);
        let high = |q: Option<Bounded>| q.map(|q| q.value + q.bound);
        Self {
            p50: value(p50),
            p50_low: low(p50),
            p50_high: high(p50),
            p90: value(p90),
            p90_low: low(p90),
            p90_high: high(p90),
            p99: value(p99),
            p99_low: low(p99),
            p99_high: high(p99),
            ..Self::bounded_mean(spread.mean)
        }
    }
}

/// Probabilities, kept within 0 and 1.
fn shares(sums: &[f64]) -> Vec<f64> {
    sums.iter().map(|p| p.clamp(0.0, 1.0)).collect()
}

/// The settle time: the mean over settled runs, quantiles over all runs.
fn within(solution: &Solution) -> Distribution {
    let Some(settled) = &solution.settle_time_s else {
        return Distribution::default();
    };
    Distribution::bounded(&BoundedSpread {
        mean: settled.mean,
        quantiles: solution.settled_within_s,
    })
}

/// Runs with a long swing: all but those with none.
fn swinging(solution: &Solution) -> Rate {
    let none = solution.long_swings_shares.first().copied().unwrap_or(1.0);
    Rate::bounded(Bounded {
        value: (1.0 - none).max(0.0),
        bound: solution.settled.bound,
    })
}

impl PolicySummary {
    /// The summary of an exact solution: no runs, and bounds of the method's error in place of intervals. It has no
    /// winding, which depends on the whole past of a run, and no quantiles where only the mean is known.
    #[must_use]
    pub fn exact(policy: Policy, solution: &Solution, long_run: Option<LongRun>) -> Self {
        let spread = |spread: &Option<BoundedSpread>| {
            spread
                .as_ref()
                .map_or_else(Distribution::default, Distribution::bounded)
        };
        Self {
            rule: policy.rule,
            symmetry: policy.symmetry,
            arc_start_deg: policy.arc_start_deg,
            method: "exact",
            trials: 0,
            settled: Rate::bounded(solution.settled),
            hunting: Rate::bounded(solution.hunting),
            unsettled: Rate::bounded(solution.unsettled),
            unsolved: Rate::bounded(solution.unsolved),
            refused: Rate::bounded(solution.refused),
            stuck: Rate::bounded(solution.stuck),
            swinging: swinging(solution),
            keep_out: Rate::bounded(solution.keep_out),
            overwound: Rate::bounded(solution.overwound),
            ended_badly: Rate::bounded(solution.ended_badly),
            settled_by: SettledBy::Exact {
                shares: solution.settled_shares.clone(),
                bound: solution.settled.bound,
            },
            settle_time_s: within(solution),
            elapsed_s: Distribution::bounded_mean(solution.elapsed_s),
            solves: Distribution::bounded(&solution.solves),
            failed_attempts: Distribution::bounded_mean(solution.failed_attempts),
            moves: Distribution::bounded_mean(solution.moves),
            long_swings: Distribution::bounded(&solution.long_swings),
            travel_deg: Distribution::bounded_mean(solution.travel_deg),
            winding_deg: Distribution::default(),
            true_error_deg: spread(&solution.true_error_deg),
            outside_arc_deg: Distribution::bounded_mean(solution.outside_arc_deg),
            keep_out_deg: Distribution::bounded_mean(solution.keep_out_deg),
            wanted: solution.wanted,
            first_hunting_trial: None,
            exact: Some(ExactDetails {
                stuck: Rate::bounded(solution.stuck),
                ended_badly: Rate::bounded(solution.ended_badly),
                keep_out: Rate::bounded(solution.keep_out),
                solves_shares: shares(&solution.solves_shares),
                long_swings_shares: shares(&solution.long_swings_shares),
                long_run,
            }),
        }
    }
}
