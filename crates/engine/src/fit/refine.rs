//! From the robust fit to the estimate: outliers left out, weights from the variance components, the width of the
//! backlash by least squares.

use nalgebra::{DMatrix, DVector};

use super::least_squares::{LeastSquares, solve};
use super::model::{GAIN, Problem, Shift, backlash_column, harmonics};
use super::outliers::{Outliers, outliers, robust_sigma};
use super::robust::Robust;
use super::search::{crossing, golden};
use super::variance::{Components, Dwells, components};
use crate::angle::sin_deg;
use crate::rig::RigSettings;

/// Rounds in which outliers, weights and backlash settle.
const ROUNDS: usize = 8;

/// Least error of one row \[deg\]; less is rounding.
const LEAST_SIGMA_DEG: f64 = 1e-7;

/// Outliers that are too small to be found hide among the other solves. They widen the interval of the noise, measured
/// over 300 simulated logs, by this many times the rate of those that are found.
const HIDDEN: f64 = 10.0;

/// Factor on the scale in the first search for outliers.
const FIRST_WIDTH: f64 = 1.5;

/// What to fit: a log with one sense, and the shifts found in it.
#[derive(Debug)]
pub(super) struct Refiner<'a> {
    problem: &'a Problem,
    shifts: &'a [Shift],
    /// Rows at which the zero point jumps, from 0.
    breaks: Vec<usize>,
    /// For each solved row, whether it no longer depends on where in the backlash its run began.
    pub(super) known: Vec<bool>,
    /// Widest backlash that the search tries \[deg\].
    widest_deg: f64,
    /// Values for whatever the log does not tell.
    believed: Believed,
}

/// Parameters as the user believed them before the log.
#[derive(Debug, Clone)]
pub(super) struct Believed {
    backlash_deg: f64,
    /// Half the tolerance \[deg\]: no smaller error of a solve matters to the loop.
    least_outlier_deg: f64,
    /// The others: their column, value, and standard deviation.
    others: Vec<(usize, f64, f64)>,
}

impl Believed {
    pub(super) fn of(rig: &RigSettings, shifts: &[Shift]) -> Self {
        let mut others = vec![(GAIN, rig.drive.gain_error, 0.01)];
        for (cycles, cos, sin) in harmonics(shifts) {
            let of_these = rig.drive.periodic.iter();
            let of_these = of_these.filter(|p| p.cycles == f64::from(cycles));
            let sum = |ahead_deg: f64| {
                let parts = of_these.clone();
                parts
                    .map(|p| p.amplitude_deg * sin_deg(p.phase_deg + ahead_deg))
                    .sum()
            };
            let sigma_deg = if cycles == 1 { 1.0 } else { 0.5 };
            others.extend([(cos, sum(0.0), sigma_deg), (sin, sum(90.0), sigma_deg)]);
        }
        Self {
            backlash_deg: rig.drive.backlash_deg,
            least_outlier_deg: 0.5 * rig.loop_.tolerance_deg,
            others,
        }
    }
}

/// The fit.
#[derive(Debug, Clone)]
pub(super) struct Refined {
    /// Width of the backlash \[deg\].
    pub(super) backlash_deg: f64,
    /// Coefficients of the linear model.
    pub(super) coefficients: DVector<f64>,
    /// Residuals of all solved rows \[deg\].
    pub(super) residuals: DVector<f64>,
    /// The linearised model over the means of dwells. Its last column is the backlash.
    pub(super) full: LeastSquares,
    pub(super) outliers: Outliers,
    pub(super) components: Components,
    dwells: Dwells,
    weights: DVector<f64>,
}

impl<'a> Refiner<'a> {
    pub(super) fn new(
        problem: &'a Problem,
        shifts: &'a [Shift],
        fit: &Robust,
        believed: Believed,
    ) -> Self {
        // The same rows for every width that the search tries, because it compares their sums.
        let widest_deg = 1.3 * fit.backlash_deg + 0.05;
        let outputs = problem.linear(widest_deg, shifts).outputs;
        let mut known: Vec<bool> = outputs.iter().map(|o| o.known).collect();
        if known.iter().filter(|k| **k).count() < (problem.len() / 2).max(8) {
            known = vec![true; problem.len()];
        }
        let jump = |s: &Shift| match s {
            Shift::Jump(at) => Some(*at),
            Shift::Drift | Shift::LossUp | Shift::LossDown | Shift::Wave(_) => None,
        };
        Self {
            problem,
            shifts,
            breaks: shifts.iter().filter_map(jump).collect(),
            known,
            widest_deg,
            believed,
        }
    }

