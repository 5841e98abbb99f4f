//! A fit that outliers do not bend: least absolute residuals, with a search for the width of the backlash.

use nalgebra::DVector;

use super::least_squares::solve;
use super::model::{Linear, Problem, Shift};
use super::search::grid_then_golden;

/// Rounds of reweighting for one width of the backlash.
const ROUNDS: usize = 12;

/// Widest backlash that the search tries \[deg\]: the range of the key of the rig file.
pub(super) const MOST_BACKLASH_DEG: f64 = 45.0;

/// Grid points over the width of the backlash.
const GRID: usize = 40;

/// What the robust fit found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Robust {
    /// Width of the backlash \[deg\].
    pub(super) backlash_deg: f64,
    /// Coefficients of the linear model.
    pub(super) coefficients: DVector<f64>,
    /// Residuals of the solved rows \[deg\].
    pub(super) residuals: DVector<f64>,
    /// Mean absolute residual \[deg\].
    pub(super) loss_deg: f64,
}

/// Fits the model with these shifts. `start` holds at least the coefficients of the model without shifts.
///
/// Least absolute residuals (Laplace's method) by reweighted least squares (Schlossmacher 1973, J. Am. Stat. Assoc.
/// 68, 857), for every width of the backlash on a grid and then by golden section.
pub(super) fn robust(problem: &Problem, shifts: &[Shift], start: &DVector<f64>) -> Robust {
    let most = problem.track.reach_deg().min(MOST_BACKLASH_DEG);
    let loss = |backlash_deg: f64| at_backlash(problem, shifts, start, backlash_deg).loss_deg;
    let backlash_deg = grid_then_golden(loss, most, GRID);
    at_backlash(problem, shifts, start, backlash_deg)
}

/// The robust fit for one width of the backlash.
pub(super) fn at_backlash(
    problem: &Problem,
    shifts: &[Shift],
    start: &DVector<f64>,
    backlash_deg: f64,
) -> Robust {
    let Linear { columns, outputs } = problem.linear(backlash_deg, shifts);
    let mut coefficients = start.clone().resize_vertically(columns.ncols(), 0.0);
    // A row with an unknown side of the backlash gets almost no weight.
    let trust = DVector::from_iterator(
        problem.len(),
        outputs.iter().map(|o| if o.known { 1.0 } else { 1e-3 }),
    );
    let mut residuals = DVector::zeros(problem.len());
    let mut loss_deg = f64::INFINITY;
    for _ in 0..=ROUNDS {
        let model = &columns * &coefficients;
        let targets = problem.targets(&outputs, &model);
        residuals = &targets - &model;
        let absolute = residuals.abs();
        let before = loss_deg;
        // But what no side explains counts in full, else a wide backlash would hide outliers.
        let rows = absolute.iter().zip(&outputs).filter(|(_, o)| !o.known);
        let beyond: f64 = rows.map(|(r, o)| (r - o.slack_deg).max(0.0)).sum();
        loss_deg = (absolute.dot(&trust) + beyond) / trust.sum().max(1e-3);
        if loss_deg == 0.0 || (before - loss_deg).abs() < 1e-6 * loss_deg {
            break;
        }
        let floor = (1e-2 * loss_deg).max(1e-9);
        let weights = absolute.map(|r| 1.0 / r.max(floor)).component_mul(&trust);
        coefficients = solve(&columns, &targets, &weights).coefficients;
    }
    Robust {
        backlash_deg,
        coefficients,
        residuals,
        loss_deg,
    }
}
