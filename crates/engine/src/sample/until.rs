//! As many runs as a wanted precision needs.
//!
//! Stopping as soon as an ordinary 95 % interval looks narrow would miss the truth in more than 5 % of all cases.
//! Instead, look number `k` uses an exact interval (Clopper & Pearson 1934, Biometrika 26, 404) at the error
//! probability `0.05 / (k (k + 1))`. These add up to at most 0.05 for any number of looks. By Bonferroni's inequality
//! all intervals of all looks hold together with 95 % confidence, and so does the last, whenever the sampling stops.
//! This is alpha spending in the manner of Lan & DeMets (1983), Biometrika 70, 659.

use super::batch::{Batch, Comparison, Monitor, compare_from};
use crate::scenario::Scenario;
use crate::summary::distribution::beta_quantile;
use crate::summary::{CONFIDENCE, Interval};

/// Runs at the first look. Every further look doubles them.
const FIRST_LOOK: u64 = 16_384;

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Until {
    /// Wanted half width of the interval of the hunting rate, for every policy.
    pub half_width: f64,
}

/// Runs several scenarios until the hunting rate of each is known to the wanted precision, or all runs of the batch
/// are used. Returns the runs and the interval of each rate. The interval is valid although the sampling stopped when
/// it was narrow.
#[must_use]
pub fn compare_until(
    scenarios: &[Scenario],
    batch: Batch,
    until: Until,
    monitor: &dyn Monitor,
) -> (Comparison, Vec<Interval>) {
    let mut all = compare_from(scenarios, 0, Batch { trials: 0, ..batch }, monitor);
    let mut look = 0;
    loop {
        let wanted = FIRST_LOOK
            .saturating_mul(1 << look.min(40))
            .min(batch.trials);
        let step = Batch {
            trials: wanted - all.trials(),
            ..batch
        };
        all.merge(&compare_from(scenarios, all.trials(), step, monitor));
        look += 1;
        let intervals: Vec<Interval> = all
            .tallies
            .iter()
            .map(|t| exact_interval(t.hunting, t.trials, error_at(look)))
            .collect();
        let narrow = |i: &Interval| 0.5 * (i.high - i.low) <= until.half_width;
        let short = all.trials() < wanted; // cancelled
        if intervals.iter().all(narrow) || wanted == batch.trials || short {
            return (all, intervals);
        }
    }
}

/// Error probability of look number `look`, counted from 1.
fn error_at(look: u32) -> f64 {
    let k = f64::from(look);
    (1.0 - CONFIDENCE) / (k * (k + 1.0))
}

/// The interval of Clopper & Pearson for a rate. It misses the rate with at most the probability `error`.
fn exact_interval(count: u64, trials: u64, error: f64) -> Interval {
    let (k, n) = (count as f64, trials as f64);
    Interval {
        low: if count == 0 {
            0.0
        } else {
            beta_quantile(k, n - k + 1.0, 0.5 * error)
        },
        high: if count == trials {
            1.0
        } else {
            beta_quantile(k + 1.0, n - k, 1.0 - 0.5 * error)
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::read;
    use crate::sample::Unattended;
    use crate::scenario::Policy;

    /// 81/263 and 15/148.
    /// Shows (files): `--half-width`: intervals of all looks hold together. With:
    /// `the_errors_of_all_looks_add_up_to_five_percent`, `wrong_use::a_precision_that_is_not_reached_is_told`. Source:
    /// Newcombe 1998, Statistics in Medicine 17, 857, table I, method 5; Clopper & Pearson 1934; Lan & DeMets 1983.
    #[test]
    fn exact_intervals_of_newcombes_examples() {
        for (count, trials, low, high) in [
            (81, 263, 0.2527, 0.3676),
            (15, 148, 0.0578, 0.1617),
            (0, 20, 0.0, 0.1684),
            (1, 29, 0.0009, 0.1776),
        ] {
            let found = exact_interval(count, trials, 0.05);
            assert!((found.low - low).abs() < 5e-5, "{found:?}");
            assert!((found.high - high).abs() < 5e-5, "{found:?}");
        }
    }

    #[test]
    fn the_errors_of_all_looks_add_up_to_five_percent() {
        let sum: f64 = (1..100_000).map(error_at).sum();
        assert!(sum < 0.05 && sum > 0.0499);
    }

    #[test]
    fn it_stops_when_the_interval_is_narrow_and_not_before() {
        let keys = [
            "drive.periodic=[{cycles=1,amplitude_deg=0.15,phase_deg=90}]",
            "loop.tolerance_deg=0.3",
        ];
        let rig = read("", "test", &keys.map(str::to_owned)).expect("a valid rig");
        let scenario = [Scenario::new(&rig, Policy::of(&rig), 0.0)];
        let batch = Batch {
            trials: 1_000_000,
            seed: 1,
        };
        let run = |half_width| compare_until(&scenario, batch, Until { half_width }, &Unattended);
        let (coarse, interval) = run(0.01);
        assert_eq!(coarse.trials(), FIRST_LOOK);
        assert!(interval[0].high - interval[0].low <= 0.02);
        let (fine, interval) = run(0.003);
        assert!(interval[0].high - interval[0].low <= 0.006);
        assert!(fine.trials() > coarse.trials() && fine.trials() < batch.trials);
        assert_eq!(run(1e-6).0.trials(), batch.trials);
    }
}
