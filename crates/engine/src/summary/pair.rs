//! Paired differences -> means with intervals, next to the intervals of independent runs.

use serde::Serialize;

use super::interval::{Interval, half_width, mean_interval};
use crate::rig::Rule;
use crate::tally::{Moments, PairTally, Tally};

/// The mean difference of two policies on the same random streams, with its 95 % normal-theory interval. It also has
/// the interval that as many independent runs of both would give. An interval is `None` below two runs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PairedDifference {
    /// Mean; `None` without runs.
    pub mean: Option<f64>,
    /// Lower end of the paired interval.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Lower end without pairing.
    pub unpaired_low: Option<f64>,
    /// Upper end.
    pub unpaired_high: Option<f64>,
    /// Width without pairing over width with pairing; `None` if a width is missing or zero.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub tighter: Option<f64>,
}

impl PairedDifference {
    fn of(pair: &Moments, first: &Moments, second: &Moments) -> Self {
        let paired = mean_interval(pair);
        let mean = pair.mean();
        let unpaired = half_width(first)
            .zip(half_width(second))
            .zip(mean)
            .map(|((a, b), mean)| {
                let half = libm::hypot(a, b);
                Interval {
                    low: mean - half,
                    high: mean + half,
                }
            });
        let width = |i: Interval| i.high - i.low;
        let tighter = unpaired
            .zip(paired)
            .map(|(unpaired, paired)| width(unpaired) / width(paired))
            .filter(|ratio| ratio.is_finite() && *ratio > 0.0);
        Self {
            mean,
            low: paired.map(|i| i.low),
            high: paired.map(|i| i.high),
            unpaired_low: unpaired.map(|i| i.low),
            unpaired_high: unpaired.map(|i| i.high),
            tighter,
        }
    }
}

/// How one rule differs from another at the same target, run by run: `rule` minus `against`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PairSummary {
    /// The rule.
    pub rule: Rule,
    /// The other rule.
    pub against: Rule,
    /// Share of runs that hunt.
    pub hunting: PairedDifference,
    /// Share of runs that settle.
    pub settled: PairedDifference,
    /// Elapsed time, settled or not \[s\].
    pub elapsed_s: PairedDifference,
    /// Good solves.
    pub solves: PairedDifference,
    /// Degrees turned.
    pub travel_deg: PairedDifference,
}

/// The runs of one rule.
#[derive(Debug, Clone, Copy)]
pub struct RuleTally<'a> {
    /// The rule.
    pub rule: Rule,
    /// Its runs.
    pub tally: &'a Tally,
}

impl PairSummary {
    /// The differences of `second` from `first`.
    #[must_use]
    pub fn of(first: RuleTally<'_>, second: RuleTally<'_>, pair: &PairTally) -> Self {
        let (a, b) = (first.tally, second.tally);
        let flags = |count: u64, of: &Tally| {
            let mut moments = Moments::default();
            moments.push_many(0.0, of.trials - count);
            moments.push_many(1.0, count);
            moments
        };
        Self {
            rule: second.rule,
            against: first.rule,
            hunting: PairedDifference::of(
                &pair.hunting,
                &flags(a.hunting, a),
                &flags(b.hunting, b),
            ),
            settled: PairedDifference::of(
                &pair.settled,
                &flags(a.settled, a),
                &flags(b.settled, b),
            ),
            elapsed_s: PairedDifference::of(
                &pair.elapsed_s,
                &a.elapsed_s().moments(),
                &b.elapsed_s().moments(),
            ),
            solves: PairedDifference::of(
                &pair.solves,
                &a.solves().moments(),
                &b.solves().moments(),
            ),
            travel_deg: PairedDifference::of(
                &pair.travel_deg,
                &a.travel_deg.moments(),
                &b.travel_deg.moments(),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Variances of independent means add: deviations of 3 and 4 make one of 5 (by hand).
    #[test]
    fn unpaired_deviations_add_at_right_angles() {
        let of = |spread: f64| {
            let mut moments = Moments::default();
            moments.push(-spread);
            moments.push(spread);
            moments
        };
        let found = PairedDifference::of(&of(1.0), &of(3.0), &of(4.0));
        let half = half_width(&of(5.0)).expect("two values");
        assert!((found.unpaired_high.expect("a width") - half).abs() < 1e-12);
        assert!((found.tighter.expect("a ratio") - 5.0).abs() < 1e-12);
    }
}