    pub(super) fn refine(&self, fit: &Robust) -> Refined {
        let trusted = fit.residuals.iter().copied().zip(&self.known);
        let trusted = trusted.filter(|(_, k)| **k).map(|(r, _)| r);
        let sigma = robust_sigma(trusted, fit.coefficients.len() + 1).max(LEAST_SIGMA_DEG);
        // Wide at first, because few rows give an uncertain scale.
        let wide = vec![FIRST_WIDTH * sigma; self.problem.len()];
        let first = outliers(
            fit.residuals.as_slice(),
            &self.known,
            self.believed.least_outlier_deg,
            &wide,
            self.problem
                .len()
                .saturating_sub(fit.coefficients.len() + 1),
        );
        let mut state = self.round(fit.backlash_deg, &fit.coefficients, &first, sigma);
        let mut flags = first.flags;
        for _ in 1..ROUNDS {
            let sigma = state.components.total.sqrt();
            let next = self.round(
                state.backlash_deg,
                &state.coefficients,
                &state.outliers,
                sigma,
            );
            let settled = next.outliers.flags == flags
                && (next.backlash_deg - state.backlash_deg).abs() < 1e-3 * next.step_deg();
            flags.clone_from(&state.outliers.flags);
            state = next;
            if settled {
                break;
            }
        }
        state
    }

    fn round(
        &self,
        near_deg: f64,
        coefficients: &DVector<f64>,
        outliers_before: &Outliers,
        sigma_deg: f64,
    ) -> Refined {
        let problem = self.problem;
        let used = self.known.iter().zip(&outliers_before.flags);
        let used: Vec<bool> = used.map(|(k, f)| *k && !f).collect();
        let dwells = Dwells::of(problem, &used, &self.breaks);
        let rough = self.components(&dwells, near_deg, coefficients, None);
        let weights = dwells.weights(rough.repeatability_error.value, rough.noise.value);

        let count = dwells.members.len().max(1) as f64;
        let width = (12.0 * sigma_deg / count.sqrt()).max(1e-4);
        let low = (near_deg - width).max(0.0);
        let high = (near_deg + width).min(self.widest_deg.max(near_deg));
        let sum = |backlash_deg: f64| {
            self.at(backlash_deg, coefficients, &dwells, &weights)
                .0
                .sum_of_squares
        };
        let mut backlash_deg = golden(sum, low, high, 22);
        if low == 0.0 && sum(0.0) <= sum(backlash_deg) {
            backlash_deg = 0.0;
        }
        let (linear, mut residuals) = self.at(backlash_deg, coefficients, &dwells, &weights);
        let mut coefficients = linear.coefficients;
        let mut full = self.full(backlash_deg, &coefficients, &residuals, &dwells, &weights);
        let told = full.fixed.last().copied().unwrap_or(false);
        if !told {
            // All widths fit equally well.
            backlash_deg = self.believed.backlash_deg;
            let (linear, left) = self.at(backlash_deg, &coefficients, &dwells, &weights);
            (coefficients, residuals) = (linear.coefficients, left);
            full = self.full(backlash_deg, &coefficients, &residuals, &dwells, &weights);
        }
        let components = self.components(&dwells, backlash_deg, &coefficients, None);
        let sigma = components.total.sqrt().max(LEAST_SIGMA_DEG);
        // A row that is left out does not pull the fit, and so it is also off by its own error.
        let columns = self.columns(backlash_deg, &coefficients);
        let sigmas: Vec<f64> = (0..problem.len())
            .map(|i| {
                let row = columns.row(i).transpose();
                let fitted = if used[i] {
                    0.0
                } else {
                    row.dot(&(&full.unscaled_covariance * &row))
                };
                (sigma * sigma + fitted.max(0.0)).sqrt()
            })
            .collect();
        Refined {
            outliers: outliers(
                residuals.as_slice(),
                &self.known,
                self.believed.least_outlier_deg,
                &sigmas,
                full.freedom(),
            ),
            backlash_deg,
            coefficients,
            residuals,
            full,
            components,
            dwells,
            weights,
        }
    }

    /// The best linear model for one width of the backlash, and its residuals at all solved rows.
    fn at(
        &self,
        backlash_deg: f64,
        near: &DVector<f64>,
        dwells: &Dwells,
        weights: &DVector<f64>,
    ) -> (LeastSquares, DVector<f64>) {
        let linear = self.problem.linear(backlash_deg, self.shifts);
        let targets = self
            .problem
            .targets(&linear.outputs, &(&linear.columns * near));
        let columns = dwells.mean_columns(&linear.columns);
        let found = solve(&columns, &dwells.means(&targets), weights);
        let residuals = targets - &linear.columns * &found.coefficients;
        (found, residuals)
    }

