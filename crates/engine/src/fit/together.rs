//! A jump of the zero point and the width of the backlash, found together.
//!
//! In one sweep up and one down a slip and a backlash look alike: a search that settles the backlash first takes the
//! slip for it. So every jump is tried with the backlash that suits it, and whole fits are compared.

use nalgebra::{DMatrix, DVector};

use super::interval::f_tail;
use super::least_squares::solve;
use super::model::{BASE, Linear, Problem, Shift, backlash_column};
use super::outliers::robust_sigma;
use super::robust::{MOST_BACKLASH_DEG, Robust, at_backlash, robust};
use super::shifts::{LEAST_ROWS, basis, exact_row, from_here_on, jump_dwells};
use super::variance::Dwells;

/// Widths of the backlash near which the model is taken as linear.
const WIDTHS: usize = 12;

/// Rows that get a whole fit, of residuals cut and whole each.
const WHOLE_FITS: usize = 3;

/// Residuals of whole fits are cut at so many standard deviations: two solves that are off count for more than chance,
/// one does not.
const CUT: f64 = 6.0;

/// Fits whose losses differ by less than this factor are alike.
const ALIKE: f64 = 1.05;

/// A jump is worth a whole fit if chance explains it less often than this near one width.
const WORTH: f64 = 0.5;

/// Fewest degrees of freedom for a jump.
const LEAST_FREEDOM: usize = 3;

/// A further jump, with the whole fit that has it.
#[derive(Debug, Clone)]
pub(super) struct Together {
    pub(super) shifts: Vec<Shift>,
    pub(super) fit: Robust,
    /// Probability that chance makes a jump anywhere in the log fit as well.
    pub(super) chance: f64,
}

/// The jumps of a scan.
#[derive(Debug, Default)]
struct Scan {
    /// The least mean square that the best width leaves without a jump.
    left: Option<f64>,
    /// The mean square that a jump leaves near one width, its row, and the coefficients with it.
    jumps: Vec<(f64, usize, DVector<f64>)>,
}

/// The jump that fits best beside these shifts, each with the backlash that suits it. `guess`: a row and the
/// coefficients of the base with a jump there, to be tried as well.
pub(super) fn together(
    problem: &Problem,
    shifts: &[Shift],
    fit: &Robust,
    guess: Option<&(usize, DVector<f64>)>,
) -> Option<Together> {
    let most = problem.track.reach_deg().min(MOST_BACKLASH_DEG);
    let width_deg = |i: usize| most * (i as f64 / WIDTHS as f64).powi(2);
    let with = |row: usize| -> Vec<Shift> { [shifts, &[Shift::Jump(row)]].concat() };
    let mut tried = [Scan::default(), Scan::default()];
    for i in 0..=WIDTHS {
        let at = at_backlash(problem, shifts, &fit.coefficients, width_deg(i));
        jumps(problem, shifts, &at, &mut tried)?;
    }
    let mut rows: Vec<(usize, DVector<f64>)> = Vec::new();
    rows.extend(guess.map(|(row, start)| {
        let base = start.rows(0, BASE).into_owned();
        let start_of = base
            .resize_vertically(BASE + shifts.len(), 0.0)
            .push(start[BASE]);
        (*row, start_of)
    }));
    for Scan { left, mut jumps } in tried {
        jumps.retain(|(rest, ..)| Some(*rest) < left);
        jumps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut new = 0;
        for (_, row, start) in jumps {
            if new < WHOLE_FITS && rows.iter().all(|(r, _)| *r != row) {
                rows.push((row, start));
                new += 1;
            }
        }
    }
    let mut best: Option<Together> = None;
    let mut seen: Vec<usize> = Vec::new();
    for (row, start) in rows {
        if seen.contains(&row) {
            continue;
        }
        let first = robust(problem, &with(row), &start);
        let exact = exact_row(problem, &with(row), &first, row);
        seen.extend([row, exact]);
        let mut found = if exact == row {
            first
        } else {
            robust(problem, &with(exact), &first.coefficients)
        };
        // At a turn of the drive many widths fit alike: the smallest stands for them.
        for i in 0..WIDTHS {
            let at = at_backlash(problem, &with(exact), &found.coefficients, width_deg(i));
            if at.backlash_deg < found.backlash_deg && at.loss_deg < ALIKE * found.loss_deg {
                found = at;
                break;
            }
        }
        let Some(chance) = chance(problem, &with(exact), fit, &found) else {
            continue;
        };
        let better = |b: &Together| (chance, found.loss_deg) < (b.chance, b.fit.loss_deg);
        if best.as_ref().is_none_or(better) {
            best = Some(Together {
                shifts: with(exact),
                fit: found,
                chance,
            });
        }
    }
    best
}

