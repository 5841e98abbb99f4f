//! Log -> estimates of a rig's errors, with intervals and findings.
//!
//! [`read_log`] reads readings and solved position angles and [`fit()`] estimates. [`Fit::apply`] puts the estimates
//! into a rig, and [`Fit::draw`] draws rigs that fit the log as well. `docs/fit.md` explains model, method and
//! limits.

mod apply;
mod diagnose;
mod diagnosis;
mod estimate;
mod fitted;
mod interval;
mod lattice;
pub mod least_squares;
mod log;
mod loops;
mod model;
mod outliers;
mod plan;
mod refine;
mod rehearse;
mod robust;
mod search;
mod shifts;
mod start;
mod together;
mod track;
mod variance;
mod waves;

pub use diagnosis::{Diagnosis, DiagnosisKind};
pub use estimate::{Joint, Parameters, PeriodicEstimate, nearest_turn};
pub use fitted::{Fit, FittedRow};
pub use interval::{Estimate, student};
pub use log::date_s;
pub use log::{Log, LogRow, MOST_ROWS, read_log};
pub use plan::{
    FitPlan, FitPlanError, Goal, Range, RangeEnd, RangeLimit, Wanted, naive_sweep, plan,
};
pub use rehearse::{PlanStep, rehearse};

use crate::rig::{RigSettings, TravelKind};
use model::Problem;
use refine::{Believed, Refined, Refiner};
use shifts::Shifted;
use start::{FirstGuess, start};
use together::Together;
use track::Unrolled;

/// A step need not be known better than this share of the tolerance.
const HARMLESS_STEP: f64 = 0.1;

/// A sense that leaves more than this may have a jump of the zero point \[deg\].
const POOR_DEG: f64 = 10.0;

/// Why a log cannot be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// The log has this many solved rows, fewer than [`LEAST_SOLVES`].
    #[error("has {0} solved rows, but fit needs at least {LEAST_SOLVES}. Add more")]
    TooFew(usize),
}

/// Fewest solved rows that a fit takes.
pub const LEAST_SOLVES: usize = 3;

/// One way to read the log, with its first fit, which ignores outliers.
struct Attempt {
    problem: Problem,
    start: FirstGuess,
    shifted: Shifted,
}

/// Estimates the errors of the rig that made this log.
///
/// `rig` is the rig as the user believes it. Its sense and tolerance decide which findings matter. Its approach and
/// travel say how the drive came to its readings.
///
/// # Errors
/// [`FitError::TooFew`].
pub fn fit(log: &Log, rig: &RigSettings) -> Result<Fit, FitError> {
    fit_harmonics(log, rig, 0)
}

/// Most harmonics that can be asked for.
pub const MOST_HARMONICS: u32 = 6;

