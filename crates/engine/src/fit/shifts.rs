//! What a log shows beside the base of the model: jumps, a drift, steps lost move by move, and waves over reading,
//! direction and time.
//!
//! The search finds one after another, the one that chance explains least first. It accepts a shift only if chance does
//! not explain it, with an allowance for the number of shifts that were tried (Bonferroni).

use nalgebra::{DMatrix, DVector};

use super::interval::f_tail;
use super::least_squares::solve;
use super::model::{BASE, HARMONICS, Over, Problem, Shift, Wave, loses_steps};
use super::outliers::robust_sigma;
use super::robust::{Robust, at_backlash, robust};
use super::start::FirstGuess;
use super::together::{Together, together};
use super::variance::Dwells;
use super::waves::{Found, Leftover};

/// Probability of finding a shift in a log that has none.
const FALSE_ALARM: f64 = 1e-3;

/// A jump that chance explains less often than this widens the intervals.
const DOUBT: f64 = 0.05;

/// Most shifts that the search accepts.
const MOST_SHIFTS: usize = 24;

/// Number of dwells within which a second loss may take back the first.
const CLOSE: usize = 6;

/// Fewest degrees of freedom for a search.
const LEAST_FREEDOM: usize = 8;

/// A shift must be at least this many times the random error of one row.
const LEAST_SIZE: f64 = 1.5;

/// The shifts of a log.
#[derive(Debug, Clone)]
pub(super) struct Shifted {
    pub(super) shifts: Vec<Shift>,
    /// The fit with them.
    pub(super) fit: Robust,
    /// One jump more, which may be chance.
    pub(super) doubt: Option<Together>,
}

/// Fewest solved rows on either side of a jump. Fewer could be outliers.
pub(super) const LEAST_ROWS: usize = 4;

/// What a search looks for.
#[derive(Debug, Clone, Copy)]
struct ShiftSearch {
    /// Fewest solved rows on either side of a jump. Fewer could be outliers.
    least_rows: usize,
    /// Residuals are cut at this many standard deviations, because an outlier is no evidence.
    cut: f64,
    /// Only jumps against the move that they come with.
    only_losses: bool,
    /// Slow waves over time compete with jumps. Else they come after them.
    slow_waves: bool,
}

/// The first search lets outliers stay outliers.
const FIRST: ShiftSearch = ShiftSearch {
    least_rows: LEAST_ROWS,
    cut: 3.0,
    only_losses: false,
    slow_waves: false,
};

/// Jumps in a row and a slow wave look alike to a search that takes one thing at a time, so both ways are tried.
const SLOW: ShiftSearch = ShiftSearch {
    slow_waves: true,
    ..FIRST
};

/// When steps are lost, two losses may follow each other closely and look like an outlier.
const LOSSES: ShiftSearch = ShiftSearch {
    least_rows: 1,
    cut: 30.0,
    only_losses: true,
    slow_waves: false,
};

/// The jump that [`together`] found beside these shifts and this fit.
type Known = (Vec<Shift>, Robust, Option<Together>);

