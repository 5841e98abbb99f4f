//! Tally -> summary: rates, means and quantiles with their intervals.

pub(crate) mod distribution;
mod exact;
mod exact_details;
mod in_time;
mod interval;
mod pair;
mod rate;

pub use exact_details::ExactDetails;
pub use in_time::SettledBy;
pub use interval::{CONFIDENCE, Interval, mean_interval, quantile_ranks, wilson};
pub use pair::{PairSummary, PairedDifference, RuleTally};
pub use rate::Rate;

use serde::Serialize;

use crate::angle::AngleSpan;
use crate::rig::Rule;
use crate::scenario::Policy;
use crate::tally::{Counts, Histogram, Moments, Spread, Tally};

/// Mean and quantiles of one figure. From runs, each has a 95 % interval; with the exact method, bounds of its error.
/// A value is `None` if too few runs give it or the exact method does not find it. A quantile of the settle time
/// counts all runs, and is `None` if that share of them never settles.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Distribution {
    /// Number of runs that count; 0 with the exact method.
    pub n: u64,
    /// Mean.
    pub mean: Option<f64>,
    /// Lower end of the interval (normal theory) or bound of the mean.
    pub mean_low: Option<f64>,
    /// Upper end.
    pub mean_high: Option<f64>,
    /// Standard deviation between runs; `None` with the exact method.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub sd: Option<f64>,
    /// Median.
    pub p50: Option<f64>,
    /// Lower end of the interval (order statistics) or bound.
    pub p50_low: Option<f64>,
    /// Upper end.
    pub p50_high: Option<f64>,
    /// 90 % quantile.
    pub p90: Option<f64>,
    /// Lower end of the interval (order statistics) or bound.
    pub p90_low: Option<f64>,
    /// Upper end.
    pub p90_high: Option<f64>,
    /// 99 % quantile.
    pub p99: Option<f64>,
    /// Lower end of the interval (order statistics) or bound.
    pub p99_low: Option<f64>,
    /// Upper end.
    pub p99_high: Option<f64>,
}

impl Distribution {
    /// The distribution of a tallied figure.
    #[must_use]
    pub fn of(spread: &Spread) -> Self {
        Self::from_parts(
            &spread.moments(),
            &spread.histogram(),
            &Ranks::of(spread.count()),
        )
    }

    /// The distribution of a tallied whole number.
    #[must_use]
    pub fn of_counts(counts: &Counts) -> Self {
        let moments = counts.moments();
        let ranks = Ranks::of(moments.count());
        Self::from_parts(&moments, &counts.histogram(), &ranks)
    }

    fn from_parts(moments: &Moments, histogram: &Histogram, ranks: &Ranks) -> Self {
        let interval = mean_interval(moments);
        let quantile = |(q, bounds): (f64, Option<(u64, u64)>)| {
            (
                histogram.ranked(ranks.quantile(q)),
                bounds.and_then(|(low, _)| histogram.ranked(low)),
                bounds.and_then(|(_, high)| histogram.ranked(high)),
            )
        };
        let [p50, p90, p99] = ranks.quantiles.map(quantile);
        let (p50, p50_low, p50_high) = p50;
        let (p90, p90_low, p90_high) = p90;
        let (p99, p99_low, p99_high) = p99;
        Self {
            n: moments.count(),
            mean: moments.mean(),
            mean_low: interval.map(|i| i.low),
            mean_high: interval.map(|i| i.high),
            sd: moments.deviation(),
            p50,
            p50_low,
            p50_high,
            p90,
            p90_low,
            p90_high,
            p99,
            p99_low,
            p99_high,
        }
    }
}

/// The quantiles to show, and the ranks that bound each of them for `n` values.
struct Ranks {
    n: u64,
    quantiles: [(f64, Option<(u64, u64)>); 3],
}

impl Ranks {
    fn of(n: u64) -> Self {
        Self {
            n,
            quantiles: [0.5, 0.9, 0.99].map(|q| (q, quantile_ranks(q, n))),
        }
    }

    /// The rank of a quantile in `(0, 1]`. The least value has rank 1.
    fn quantile(&self, q: f64) -> u64 {
        ((q * self.n as f64).ceil() as u64).max(1)
    }
}