/// As [`fit()`], with all harmonics up to `harmonics` in the model, whether they show or not.
///
/// # Errors
/// [`FitError::TooFew`].
pub fn fit_harmonics(log: &Log, rig: &RigSettings, harmonics: u32) -> Result<Fit, FitError> {
    let solved = log.rows.iter().filter(|r| r.position_angle_deg.is_some());
    let solved = solved.count();
    if solved < LEAST_SOLVES {
        return Err(FitError::TooFew(solved));
    }
    let mut attempt = attempt(log, Unrolled::AsWritten, rig, harmonics);
    let mut short_way = false;
    if may_pass_zero(log, rig) {
        let other = self::attempt(log, Unrolled::ShortWay, rig, harmonics);
        if other.0.shifted.fit.loss_deg < 0.9 * attempt.0.shifted.fit.loss_deg {
            attempt = other;
            short_way = true;
        }
    }
    let (attempt, other_sense_distance_deg) = attempt;
    let Attempt {
        problem,
        start,
        shifted: Shifted { shifts, fit, doubt },
    } = &attempt;
    let refiner = Refiner::new(problem, shifts, fit, Believed::of(rig, shifts));
    let state = refiner.refine(fit);
    let tolerance_deg = rig.loop_.tolerance_deg;
    let step = lattice::step(log, HARMLESS_STEP * tolerance_deg);
    let (mut parameters, periodic, joint) =
        estimate::parameters(problem, shifts, &refiner, &state, step, tolerance_deg);
    if let Some(Together { shifts, fit, .. }) = doubt {
        let refiner = Refiner::new(problem, shifts, fit, Believed::of(rig, shifts));
        let state = refiner.refine(fit);
        let with = estimate::parameters(problem, shifts, &refiner, &state, step, tolerance_deg);
        parameters.allow_for(&with.0, tolerance_deg);
    }
    let mut found = Fit {
        row_count: log.rows.len(),
        parameters,
        periodic,
        sense: problem.sense,
        sense_identifiable: start.distance_deg < 0.8 * other_sense_distance_deg,
        joint,
        total_error_deg: state.components.total.sqrt(),
        outlier_deg: state.outliers.sigma_deg,
        freedom: state.full.freedom(),
        distance_deg: start.distance_deg,
        other_sense_distance_deg,
        short_way,
        rows: fitted_rows(problem, &refiner, &state),
        diagnoses: Vec::new(),
    };
    found.diagnoses = diagnose::diagnose(log, rig, problem, shifts, &state, &found);
    Ok(found)
}

/// Fits both senses roughly and the better one in full. Returns that fit, and the distance of the other sense
/// \[deg\].
fn attempt(log: &Log, unrolled: Unrolled, rig: &RigSettings, harmonics: u32) -> (Attempt, f64) {
    let believed = rig.loop_.believed_sense;
    let [a, b] = [believed, believed.other()].map(|sense| {
        let problem = Problem::new(log, unrolled, rig, sense);
        let start = start(&problem);
        (problem, start)
    });
    // A flip within the log hides the sense, unless it may be there.
    let poor = a.1.distance_deg.min(b.1.distance_deg) > POOR_DEG;
    let distance_deg = |guess: &FirstGuess| {
        if poor {
            guess.jump_distance_deg
        } else {
            guess.distance_deg
        }
    };
    let (of_a, of_b) = (distance_deg(&a.1), distance_deg(&b.1));
    let ((problem, mut start), worse) = if of_b < 0.999 * of_a {
        (b, of_a)
    } else {
        (a, of_b)
    };
    start.distance_deg = distance_deg(&start);
    let shifted = shifts::find(&problem, &start, harmonics);
    let attempt = Attempt {
        problem,
        start,
        shifted,
    };
    (attempt, worse)
}

/// Whether the log holds readings of one turn only, with jumps that could be a way across 0.
fn may_pass_zero(log: &Log, rig: &RigSettings) -> bool {
    let readings = log.rows.iter().map(|r| r.reading_deg);
    let low = readings.clone().fold(f64::INFINITY, f64::min);
    let high = readings.fold(f64::NEG_INFINITY, f64::max);
    let jumps = log
        .rows
        .windows(2)
        .any(|w| w[0].run == w[1].run && (w[1].reading_deg - w[0].reading_deg).abs() > 180.0);
    rig.drive.travel == TravelKind::Endless && high - low <= 360.0 && jumps
}

fn fitted_rows(problem: &Problem, refiner: &Refiner<'_>, state: &Refined) -> Vec<FittedRow> {
    let outputs = problem.track.outputs(state.backlash_deg);
    let rows = problem.rows.iter().enumerate();
    rows.map(|(place, row)| FittedRow {
        row: row + 1,
        reading_deg: problem.track.readings_deg[*row],
        moved_deg: problem.moves_deg[*row],
        direction: match outputs[*row].slope {
            s if s < 0.0 => 1,
            s if s > 0.0 => -1,
            _ => 0,
        },
        residual_deg: problem.sense.factor() * state.residuals[place],
        outlier: state.outliers.flags[place],
        used: refiner.known[place] && !state.outliers.flags[place],
    })
    .collect()
}