/// The shifts of a log.
///
/// A jump against its move may be one of many losses. Others may look like outliers, because the next loss took them
/// back. A second search looks for these, and its result is used if it leaves hardly any outlier.
///
/// The model has all harmonics up to `harmonics` from the start.
pub(super) fn find(problem: &Problem, start: &FirstGuess, harmonics: u32) -> Shifted {
    let guess = start.jump.as_ref();
    let start = &start.coefficients;
    let asked = (HARMONICS.len() as u32 + 1..=harmonics).map(f64::from);
    let asked: Vec<Shift> = asked.flat_map(|k| Wave::pair(Over::Reading, k)).collect();
    let first = robust(problem, &asked, start);
    let jump = together(problem, &asked, &first, guess);
    // The two searches go the same way until a slow wave stands out.
    let mut known = vec![(asked.clone(), first.clone(), jump)];
    let [found, slow] =
        [FIRST, SLOW].map(|way| search(problem, way, asked.clone(), first.clone(), &mut known));
    let of = |found: &Shifted| criterion(problem, &found.shifts, &found.fit);
    let found = if of(&slow) < of(&found) { slow } else { found };
    let Shifted { shifts, fit, .. } = &found;
    let lags = |(j, shift): (usize, &Shift)| match shift {
        Shift::Jump(row) => fit.coefficients[BASE + j] * problem.moves_deg[*row] < 0.0,
        Shift::LossUp | Shift::LossDown | Shift::Drift | Shift::Wave(_) => false,
    };
    if !shifts.iter().enumerate().any(lags) {
        return found;
    }
    // A slow wave may stand for losses that are not found yet.
    let steady = shifts.iter().copied();
    let steady = steady.filter(|s| !matches!(s, Shift::Wave(w) if w.over == Over::Time));
    let steady: Vec<Shift> = steady.collect();
    let from = robust(problem, &steady, start);
    let more = search(problem, LOSSES, steady, from, &mut Vec::new());
    let sigma = robust_sigma(more.fit.residuals.iter().copied(), BASE);
    let off = more
        .fit
        .residuals
        .iter()
        .filter(|r| r.abs() > 6.0 * sigma)
        .count();
    let believed = loses_steps(problem, &more.shifts, &more.fit.coefficients)
        && 3 * off <= more.shifts.len() + 3;
    if believed { more } else { found }
}

fn search(
    problem: &Problem,
    search: ShiftSearch,
    mut shifts: Vec<Shift>,
    mut fit: Robust,
    known: &mut Vec<Known>,
) -> Shifted {
    let mut look = |shifts: &[Shift], fit: &Robust| {
        if search.only_losses {
            return None;
        }
        let before = known.iter().find(|(s, f, _)| s == shifts && f == fit);
        if let Some((.., jump)) = before {
            return jump.clone();
        }
        let jump = together(problem, shifts, fit, None);
        known.push((shifts.to_vec(), fit.clone(), jump.clone()));
        jump
    };
    let mut jump = look(&shifts, &fit);
    while shifts.len() < MOST_SHIFTS {
        let sure = jump.iter().filter(|t| t.chance < FALSE_ALARM);
        let jumped = sure.map(|t| (t.shifts.clone(), t.fit.clone()));
        let other = strongest(problem, &shifts, &fit, search).map(|found| {
            let mut more = shifts.clone();
            match found.shift {
                Shift::Wave(w) => more.extend(Wave::pair(w.over, w.cycles)),
                shift => more.push(shift),
            }
            more.extend(found.until.map(Shift::Jump));
            let better = robust(problem, &more, &fit.coefficients);
            (more, better)
        });
        let better = |a: &(Vec<Shift>, Robust), b: &(Vec<Shift>, Robust)| {
            criterion(problem, &a.0, &a.1).total_cmp(&criterion(problem, &b.0, &b.1))
        };
        let Some((more, found)) = jumped.chain(other).min_by(better) else {
            break;
        };
        let added = more[shifts.len()];
        if !matches!(added, Shift::Wave(_)) {
            let sigma = robust_sigma(found.residuals.iter().copied(), BASE);
            let moved = problem.shift_column(added, &[]);
            let size = found.coefficients[BASE + shifts.len()] * (moved.max() - moved.min());
            if size.abs() < LEAST_SIZE * sigma {
                break;
            }
        }
        (shifts, fit) = (more, found);
        jump = look(&shifts, &fit);
    }
    let doubt = jump.filter(|t| t.chance < DOUBT);
    Shifted { shifts, fit, doubt }
}