/// The figures of one policy at one target.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PolicySummary {
    /// The rule.
    pub rule: Rule,
    /// Number of orientations in a turn that frame the same field.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, 2, 4])))]
    pub symmetry: u32,
    /// Where the arc starts \[deg\].
    pub arc_start_deg: f64,
    /// How the figures were found: `monte-carlo` or `exact`.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["exact", "monte-carlo"])))]
    pub method: &'static str,
    /// Runs; 0 with the exact method.
    pub trials: u64,
    /// Runs that settled.
    pub settled: Rate,
    /// Runs with two or more long swings.
    pub hunting: Rate,
    /// Runs that used up their good solves.
    pub unsettled: Rate,
    /// Runs that ended on too many failed solves in a row.
    pub unsolved: Rate,
    /// Runs with a command outside the stops.
    pub refused: Rate,
    /// Runs that used up their good solves with at most one long swing.
    #[serde(skip)]
    pub stuck: Rate,
    /// Runs with one long swing or more.
    #[serde(skip)]
    pub swinging: Rate,
    /// Runs that turned through a keep-out.
    #[serde(skip)]
    pub keep_out: Rate,
    /// Runs that wound the cable too far.
    #[serde(skip)]
    pub overwound: Rate,
    /// Runs that hunt, do not settle, turn through a keep-out, or wind the cable too far.
    #[serde(skip)]
    pub ended_badly: Rate,
    /// Runs that settled, by their number of good solves.
    #[serde(skip)]
    pub settled_by: SettledBy,
    /// Elapsed time \[s\]: the mean over settled runs, quantiles over all runs.
    pub settle_time_s: Distribution,
    /// Elapsed time of all runs \[s\].
    pub elapsed_s: Distribution,
    /// Good solves of a run.
    pub solves: Distribution,
    /// Failed attempts to solve in a run.
    pub failed_attempts: Distribution,
    /// Commands after which the reading had changed.
    pub moves: Distribution,
    /// Long swings of a run.
    pub long_swings: Distribution,
    /// Degrees turned in a run.
    pub travel_deg: Distribution,
    /// Largest distance of a reading from the parking reading \[deg\].
    pub winding_deg: Distribution,
    /// True error of settled runs \[deg\].
    pub true_error_deg: Distribution,
    /// Degrees turned outside the arc in a run.
    pub outside_arc_deg: Distribution,
    /// Degrees turned inside keep-outs in a run.
    pub keep_out_deg: Distribution,
    /// The angles to which corrections go \[deg\], if the exact method finds that none leaves the arc.
    #[serde(skip)]
    pub wanted: Option<AngleSpan>,
    /// Number of the first run with two or more long swings, for a replay; `None` without one and with the exact
    /// method.
    pub first_hunting_trial: Option<u64>,
    /// What only the exact method finds; `None` for runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "ExactDetails"))]
    pub exact: Option<ExactDetails>,
}

impl PolicySummary {
    /// The same figures under the name of another policy that behaves alike.
    #[must_use]
    pub(crate) fn under(mut self, policy: Policy) -> Self {
        self.rule = policy.rule;
        self.symmetry = policy.symmetry;
        self.arc_start_deg = policy.arc_start_deg;
        self
    }

    /// The summary of a tally.
    #[must_use]
    pub fn of(policy: Policy, tally: &Tally) -> Self {
        let rate = |count| Rate::of(count, tally.trials);
        let (every_run, settled_runs) = (Ranks::of(tally.trials), Ranks::of(tally.settled));
        let of = |spread: &Spread, ranks| {
            Distribution::from_parts(&spread.moments(), &spread.histogram(), ranks)
        };
        let all = |spread| of(spread, &every_run);
        let settled = |spread| of(spread, &settled_runs);
        let solves = tally.solves();
        let counts = |counts: &Counts| {
            Distribution::from_parts(&counts.moments(), &counts.histogram(), &every_run)
        };
        Self {
            rule: policy.rule,
            symmetry: policy.symmetry,
            arc_start_deg: policy.arc_start_deg,
            method: "monte-carlo",
            trials: tally.trials,
            settled: rate(tally.settled),
            hunting: rate(tally.hunting),
            unsettled: rate(tally.unsettled),
            unsolved: rate(tally.unsolved),
            refused: rate(tally.refused),
            stuck: rate(tally.stuck),
            swinging: rate(tally.swinging),
            keep_out: rate(tally.keep_out),
            overwound: rate(tally.overwound),
            ended_badly: rate(tally.ended_badly),
            settled_by: SettledBy::Runs {
                solves: tally.settled_solves.clone(),
                trials: tally.trials,
            },
            settle_time_s: all(&tally.settle_time_s),
            elapsed_s: all(&tally.elapsed_s()),
            solves: counts(&solves),
            failed_attempts: counts(&tally.failed_attempts),
            moves: counts(&tally.moves),
            long_swings: counts(&tally.long_swings),
            travel_deg: all(&tally.travel_deg),
            winding_deg: all(&tally.winding_deg),
            true_error_deg: settled(&tally.true_error_deg),
            outside_arc_deg: all(&tally.outside_arc_deg),
            keep_out_deg: all(&tally.keep_out_deg),
            first_hunting_trial: tally.first_hunting,
            wanted: None,
            exact: None,
        }
    }
}