    /// The columns of the linear model and the one of the backlash.
    fn columns(&self, backlash_deg: f64, coefficients: &DVector<f64>) -> DMatrix<f64> {
        let linear = self.problem.linear(backlash_deg, self.shifts);
        let count = linear.columns.ncols();
        let mut columns = linear.columns.insert_column(count, 0.0);
        columns.set_column(
            count,
            &backlash_column(&linear.outputs, self.shifts, coefficients),
        );
        columns
    }

    fn full(
        &self,
        backlash_deg: f64,
        coefficients: &DVector<f64>,
        residuals: &DVector<f64>,
        dwells: &Dwells,
        weights: &DVector<f64>,
    ) -> LeastSquares {
        let columns = dwells.mean_columns(&self.columns(backlash_deg, coefficients));
        solve(&columns, &dwells.means(residuals), weights)
    }

    fn components(
        &self,
        dwells: &Dwells,
        backlash_deg: f64,
        coefficients: &DVector<f64>,
        widened: Option<f64>,
    ) -> Components {
        let linear = self.problem.linear(backlash_deg, self.shifts);
        let model = &linear.columns * coefficients;
        let targets = self.problem.targets(&linear.outputs, &model);
        let columns = self.columns(backlash_deg, coefficients);
        components(dwells, &columns, &(targets - model), widened)
    }

    /// The fit with the believed values as further measurements, too weak to matter except for parameters that the
    /// log leaves open. Returns all coefficients, the backlash last, and their covariance.
    pub(super) fn leaning_on_belief(&self, state: &Refined) -> (DVector<f64>, DMatrix<f64>) {
        /// Standard deviation of the believed backlash \[deg\].
        const BACKLASH_DEG: f64 = 0.5;
        let columns = self.columns(state.backlash_deg, &state.coefficients);
        let present = state.coefficients.clone().push(state.backlash_deg);
        let rows = state.dwells.members.len();
        let more = rows + self.believed.others.len() + 1;
        let mut columns = state
            .dwells
            .mean_columns(&columns)
            .resize_vertically(more, 0.0);
        let mut means = state
            .dwells
            .means(&state.residuals)
            .resize_vertically(more, 0.0);
        let mut weights = state.weights.clone().resize_vertically(more, 0.0);
        let last = present.len() - 1;
        let backlash = (last, self.believed.backlash_deg, BACKLASH_DEG);
        let believed = self.believed.others.iter().copied().chain([backlash]);
        for (k, (column, value, sigma)) in believed.enumerate() {
            columns[(rows + k, column)] = 1.0;
            means[rows + k] = value - present[column];
            weights[rows + k] = 1.0 / (sigma * sigma);
        }
        let step = solve(&columns, &means, &weights);
        (present + step.coefficients, step.unscaled_covariance)
    }

    /// The variance components with their intervals.
    pub(super) fn components_with_intervals(&self, state: &Refined) -> Components {
        let widened = Some(1.0 + HIDDEN * state.outliers.rate);
        self.components(
            &state.dwells,
            state.backlash_deg,
            &state.coefficients,
            widened,
        )
    }

    /// The interval of the width of the backlash \[deg\]: where the sum of squares exceeds its least value by the
    /// square of `factor`, with the weights as found.
    pub(super) fn backlash_interval_deg(&self, state: &Refined, factor: f64) -> (f64, f64) {
        let sum = |backlash_deg: f64| {
            let at = self.at(
                backlash_deg,
                &state.coefficients,
                &state.dwells,
                &state.weights,
            );
            at.0.sum_of_squares
        };
        let least = sum(state.backlash_deg);
        let excess = |backlash_deg: f64| sum(backlash_deg) - least - factor * factor;
        let step = factor * state.step_deg();
        let low = if state.backlash_deg > 0.0 {
            crossing(excess, state.backlash_deg, -step, 0.0)
        } else {
            0.0
        };
        let most = self.problem.track.reach_deg();
        (
            low,
            crossing(
                excess,
                state.backlash_deg,
                step,
                most.max(state.backlash_deg),
            ),
        )
    }
}

impl Refined {
    /// Standard error of a combination of the coefficients. The last coefficient is the backlash.
    pub(super) fn se_of(&self, combination: &DVector<f64>) -> f64 {
        let variance = combination.dot(&(&self.full.unscaled_covariance * combination));
        variance.max(0.0).sqrt()
    }

    /// First step of the search for the ends \[deg\]: the standard error of the backlash, above 0.
    fn step_deg(&self) -> f64 {
        let last = self.full.coefficients.len() - 1;
        self.full.unscaled_covariance[(last, last)].sqrt().max(1e-6)
    }
}
