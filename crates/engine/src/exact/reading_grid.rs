//! Where readings can stand: the lattice of the drive's steps, or panels of quadrature nodes.

use super::gauss::{Ladder, PieceEnd, between, density};
use super::legendre::Legendre;
use crate::angle::AngleSpan;

/// A normal density of goals, and the mass that it carries.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bell {
    pub(super) mean_deg: f64,
    pub(super) sigma_deg: f64,
    pub(super) mass: f64,
    /// Of a ladder with the steps of the drive.
    pub(super) bend: f64,
}

/// A density of goals between two cuts \[deg\], each with its tail where that is known already.
#[derive(Debug, Clone, Copy)]
pub(super) struct Goals {
    pub(super) bell: Bell,
    pub(super) cuts: AngleSpan,
    pub(super) ends: [Option<PieceEnd>; 2],
}

/// Number of a place in its net; equal numbers are equal readings.
pub(super) type Number = i64;

/// The places that goals are gathered in.
#[derive(Debug, Clone)]
pub(super) enum ReadingGrid {
    /// Every multiple of the step: nothing is approximated.
    Lattice {
        /// \[deg\]
        step_deg: f64,
    },
    /// Panels of equal width with Gauss-Legendre nodes in each. What comes into a panel is given to its nodes so
    /// that its moments are kept; cuts may lie anywhere.
    Panels {
        /// Width of a panel \[deg\].
        width_deg: f64,
        /// The rule in each panel.
        rule: Legendre,
        /// A fine step of the drive, whose rounding widens the density \[deg\]; 0 for none.
        step_deg: f64,
    },
}

impl ReadingGrid {
    /// Gathers goals, as far from their mean as `reach` is, and hands on number, reading \[deg\] and mass of every place.
    pub(super) fn gather(
        &self,
        goals: Goals,
        reach: PieceEnd,
        mut to: impl FnMut(Number, f64, f64),
    ) {
        let Goals { bell, cuts, ends } = goals;
        let sigmas = |x: f64| (x - bell.mean_deg) / bell.sigma_deg;
        let span = reach.sigmas() * bell.sigma_deg;
        let low = cuts.from_deg.max(bell.mean_deg - span);
        let high = cuts.to_deg.min(bell.mean_deg + span);
        if low >= high {
            return;
        }
        match self {
            Self::Lattice { step_deg } => {
                let end = |cut_deg: f64, known: Option<PieceEnd>| {
                    known.unwrap_or_else(|| PieceEnd::at(sigmas(cut_deg)))
                };
                let below = Some(reach.mirrored()).filter(|_| low > cuts.from_deg);
                let above = Some(reach).filter(|_| high < cuts.to_deg);
                let mut from = end(low, below.or(ends[0]));
                let until = end(high, above.or(ends[1]));
                let (first, last) = ((low / step_deg).round(), (high / step_deg).round());
                if first < last {
                    let mut ladder = Ladder::new(
                        sigmas((first + 0.5) * step_deg),
                        step_deg / bell.sigma_deg,
                        bell.bend,
                    );
                    for i in first as i64..last as i64 {
                        let upper = ladder.climb();
                        to(i, step_deg * i as f64, bell.mass * from.to(upper));
                        from = upper;
                    }
                }
                to(last as i64, step_deg * last, bell.mass * from.to(until));
            }
            Self::Panels {
                width_deg,
                rule,
                step_deg,
            } => {
                let half_step = 0.5 * step_deg;
                let goals = RoundedGoals {
                    bell,
                    cuts,
                    step_deg: *step_deg,
                };
                let first = ((low - half_step) / width_deg).floor() as i64;
                let last = ((high + half_step) / width_deg).floor() as i64;
                for panel in first..=last {
                    gather_panel(&goals, panel, *width_deg, rule, &mut to);
                }
            }
        }
    }
}

/// Goals between two cuts, as a density of the readings that the drive stops at.
struct RoundedGoals {
    bell: Bell,
    cuts: AngleSpan,
    step_deg: f64,
}

impl RoundedGoals {
    fn density(&self, reading_deg: f64) -> f64 {
        let Bell {
            mean_deg,
            sigma_deg,
            mass,
            ..
        } = self.bell;
        let sigmas = |x: f64| (x - mean_deg) / sigma_deg;
        if self.step_deg == 0.0 {
            return mass * density(sigmas(reading_deg)) / sigma_deg;
        }
        // Rounding to a step that is fine against sigma spreads a goal evenly over the step.
        let low = (reading_deg - 0.5 * self.step_deg).max(self.cuts.from_deg);
        let high = (reading_deg + 0.5 * self.step_deg).min(self.cuts.to_deg);
        mass * between(sigmas(low), sigmas(high)) / self.step_deg
    }
}