/// The criterion of Schwarz (1978, Ann. Stat. 6, 461), for errors of Laplace's distribution. The row of a jump is a
/// parameter too.
fn criterion(problem: &Problem, shifts: &[Shift], fit: &Robust) -> f64 {
    let rows = problem.len() as f64;
    let jumps = shifts.iter().filter(|s| matches!(s, Shift::Jump(_)));
    let parameters = (shifts.len() + jumps.count()) as f64;
    2.0 * rows * libm::log(fit.loss_deg.max(1e-9)) + parameters * libm::log(rows)
}

/// The shift that explains most of the residuals; `None` if chance explains it too.
fn strongest(
    problem: &Problem,
    shifts: &[Shift],
    fit: &Robust,
    search: ShiftSearch,
) -> Option<Candidate> {
    let linear = problem.linear(fit.backlash_deg, shifts);
    let used: Vec<bool> = linear.outputs.iter().map(|o| o.known).collect();
    let dwells = Dwells::of(problem, &used, &[]);
    let count = dwells.members.len();
    let sigma = robust_sigma(fit.residuals.iter().copied(), BASE).max(1e-9);
    let most = search.cut * sigma;
    let cut = fit.residuals.map(|r| r.clamp(-most, most));
    let columns = dwells.mean_columns(&linear.columns);
    let ones = DVector::from_element(count, 1.0);
    let base = solve(&columns, &dwells.means(&cut), &ones);
    if base.freedom() < LEAST_FREEDOM {
        return None;
    }
    let basis = basis(columns)?;
    let candidates = candidates(problem, &dwells, search);
    let mut best: Option<(Candidate, f64)> = None;
    let left = from_here_on(&base.residuals);
    let basis_left: Vec<Vec<f64>> = basis.iter().map(from_here_on).collect();
    for candidate in candidates.iter().filter(|c| !shifts.contains(&c.shift)) {
        let (own, explained, along) = match candidate.dwells {
            // A jump is 1 in these dwells and 0 elsewhere, and sums are enough.
            Some((from, to)) => {
                let part = |sums: &Vec<f64>| sums[from] - sums[to];
                let explained = basis_left.iter().map(|sums| part(sums).powi(2)).sum();
                ((to - from) as f64, explained, part(&left))
            }
            None => {
                let column = dwells.means(&problem.shift_column(candidate.shift, &[]));
                let explained: f64 = basis.iter().map(|u| u.dot(&column).powi(2)).sum();
                (
                    column.norm_squared(),
                    explained,
                    base.residuals.dot(&column),
                )
            }
        };
        if own - explained < 1e-3 * own.max(1e-12) {
            continue; // the model has it already
        }
        if search.only_losses && !candidate.lags(problem, along) {
            continue;
        }
        let gain = along * along / (own - explained);
        if best.is_none_or(|(_, most)| gain > most) {
            best = Some((*candidate, gain));
        }
    }
    let (total, freedom) = (base.sum_of_squares, base.freedom() - 1);
    let shift = best.map(|(found, gain)| {
        let f = gain / ((total - gain).max(1e-6 * total) / freedom as f64);
        let chance = f_tail(f, freedom) * candidates.len() as f64;
        (found, chance, gain)
    });
    let shift = shift.filter(|(_, chance, _)| *chance < FALSE_ALARM);
    if search.only_losses {
        return shift.map(|(found, ..)| found);
    }
    let leftover = Leftover {
        problem,
        dwells: &dwells,
        outputs: &linear.outputs,
        basis: &basis,
        residuals: &base.residuals,
        freedom: base.freedom(),
    };
    let beyond_chance = |w: &Found| w.chance < FALSE_ALARM;
    let mut wave = leftover.over_reading().filter(beyond_chance);
    if search.slow_waves {
        let slow = leftover.over_time().filter(beyond_chance);
        let less = |w: &Found| slow.as_ref().is_none_or(|s| w.gain > s.gain);
        wave = wave.filter(less).or(slow);
    }
    let better = wave.filter(|w| {
        let less = |(_, chance, gain): (_, f64, f64)| (w.chance, -w.gain) < (chance, -gain);
        shift.is_none_or(less)
    });
    match (better, shift) {
        (Some(wave), _) => Some(Candidate::all_the_way(wave.shift)),
        (None, Some((found, ..))) => Some(found),
        // Slow waves last: they also fit jumps in a row.
        (None, None) => {
            let wave = leftover.over_time().filter(beyond_chance)?;
            Some(Candidate::all_the_way(wave.shift))
        }
    }
}

