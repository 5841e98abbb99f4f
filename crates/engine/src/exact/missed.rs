//! What a grid of zero points may miss, from the difference to every second one of them.

use super::sums::{SolveSums, Sums};
use super::transition::Added;

/// What the fine grid may miss; infinite where that is not known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Missed {
    /// Of all probabilities together.
    pub(super) share: f64,
    /// Of what the commands add.
    pub(super) added: Added,
    /// Of the time of the commands of settled runs, times probability \[s\].
    pub(super) settled_moment_s: f64,
}

impl Missed {
    pub(super) const UNKNOWN: Self = Self {
        share: f64::INFINITY,
        added: Added {
            moves: f64::INFINITY,
            long_swings: f64::INFINITY,
            travel_deg: f64::INFINITY,
            outside_arc_deg: f64::INFINITY,
            keep_out_deg: f64::INFINITY,
            time_s: f64::INFINITY,
        },
        settled_moment_s: f64::INFINITY,
    };

    /// From the sums over three grids, the finest first, each with half of the zero points of the one before: the next
    /// step towards finer ones shrinks by no less than the last one did. `docs/exact.md` says why.
    pub(super) fn of(grids: [&Sums; 3]) -> Self {
        let of = |figure: fn(&SolveSums) -> f64| {
            next_step(grids.map(|sums| sums.steps.iter().map(figure)))
        };
        Self {
            share: next_step(grids.map(shares)),
            added: Added {
                moves: of(|s| s.added.moves),
                long_swings: of(|s| s.added.long_swings),
                travel_deg: of(|s| s.added.travel_deg),
                outside_arc_deg: of(|s| s.added.outside_arc_deg),
                keep_out_deg: of(|s| s.added.keep_out_deg),
                time_s: of(|s| s.added.time_s),
            },
            settled_moment_s: of(|s| s.settled_moment_s),
        }
    }
}

/// Bound of the next step of all parts together.
fn next_step<P: Iterator<Item = f64>>([fine, coarse, coarser]: [P; 3]) -> f64 {
    let of_part = |((fine, coarse), coarser): ((f64, f64), f64)| {
        let (last, before) = ((fine - coarse).abs(), (coarse - coarser).abs());
        if last < before {
            last * last / before
        } else {
            last
        }
    };
    // A coarser grid may end at an earlier solve.
    let [coarse, coarser] = [coarse, coarser].map(|parts| parts.chain(std::iter::repeat(0.0)));
    fine.zip(coarse).zip(coarser).map(of_part).sum()
}

/// What the probabilities are sums of: runs before a solve, and what becomes of them, by long swings.
fn shares(sums: &Sums) -> impl Iterator<Item = f64> + '_ {
    sums.steps.iter().flat_map(|step| {
        let SolveSums {
            running,
            settled,
            unsettled,
            refused,
            second_swing,
            first_crossing,
            first_winding,
            ..
        } = step;
        let by_swings = [running, settled, unsettled, refused].into_iter().flatten();
        let once = [second_swing, first_crossing, first_winding];
        by_swings.chain(once).copied()
    })
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{ContinuousCDF, Normal};

    use super::super::gauss::density;
    use super::super::solution::SAFETY;
    use super::*;

    /// Runs that a first solve of noise 0.03 accepts within 0.3 about a target that is off by `off_deg`, at zero points of
    /// spread 0.5, and the rest: their sums over a grid of zero points.
    fn first_solve(spacing_deg: f64, off_deg: f64) -> Sums {
        let noise = Normal::new(0.0, 0.03).expect("a spread");
        let mut sums = Sums::new(0);
        let far = (5.0 / spacing_deg).ceil() as i64;
        for i in -far..=far {
            let zero_deg = i as f64 * spacing_deg;
            let passes = noise.cdf(zero_deg + off_deg + 0.3) - noise.cdf(zero_deg + off_deg - 0.3);
            let weight = spacing_deg / 0.5 * density(zero_deg / 0.5);
            sums.step(1).settled[0] += weight * passes;
            sums.step(1).unsettled[0] += weight * (1.0 - passes);
        }
        sums
    }

    /// Shows (exact): what a grid of zero points misses is bounded from two coarser ones. Source: the sum of two normal
    /// errors, tails of statrs.
    #[test]
    fn the_first_solve_is_off_by_less_than_what_is_missed() {
        let both = Normal::new(0.0, libm::hypot(0.03, 0.5)).expect("a spread");
        for k in 0..40 {
            let off_deg = 0.025 * f64::from(k);
            let known = both.cdf(off_deg + 0.3) - both.cdf(off_deg - 0.3);
            for spacing_deg in [0.021, 0.03, 0.042, 0.06] {
                let grids = [1.0, 2.0, 4.0].map(|every| first_solve(every * spacing_deg, off_deg));
                let [fine, coarse, coarser] = &grids;
                let missed = Missed::of([fine, coarse, coarser]).share;
                let error = (fine.steps[0].settled[0] - known).abs();
                // Rounding of the sums, and of the tails.
                let bound = SAFETY * missed + 1e-11;
                assert!(
                    error <= bound,
                    "{off_deg} {spacing_deg}: {error:e} {bound:e}"
                );
            }
        }
    }
}