/// Most nodes of a panel.
const MOST_NODES: usize = 16;

fn gather_panel(
    goals: &RoundedGoals,
    panel: i64,
    width_deg: f64,
    rule: &Legendre,
    to: &mut impl FnMut(Number, f64, f64),
) {
    let n = rule.nodes.len();
    let half = 0.5 * width_deg;
    let middle = (panel as f64 + 0.5) * width_deg;
    let (left, right) = (middle - half, middle + half);
    let reading = |j: usize| middle + half * rule.nodes[j];
    let number = |j: usize| panel * n as i64 + j as i64;
    let half_step = 0.5 * goals.step_deg;
    let (low, high) = (goals.cuts.from_deg, goals.cuts.to_deg);
    let ends = [
        low - half_step,
        low + half_step,
        high - half_step,
        high + half_step,
    ];
    if ends[1] <= left && right <= ends[2] {
        for j in 0..n {
            let x = reading(j);
            to(number(j), x, half * rule.weights[j] * goals.density(x));
        }
        return;
    }
    let mut shares = [0.0; MOST_NODES];
    let mut marks = [left, right, 0.0, 0.0, 0.0, 0.0];
    marks[2..].copy_from_slice(&ends.map(|x| x.clamp(left, right)));
    marks.sort_by(f64::total_cmp);
    for ends_of_part in marks.windows(2) {
        let (from, until) = (ends_of_part[0], ends_of_part[1]);
        let centre = 0.5 * (from + until);
        let half_part = 0.5 * (until - from);
        if half_part <= 0.0 || centre < ends[0] || centre > ends[3] {
            continue;
        }
        for (node, weight) in rule.nodes.iter().zip(&rule.weights) {
            let x = centre + half_part * node;
            let mass = half_part * weight * goals.density(x);
            rule.share_out((x - middle) / half, mass, &mut shares[..n]);
        }
    }
    for (j, share) in shares[..n].iter().enumerate() {
        if *share != 0.0 {
            to(number(j), reading(j), *share);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BELL: Bell = Bell {
        mean_deg: 0.013,
        sigma_deg: 0.03,
        mass: 0.5,
        bend: 0.0,
    };

    /// Mass and first moment of what is gathered between two cuts, against the truncated normal distribution
    /// (Johnson, Kotz & Balakrishnan 1994, Continuous Univariate Distributions 1, 13.10.1; from memory).
    fn check(grid: &ReadingGrid, tolerance: f64) {
        let cuts = [(-1.0, 1.0), (-0.02, 0.041), (0.02, 0.0237), (-0.5, -0.07)];
        for cuts in cuts.map(|(from, to)| AngleSpan::new(from, to)) {
            let (mut mass, mut moment) = (0.0, 0.0);
            let goals = Goals {
                bell: BELL,
                cuts,
                ends: [None; 2],
            };
            grid.gather(goals, PieceEnd::at(9.0), |_, x, m| {
                mass += m;
                moment += m * x;
            });
            let (a, b) = (
                (cuts.from_deg - BELL.mean_deg) / BELL.sigma_deg,
                (cuts.to_deg - BELL.mean_deg) / BELL.sigma_deg,
            );
            let inside = BELL.mass * between(a, b);
            let first =
                BELL.mean_deg * inside + BELL.mass * BELL.sigma_deg * (density(a) - density(b));
            assert!(
                (mass / inside - 1.0).abs() < tolerance,
                "{cuts:?}: {mass} {inside}"
            );
            assert!((moment - first).abs() < tolerance * inside, "{cuts:?}");
        }
    }

    #[test]
    fn panels_keep_mass_and_moment_wherever_the_cuts_are() {
        for step_deg in [0.0, 0.004] {
            check(
                &ReadingGrid::Panels {
                    width_deg: 0.06,
                    rule: Legendre::new(8),
                    step_deg,
                },
                1e-9,
            );
        }
    }

    #[test]
    fn the_lattice_keeps_the_mass_and_rounds_to_its_points() {
        let grid = ReadingGrid::Lattice { step_deg: 0.02 };
        let mut mass = 0.0;
        let goals = Goals {
            bell: Bell {
                bend: Ladder::bend(0.02 / BELL.sigma_deg),
                ..BELL
            },
            cuts: AngleSpan::new(-0.02, 0.041),
            ends: [None; 2],
        };
        grid.gather(goals, PieceEnd::at(9.0), |i, x, m| {
            assert_eq!(x, 0.02 * i as f64);
            assert!((-1..=2).contains(&i), "{i}");
            mass += m;
        });
        let inside = between((-0.02 - 0.013) / 0.03, (0.041 - 0.013) / 0.03);
        assert!((mass - 0.5 * inside).abs() < 1e-15);
    }
}
