//! The periodogram of what a fit leaves, over reading, direction and time, with its false-alarm level.
//!
//! For every number of cycles a cosine and a sine are fitted to the residuals, with the model beside them: the
//! periodogram of Lomb (1976, Astrophys. Space Sci. 39, 447) and Scargle (1982, Astrophys. J. 263, 835), with an F test
//! of two degrees of freedom in place of a known variance.

use nalgebra::DVector;

use super::model::{Over, Problem, Shift, Wave};
use super::search::golden;
use super::track::Output;
use super::variance::Dwells;
use crate::angle::TURN_DEG;

/// More cycles a turn than this are no error of a gear that a plate solve shows.
const MOST_CYCLES: f64 = 180.0;

/// Cycles a turn that are tried in any case.
const LEAST_MOST: f64 = 6.0;

/// Most waves that are tried, for the time that it takes.
const MOST_TRIED: f64 = 1000.0;

/// A smaller wave is rounding \[deg\].
const LEAST_DEG: f64 = 1e-6;

/// A shorter arc \[turns\] does not tell a wave from a bend.
const LEAST_SPAN: f64 = 0.4;

/// Where the residuals of a fit are looked at.
pub(super) struct Leftover<'a> {
    pub(super) problem: &'a Problem,
    pub(super) dwells: &'a Dwells,
    pub(super) outputs: &'a [Output],
    /// Orthonormal columns of the model, over the dwells.
    pub(super) basis: &'a [DVector<f64>],
    /// Means of the residuals over the dwells \[deg\].
    pub(super) residuals: &'a DVector<f64>,
    /// Degrees of freedom of the residuals.
    pub(super) freedom: usize,
}

/// A wave in the residuals.
pub(super) struct Found {
    /// Its cosine.
    pub(super) shift: Shift,
    /// Probability of one as strong by chance, anywhere in the periodogram.
    pub(super) chance: f64,
    /// How much of the sum of squares it explains \[deg^2\].
    pub(super) gain: f64,
}

impl Leftover<'_> {
    /// The strongest wave over the reading and between the directions.
    pub(super) fn over_reading(&self) -> Option<Found> {
        let known = self
            .dwells
            .members
            .iter()
            .map(|d| self.outputs[d[0]].at_deg);
        let (low, high) = known.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), at| {
            (l.min(at), h.max(at))
        });
        let span = (high - low) / TURN_DEG;
        if span < LEAST_SPAN {
            return None;
        }
        // Twice as fine as two waves can be told apart; up to one wave for two dwells of a turn.
        let step = 0.5 / span;
        let most = 0.5 * self.dwells.members.len() as f64 / span.min(1.0);
        let most = most.clamp(LEAST_MOST, MOST_CYCLES).min(MOST_TRIED * step);
        let grid = (1..)
            .map(|k| step * f64::from(k))
            .take_while(|f| *f <= most);
        let grid = grid.filter(|f| *f > 2.0).map(|f| (Over::Reading, f));
        let tried: Vec<_> = grid
            .chain([1.0, 2.0].map(|f| (Over::Direction, f)))
            .collect();
        let mut best = self.best(&tried)?;
        if let Shift::Wave(w) = best.shift
            && w.over == Over::Reading
        {
            let gain = |f: f64| self.gain(Over::Reading, f);
            let mut cycles = golden(
                |f| -gain(f),
                (w.cycles - step).max(2.05),
                w.cycles + step,
                20,
            );
            let left = self.residuals.norm_squared() - gain(cycles);
            // A gear has whole cycles, unless the log speaks against it: chi-square of one degree of freedom, 0.1 %.
            let whole = cycles.round().max(3.0);
            if gain(cycles) - gain(whole) < 10.83 * left / self.freedom as f64 {
                cycles = whole;
            }
            best.shift = Wave::pair(Over::Reading, cycles)[0];
        }
        Some(best)
    }

    /// The strongest slow wave over time.
    pub(super) fn over_time(&self) -> Option<Found> {
        self.best(&[0.5, 1.0, 1.5, 2.0, 2.5, 3.0].map(|f| (Over::Time, f)))
    }

    fn best(&self, tried: &[(Over, f64)]) -> Option<Found> {
        let gains = tried
            .iter()
            .map(|(over, f)| (*over, *f, self.gain(*over, *f)));
        let (over, cycles, gain) = gains.max_by(|a, b| a.2.total_cmp(&b.2))?;
        let freedom = self.freedom.checked_sub(2)? as f64;
        if gain < LEAST_DEG * LEAST_DEG * self.residuals.len() as f64 {
            return None;
        }
        let left = 1.0 - gain / self.residuals.norm_squared();
        Some(Found {
            shift: Wave::pair(over, cycles)[0],
            // The tail of F with 2 and `freedom` degrees of freedom, for every wave that was tried (Bonferroni).
            chance: tried.len() as f64 * libm::pow(left.max(0.0), 0.5 * freedom),
            gain,
        })
    }

    /// How much of the sum of squares a wave explains \[deg^2\].
    fn gain(&self, over: Over, cycles: f64) -> f64 {
        let mut before: Option<DVector<f64>> = None;
        let mut gain = 0.0;
        for shift in Wave::pair(over, cycles) {
            let mut column = self
                .dwells
                .means(&self.problem.shift_column(shift, self.outputs));
            let own = column.norm_squared();
            for u in self.basis.iter().chain(&before) {
                column.axpy(-u.dot(&column), u, 1.0);
            }
            let rest = column.norm_squared();
            if rest > 1e-3 * own.max(1e-12) {
                column /= rest.sqrt();
                gain += column.dot(self.residuals).powi(2);
                before = Some(column);
            }
        }
        gain
    }
}
