//! Scenario -> figures without sampling: the loop as a Markov chain that is solved.
//!
//! For a given zero point the loop is a Markov chain over the places where the drive can stand after a command:
//! reading, output side of the backlash, and whether anything has moved yet. Repeatability error and noise are one normal error wherever
//! a real move lies between two solves. [`solve`] follows the probability of every place from solve to
//! solve and adds up over a grid of zero points. `docs/exact.md` explains the method, its grids and its bounds.
//!
//! | file | subject |
//! |---|---|
//! | `chain_model` | what the chain is made of, and what cannot be held |
//! | `place`, `transition` | where a run stands, and what a solve leads to from there, as data |
//! | `reading_grid`, `pieces`, `row` | where a correction may lead, and with which probability |
//! | `net` | places and moves, the same at every zero point |
//! | `chain`, `propagator`, `sums` | following probability from solve to solve |
//! | `zero_points`, `adder` | where the zero points lie, and adding up over them |
//! | `determined` | rigs without any noise |
//! | `grids` | coarser grids, and the gaps that grids leave |
//! | `figures`, `missed` | figures with failed attempts put in, and what a grid misses |
//! | `absorbing`, `long_run` | the loop without a limit of solves |
//! | `watch` | stopping in the midst of it |

mod absorbing;
mod adder;
mod bins;
mod chain;
mod chain_model;
mod determined;
mod figures;
mod gauss;
mod grids;
mod layers;
mod legendre;
mod long_run;
mod missed;
mod net;
mod pieces;
mod place;
mod precision;
mod propagator;
mod reading_grid;
mod row;
mod solution;
mod sums;
mod transition;
mod watch;
mod zero_points;

pub use chain_model::Unsupported;
pub use long_run::LongRun;
pub use precision::Precision;
pub use solution::{Bounded, BoundedSpread, Solution};

use crate::plant::{PlannedMove, Shaft};
use crate::scenario::Scenario;
use adder::Adder;
use chain::Chain;
use chain_model::ChainModel;
use figures::Figures;
use missed::Missed;
use place::{ChainStart, DrivePlace};
use row::{overwinds, turned};
use solution::Grids;
use sums::Sums;
use transition::Added;

/// Solves the loop of a scenario.
///
/// # Errors
/// [`Unsupported`] where the rig has a feature that the method cannot hold.
///
/// # Example
/// ```
/// use halfturn_engine::exact::{Precision, solve};
/// use halfturn_engine::rig::{DEMO_RIG, read};
/// use halfturn_engine::scenario::{Policy, Scenario};
///
/// let rig = read(DEMO_RIG, "demo", &[])?;
/// let seam = solve(&Scenario::new(&rig, Policy::of(&rig), 0.0), Precision::FULL)?;
/// let clear = solve(&Scenario::new(&rig, Policy::of(&rig), 90.0), Precision::FULL)?;
/// assert!(seam.hunting.value > 0.1);
/// assert!(clear.hunting.value < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn solve(scenario: &Scenario, precision: Precision) -> Result<Solution, Unsupported> {
    solve_unless(scenario, precision, &never)
}

