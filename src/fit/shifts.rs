//! Changes of the zero point within a log: jumps, a drift, and steps that are lost move by move.
//!
//! Found one after another, the strongest first. A shift is taken only where chance does not explain it, with an
//! allowance for the number of places where it could have been (Bonferroni).

use nalgebra::DVector;

use super::interval::f_tail;
use super::least_squares::solve;
use super::model::{Problem, Shift};
use super::outliers::robust_sigma;
use super::robust::{Robust, at_play, robust};
use super::variance::Dwells;

/// Probability that a log without a shift is said to have one.
const FALSE_ALARM: f64 = 1e-3;

/// Most shifts that are looked for.
const MOST_SHIFTS: usize = 16;

/// Fewest solved rows on either side of a jump; fewer could be outliers.
const LEAST_ROWS: usize = 4;

/// A shift smaller than so many times the random error of one row does not matter.
const LEAST_SIZE: f64 = 1.5;

/// Residuals are cut at so many deviations for the search, so that an outlier is no evidence.
const CUT: f64 = 3.0;

/// The shifts of a log, and the robust fit with them.
pub(super) fn find(problem: &Problem, start: &DVector<f64>) -> (Vec<Shift>, Robust) {
    let mut shifts = Vec::new();
    let mut fit = robust(problem, &shifts, start);
    while shifts.len() < MOST_SHIFTS {
        let Some(found) = strongest(problem, &shifts, &fit) else {
            break;
        };
        let mut more = shifts.clone();
        more.push(found);
        if let Shift::Jump(at) = found {
            let last = more.len() - 1;
            more[last] = Shift::Jump(exact_row(problem, &more, &fit, at));
        }
        let better = robust(problem, &more, &fit.coefficients);
        let sigma = robust_sigma(better.residuals.iter().copied());
        let added = better.coefficients[better.coefficients.len() - 1];
        let moved = problem.shift_column(found);
        let size = (added * (moved.max() - moved.min())).abs();
        if size < LEAST_SIZE * sigma {
            break;
        }
        (shifts, fit) = (more, better);
    }
    (shifts, fit)
}

/// The shift that explains most of what is left over, if chance does not.
fn strongest(problem: &Problem, shifts: &[Shift], fit: &Robust) -> Option<Shift> {
    let linear = problem.linear(fit.play_deg, shifts);
    let used: Vec<bool> = linear.outputs.iter().map(|o| o.known).collect();
    let dwells = Dwells::of(problem, &used, &[]);
    let count = dwells.members.len();
    let sigma = robust_sigma(fit.residuals.iter().copied()).max(1e-9);
    let cut = fit.residuals.map(|r| r.clamp(-CUT * sigma, CUT * sigma));
    let columns = dwells.mean_columns(&linear.columns);
    let ones = DVector::from_element(count, 1.0);
    let base = solve(&columns, &dwells.means(&cut), &ones);
    if base.freedom() < 2 * LEAST_ROWS {
        return None;
    }
    let left = &base.residuals;
    let total = base.sum_of_squares;
    // An orthonormal basis of the columns, rank or no rank.
    let svd = columns.svd(true, false);
    let largest = svd.singular_values.max();
    let u = svd.u?;
    let basis = (0..u.ncols()).filter(|k| svd.singular_values[*k] > 1e-10 * largest);
    let basis: Vec<usize> = basis.collect();

    let first_row = |dwell: usize| problem.rows[dwells.members[dwell][0]];
    let solved: Vec<usize> = dwells.members.iter().map(Vec::len).collect();
    let all: usize = solved.iter().sum();
    let mut candidates = vec![Shift::Drift, Shift::LossUp, Shift::LossDown];
    let mut before = 0;
    for (dwell, rows) in solved.iter().enumerate() {
        if before >= LEAST_ROWS && all - before >= LEAST_ROWS {
            candidates.push(Shift::Jump(first_row(dwell)));
        }
        before += rows;
    }
    let taken = |shift: &Shift| shifts.contains(shift);
    let mut best: Option<(Shift, f64)> = None;
    for shift in candidates.iter().copied().filter(|s| !taken(s)) {
        let column = dwells.means(&problem.shift_column(shift));
        let explained: f64 = basis
            .iter()
            .map(|k| u.column(*k).dot(&column).powi(2))
            .sum();
        let own = column.norm_squared();
        if own - explained < 1e-3 * own.max(1e-12) {
            continue; // the model has it already
        }
        let gain = left.dot(&column).powi(2) / (own - explained);
        if best.is_none_or(|(_, most)| gain > most) {
            best = Some((shift, gain));
        }
    }
    let (shift, gain) = best?;
    let freedom = base.freedom() - 1;
    let f = gain / ((total - gain).max(1e-6 * total) / freedom as f64);
    (f_tail(f, freedom) * (candidates.len() as f64) < FALSE_ALARM).then_some(shift)
}

/// The row at which a jump fits best, near the one that was found from the means of dwells.
fn exact_row(problem: &Problem, shifts: &[Shift], fit: &Robust, near: usize) -> usize {
    /// Solved rows to either side that are tried.
    const REACH: usize = 5;
    let place = problem.rows.partition_point(|row| *row < near);
    let low = place.saturating_sub(REACH).max(LEAST_ROWS);
    let high = (place + REACH).min(problem.len().saturating_sub(LEAST_ROWS));
    let mut tried = shifts.to_vec();
    let last = tried.len() - 1;
    let mut best = (near, f64::INFINITY);
    for place in low..=high {
        let row = problem.rows[place];
        tried[last] = Shift::Jump(row);
        if shifts[..last].contains(&tried[last]) {
            continue;
        }
        let loss = at_play(problem, &tried, &fit.coefficients, fit.play_deg).loss_deg;
        if loss < best.1 {
            best = (row, loss);
        }
    }
    best.0
}
