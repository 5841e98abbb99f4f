//! Which error tells the rigs for which an advice fails from those for which it holds: rank sums (Mann & Whitney
//! 1947, Ann. Math. Stat. 18, 50).

use serde::Serialize;

use super::draws::{Drawn, NAMES};

/// Deviations from here on are no chance: 1 in 1000 for each of twice nine comparisons would be 4.
const BEYOND_CHANCE: f64 = 4.0;

/// Fewest rigs on either side that are compared.
const FEWEST: usize = 5;

/// An error that is different where the advice fails.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Driver {
    /// The error.
    pub what: &'static str,
    /// Its unit, empty where it has none.
    pub unit: &'static str,
    /// The distance from the estimate, to either side, differs; else the value itself.
    pub by_distance: bool,
    /// Median where the advice fails.
    pub failing: f64,
    /// Median where it holds.
    pub holding: f64,
    /// Chance that it is the larger one in a failing rig, beside one that holds.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub larger_chance: f64,
}

/// The errors that differ beyond chance, the one that tells most first. `fitted` are those of the estimate.
pub(super) fn drivers(drawn: &[Drawn], failed: &[bool], fitted: &[f64]) -> Vec<Driver> {
    let mut found = Vec::new();
    for (k, (what, unit)) in NAMES.into_iter().enumerate() {
        let by_value = compare(drawn, failed, |d| d.errors[k]);
        let by_distance = compare(drawn, failed, |d| (d.errors[k] - fitted[k]).abs());
        let strength = |c: &Option<Compared>| c.as_ref().map_or(0.0, |c| c.deviations.abs());
        let distance = strength(&by_distance) > strength(&by_value);
        let Some(c) = (if distance { by_distance } else { by_value }) else {
            continue;
        };
        if c.deviations.abs() >= BEYOND_CHANCE {
            let driver = Driver {
                what,
                unit,
                by_distance: distance,
                failing: c.failing,
                holding: c.holding,
                larger_chance: c.larger_chance,
            };
            found.push((c.deviations.abs(), driver));
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, driver)| driver).collect()
}

struct Compared {
    failing: f64,
    holding: f64,
    larger_chance: f64,
    /// The rank sum's distance from its mean, in standard deviations.
    deviations: f64,
}

/// `None` where there are too few rigs on a side.
fn compare(drawn: &[Drawn], failed: &[bool], value: impl Fn(&Drawn) -> f64) -> Option<Compared> {
    let side = |which: bool| -> Vec<f64> {
        let mut side: Vec<f64> = drawn
            .iter()
            .zip(failed)
            .filter(|(_, f)| **f == which)
            .map(|(d, _)| value(d))
            .collect();
        side.sort_by(f64::total_cmp);
        side
    };
    rank_sum(&side(true), &side(false))
}

/// Compares two sorted lists.
fn rank_sum(failing: &[f64], holding: &[f64]) -> Option<Compared> {
    if failing.len().min(holding.len()) < FEWEST {
        return None;
    }
    // Ties count half; the variance without them is too large then, which errs on the side of chance.
    let larger: f64 = failing
        .iter()
        .map(|x| {
            let below = holding.partition_point(|y| y < x);
            let up_to = holding.partition_point(|y| y <= x);
            0.5 * (below + up_to) as f64
        })
        .sum();
    let (n, m) = (failing.len() as f64, holding.len() as f64);
    let median = |side: &[f64]| 0.5 * (side[(side.len() - 1) / 2] + side[side.len() / 2]);
    Some(Compared {
        failing: median(failing),
        holding: median(holding),
        larger_chance: larger / (n * m),
        deviations: (larger - 0.5 * n * m) / (n * m * (n + m + 1.0) / 12.0).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::rank_sum;

    /// The lists 1, 4, 5, 7, 9 and 2, 3, 6, 8, 10, 11: 0 + 2 + 2 + 3 + 4 pairs in which the first is larger, of 30;
    /// mean 15, variance 30 * 12 / 12.
    /// Shows (advice 8): what decides whether an advice holds, by rank sums. Source: Mann & Whitney 1947, by hand.
    #[test]
    fn the_rank_sum_is_that_of_mann_and_whitney() {
        let found = rank_sum(
            &[1.0, 4.0, 5.0, 7.0, 9.0],
            &[2.0, 3.0, 6.0, 8.0, 10.0, 11.0],
        );
        let found = found.expect("enough on either side");
        assert_eq!(found.larger_chance, 11.0 / 30.0);
        assert!((found.deviations - (11.0 - 15.0) / 30.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!((found.failing, found.holding), (5.0, 7.0));
        let ties = rank_sum(&[1.0; 5], &[1.0; 5]).expect("enough on either side");
        assert_eq!((ties.larger_chance, ties.deviations), (0.5, 0.0));
        assert!(rank_sum(&[1.0; 4], &[1.0; 50]).is_none());
    }
}