/// Solves as [`solve`] does, unless `stopped` turns true meanwhile; it is asked every few milliseconds, and must stay true.
///
/// # Errors
/// As [`solve`]; [`Unsupported::Stopped`].
pub fn solve_unless(
    scenario: &Scenario,
    precision: Precision,
    stopped: &(dyn Fn() -> bool + Sync),
) -> Result<Solution, Unsupported> {
    let model = ChainModel::new(scenario, precision, stopped)?;
    let Some(start) = begin(&model) else {
        let refused = Figures::refused_at_once();
        return Ok(Solution::of(&model, &Grids::one(refused), None));
    };
    let mut adder = Adder::new(&model, start)?;
    let kinds = model.coarser()?;
    let of = |sums: &Sums| Figures::of(&model, &start, sums);
    let every_second = adder.zero_points.len() > 1 && !model.noiseless();
    let mut grids = if every_second {
        // Every fourth zero point, those halfway between, and the rest.
        let coarser = adder.sums(|off| off % 4 == 0)?.scaled(4.0);
        let mut coarse = adder.sums(|off| off % 4 == 2)?.scaled(2.0);
        coarse.add(&coarser, 0.5);
        let mut fine = adder.sums(|off| off % 2 == 1)?;
        fine.add(&coarse, 0.5);
        let missed = if model.lattice_is_coarse() {
            Missed::UNKNOWN
        } else {
            Missed::of([&fine, &coarse, &coarser])
        };
        Grids {
            fine: of(&fine),
            coarse: of(&coarse),
            coarser: if kinds.is_empty() {
                Figures::default()
            } else {
                of(&coarser)
            },
            missed,
            others: Vec::new(),
        }
    } else {
        Grids::one(of(&adder.sums(|_| true)?))
    };
    // Every other kind of grid made coarser alone. A quarter of the zero points shows as much, at a quarter of the work.
    for kind in kinds {
        let figures = kind.iter().map(|coarser| {
            let mut adder = Adder::new(coarser, start)?;
            let sums = if every_second {
                adder.sums(|off| off % 4 == 0)?.scaled(4.0)
            } else {
                adder.sums(|_| true)?
            };
            Ok(Figures::of(coarser, &start, &sums))
        });
        grids.others.push(figures.collect::<Result<_, _>>()?);
    }
    Ok(Solution::of(&model, &grids, adder.wanted()))
}

/// Whether the method holds the rig, without solving anything.
///
/// # Errors
/// [`Unsupported`] where it does not.
pub fn check(scenario: &Scenario, precision: Precision) -> Result<(), Unsupported> {
    ChainModel::new(scenario, precision, &never).map(|_| ())
}

/// A question whether to stop that is always denied.
fn never() -> bool {
    false
}

/// The loop of a scenario without a limit of solves; `None` where its first command is refused, and where it spreads
/// over too many places.
///
/// # Errors
/// [`Unsupported`] where the rig has a feature that the method cannot hold.
pub fn solve_long_run(
    scenario: &Scenario,
    precision: Precision,
) -> Result<Option<LongRun>, Unsupported> {
    solve_long_run_unless(scenario, precision, &never)
}

/// The long run, unless `stopped` turns true meanwhile, as in [`solve_unless`].
///
/// # Errors
/// As [`solve_long_run`]; [`Unsupported::Stopped`].
pub fn solve_long_run_unless(
    scenario: &Scenario,
    precision: Precision,
    stopped: &(dyn Fn() -> bool + Sync),
) -> Result<Option<LongRun>, Unsupported> {
    let model = ChainModel::new(scenario, precision, stopped)?;
    let Some(start) = begin(&model) else {
        return Ok(None);
    };
    let mut chain = Chain::new(&model);
    let zero_points = zero_points::of(&mut chain, start);
    let found = long_run::long_run(&mut chain, &zero_points, start);
    if chain.watch.over() {
        return Err(Unsupported::Stopped);
    }
    Ok(found)
}

/// The first command; `None` where it is refused.
fn begin(model: &ChainModel) -> Option<ChainStart> {
    let scenario = model.scenario;
    let plant = &scenario.plant;
    let parked_deg = scenario.brief.reading_deg;
    let planned = plant.plan(parked_deg, scenario.drive_angle_deg());
    let mut shaft = Shaft::at(parked_deg);
    plant.carry_out(&mut shaft, &planned, 0.0);
    let mut wound = false;
    let (mut added, seated) = match planned {
        PlannedMove::Refused => return None,
        PlannedMove::Still => (Added::default(), false),
        PlannedMove::Move { via_deg, to_deg } => {
            let mut added = turned(model, parked_deg, via_deg, to_deg);
            added.moves = 1.0;
            wound = overwinds(scenario, via_deg, to_deg);
            (added, true)
        }
    };
    added.time_s = plant.duration_s(parked_deg, &planned);
    let place = DrivePlace {
        reading_deg: shaft.reading_deg,
        output_deg: shaft.output_deg,
        seated,
    };
    Some(ChainStart {
        place,
        added,
        overwinds: wound,
    })
}