/// For each place, the sum of the values from there to the end; one more entry, 0, for the end.
pub(super) fn from_here_on(values: &DVector<f64>) -> Vec<f64> {
    let mut sums = vec![0.0; values.len() + 1];
    for i in (0..values.len()).rev() {
        sums[i] = sums[i + 1] + values[i];
    }
    sums
}

/// A shift that may be in the log.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    shift: Shift,
    /// For a jump, the row at which another jump takes it back.
    until: Option<usize>,
    /// For a jump, the first dwell with it and the first dwell after it.
    dwells: Option<(usize, usize)>,
}

impl Candidate {
    fn all_the_way(shift: Shift) -> Self {
        Self {
            shift,
            until: None,
            dwells: None,
        }
    }

    /// Whether a shift of this size goes against every move that it comes with.
    fn lags(&self, problem: &Problem, size: f64) -> bool {
        let Shift::Jump(row) = self.shift else {
            return false;
        };
        let back = self
            .until
            .is_none_or(|row| size * problem.moves_deg[row] > 0.0);
        size * problem.moves_deg[row] < 0.0 && back
    }
}

/// An orthonormal basis of the columns, whatever their rank.
pub(super) fn basis(columns: DMatrix<f64>) -> Option<Vec<DVector<f64>>> {
    let svd = columns.svd(true, false);
    let largest = svd.singular_values.max();
    let u = svd.u?;
    let within = (0..u.ncols()).filter(|k| svd.singular_values[*k] > 1e-10 * largest);
    Some(within.map(|k| u.column(k).into_owned()).collect())
}

/// Every shift that the dwells allow.
fn candidates(problem: &Problem, dwells: &Dwells, search: ShiftSearch) -> Vec<Candidate> {
    let mut found = if search.only_losses {
        Vec::new()
    } else {
        [Shift::Drift, Shift::LossUp, Shift::LossDown]
            .map(Candidate::all_the_way)
            .to_vec()
    };
    if !search.only_losses {
        return found;
    }
    let row_of = |dwell: usize| problem.rows[dwells.members[dwell][0]];
    let jumps = jump_dwells(dwells, search.least_rows);
    for (i, from) in jumps.iter().copied().enumerate() {
        let shift = Shift::Jump(row_of(from));
        found.push(Candidate {
            shift,
            until: None,
            dwells: Some((from, dwells.members.len())),
        });
        let near = jumps.iter().copied().skip(i + 1).take(CLOSE);
        found.extend(near.map(|to| Candidate {
            shift,
            until: Some(row_of(to)),
            dwells: Some((from, to)),
        }));
    }
    found
}

/// The dwells at which a jump may begin, with at least so many solved rows on either side.
pub(super) fn jump_dwells(dwells: &Dwells, least_rows: usize) -> Vec<usize> {
    let all: usize = dwells.members.iter().map(Vec::len).sum();
    let mut before = 0;
    let mut jumps = Vec::new();
    for (dwell, members) in dwells.members.iter().enumerate() {
        if before >= least_rows && all - before >= least_rows {
            jumps.push(dwell);
        }
        before += members.len();
    }
    jumps
}

/// The row where a jump fits best, near the row that the means of dwells gave.
pub(super) fn exact_row(problem: &Problem, shifts: &[Shift], fit: &Robust, near: usize) -> usize {
    /// Solved rows to try on either side.
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
        let loss = at_backlash(problem, &tried, &fit.coefficients, fit.backlash_deg).loss_deg;
        if loss < best.1 {
            best = (row, loss);
        }
    }
    best.0
}