/// The columns of the model with that of the backlash, over dwells.
fn columns_over(dwells: &Dwells, shifts: &[Shift], fit: &Robust, linear: &Linear) -> DMatrix<f64> {
    let count = linear.columns.ncols();
    let mut columns = linear.columns.clone();
    // No backlash is less than 0.
    if fit.backlash_deg > 0.0 {
        columns = columns.insert_column(count, 0.0);
        let backlash = backlash_column(&linear.outputs, shifts, &fit.coefficients);
        columns.set_column(count, &backlash);
    }
    dwells.mean_columns(&columns)
}

/// The means of the residuals over dwells, cut at `most_deg`.
fn cut_means(dwells: &Dwells, fit: &Robust, most_deg: f64) -> DVector<f64> {
    dwells.means(&fit.residuals.map(|r| r.clamp(-most_deg, most_deg)))
}

/// Adds what every jump leaves beside this fit, with residuals cut and whole.
fn jumps(problem: &Problem, shifts: &[Shift], at: &Robust, tried: &mut [Scan; 2]) -> Option<()> {
    let linear = problem.linear(at.backlash_deg, shifts);
    let used: Vec<bool> = linear.outputs.iter().map(|o| o.known).collect();
    if 3 * used.iter().filter(|u| **u).count() < 2 * problem.len() {
        return Some(()); // too wide to tell
    }
    // Every row by itself: a slip may come between two solves of a dwell.
    let dwells = Dwells::of(problem, &used, &problem.rows);
    let count = dwells.members.len();
    let sigma = robust_sigma(at.residuals.iter().copied(), BASE).max(1e-9);
    let basis = basis(columns_over(&dwells, shifts, at, &linear))?;
    let sums: Vec<Vec<f64>> = basis.iter().map(from_here_on).collect();
    for (most_deg, tried) in [3.0 * sigma, f64::INFINITY].into_iter().zip(tried) {
        let means = cut_means(&dwells, at, most_deg);
        let left = basis
            .iter()
            .fold(means.clone(), |left, u| &left - u * u.dot(&means));
        let (total, left) = (left.norm_squared(), from_here_on(&left));
        let freedom = count.saturating_sub(basis.len() + 1);
        let alone = total / (freedom + 1) as f64;
        tried.left = Some(tried.left.map_or(alone, |left| left.min(alone)));
        for dwell in jump_dwells(&dwells, LEAST_ROWS) {
            let row = problem.rows[dwells.members[dwell][0]];
            let explained: f64 = sums.iter().map(|sums| sums[dwell].powi(2)).sum();
            let own = (count - dwell) as f64;
            let free = own - explained;
            if free > 1e-3 * own && !shifts.contains(&Shift::Jump(row)) {
                let size = left[dwell] / free;
                let gain = size * left[dwell];
                let rest = (total - gain).max(1e-6 * total);
                if f_tail(gain * freedom as f64 / rest, freedom) * (count as f64) < WORTH {
                    let start = at.coefficients.clone().push(size);
                    tried.jumps.push((rest / freedom as f64, row, start));
                }
            }
        }
    }
    Some(())
}

/// F test of a whole fit against the one without its last shift, for a jump at any dwell (Bonferroni): both residuals
/// cut alike, each with its own width of the backlash.
fn chance(problem: &Problem, shifts: &[Shift], before: &Robust, after: &Robust) -> Option<f64> {
    let (last, earlier) = shifts.split_last()?;
    let old = problem.linear(before.backlash_deg, earlier);
    let new = problem.linear(after.backlash_deg, shifts);
    let used: Vec<bool> = new.outputs.iter().map(|o| o.known).collect();
    // Where the old fit leaves the side of the backlash open, only what no side explains counts.
    let mut before = before.clone();
    for (r, o) in before.residuals.iter_mut().zip(&old.outputs) {
        if !o.known {
            *r -= r.clamp(-o.slack_deg, o.slack_deg);
        }
    }
    let breaks = match last {
        Shift::Jump(row) => vec![*row],
        _ => Vec::new(),
    };
    let dwells = Dwells::of(problem, &used, &breaks);
    let sigma = |fit: &Robust| robust_sigma(fit.residuals.iter().copied(), BASE);
    let most_deg = CUT * sigma(&before).max(sigma(after)).max(1e-9);
    let ones = DVector::from_element(dwells.members.len(), 1.0);
    let [old, new] =
        [(old, earlier, &before), (new, shifts, after)].map(|(linear, shifts, fit)| {
            let columns = columns_over(&dwells, shifts, fit, &linear);
            solve(&columns, &cut_means(&dwells, fit, most_deg), &ones)
        });
    let freedom = new.freedom();
    if freedom < LEAST_FREEDOM {
        return None;
    }
    let left = new.sum_of_squares.max(1e-6 * old.sum_of_squares);
    let f = (old.sum_of_squares - left) / (left / freedom as f64);
    Some(f_tail(f, freedom) * dwells.members.len() as f64)
}
