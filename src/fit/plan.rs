//! The shortest list of moves and solves that tells everything to a wanted accuracy.
//!
//! A plan is one sweep up and one down, so that the drive turns back once and ends where it began. What each stop
//! tells about the parameters is known beforehand from the model (Fisher information); stops are added one by one where
//! they lower the scaled sum of variances most for their time (A-optimality, Atkinson, Donev & Tobias 2007, "Optimum
//! Experimental Designs", chapters 10 and 12), then exchanged and dropped as long as the wanted accuracy holds.

use nalgebra::{Matrix2, SMatrix, SVector};

use super::interval::student;
use super::model::{BASE, GAIN, base};
use super::rehearse::PlanStep;
use crate::angle::TURN_DEG;
use crate::plant::{Plant, Travel};
use crate::rig::{Rig, RigSettings};

/// Parameters of the mechanics.
const COUNT: usize = BASE + 1;

/// Places in each sweep at which a stop may be.
const PLACES: usize = 120;

/// Most solves at one stop.
const MOST_SOLVES: u32 = 3;

/// Most stops of a plan: beyond, the accuracy cannot be had.
const MOST_STOPS: usize = 400;

/// Longest move \[deg\], so that an endless drive never takes the other way round.
const LONGEST_MOVE_DEG: f64 = 120.0;

/// How well seating and noise are to be known, as a share of them.
const SIGMA_SHARE: f64 = 0.6;

/// What a plan is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Half the width of the 95 % interval of every error of the mechanics \[deg\]; of the gain error, over half a turn.
    pub accuracy_deg: f64,
    /// Lowest reading \[deg\].
    pub from_deg: f64,
    /// Highest reading \[deg\].
    pub to_deg: f64,
    /// What is to be known so well.
    pub goal: Goal,
}

/// What a plan makes known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Every error by itself.
    Errors,
    /// The position angle at every reading of the arc, and the play. Over part of a turn this takes far fewer solves: errors that
    /// look alike there need not be told apart.
    Angles,
}

/// A list of moves and solves.
#[derive(Debug, Clone, PartialEq)]
pub struct FitPlan {
    /// The moves in their order.
    pub steps: Vec<PlanStep>,
    /// Time that it takes \[s\].
    pub time_s: f64,
    /// Half the width that the widest 95 % interval of the mechanics will have \[deg\].
    pub accuracy_deg: f64,
}

impl FitPlan {
    /// Number of solves.
    #[must_use]
    pub fn solves(&self) -> u32 {
        self.steps.iter().map(|s| s.solves).sum()
    }
}

/// Why there is no plan.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The range of readings is too small.
    #[error("the readings from {from_deg} to {to_deg} deg leave no room for a sweep")]
    NoRoom {
        /// Lowest reading \[deg\].
        from_deg: f64,
        /// Highest reading \[deg\].
        to_deg: f64,
    },
    /// The accuracy takes too many solves.
    #[error(
        "an accuracy of {accuracy_deg} deg is out of reach: {stops} stops from {from_deg} to {to_deg} deg reach {reached_deg:.3} deg. A wider arc tells more than more solves"
    )]
    OutOfReach {
        /// What was wanted \[deg\].
        accuracy_deg: f64,
        /// What can be had \[deg\].
        reached_deg: f64,
        /// With so many stops.
        stops: usize,
        /// Lowest reading \[deg\].
        from_deg: f64,
        /// Highest reading \[deg\].
        to_deg: f64,
    },
}

/// The widest arc that the rig may sweep: between its stops, or a whole turn from the start of its arc, and in it the
/// longest part that no keep-out touches \[deg\].
#[must_use]
pub fn free_arc_deg(rig: &Rig) -> (f64, f64) {
    let s = rig.settings();
    let (low, high) = match Plant::new(rig).travel() {
        Travel::Stops { lo_deg, hi_deg } => (lo_deg, hi_deg),
        Travel::Endless => (s.wrap.arc_start_deg, s.wrap.arc_start_deg + TURN_DEG),
    };
    if s.keep_out.is_empty() {
        return (low, high);
    }
    // Free parts may go on beyond the end of the turn where nothing stops the drive.
    let endless = matches!(Plant::new(rig).travel(), Travel::Endless);
    let mut sectors: Vec<(f64, f64)> = Vec::new();
    for k in &s.keep_out {
        let width = (k.to_deg - k.from_deg).rem_euclid(TURN_DEG);
        for turn in -1..=2 {
            let from = k.from_deg.rem_euclid(TURN_DEG) + f64::from(turn) * TURN_DEG;
            if endless {
                sectors.push((from, from + width));
            }
        }
        if !endless {
            sectors.push((k.from_deg, k.to_deg));
        }
    }
    sectors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let last = if endless { high + TURN_DEG } else { high };
    let mut best = (low, low);
    let mut at = low;
    for (from, to) in sectors.into_iter().chain([(last, last)]) {
        let end = from.min(last);
        if end - at > best.1 - best.0 && at < high {
            best = (at, end.min(at + TURN_DEG));
        }
        at = at.max(to);
    }
    // On the turn where the drive is parked.
    let turns = ((s.drive.park_deg - best.0) / TURN_DEG).floor() * TURN_DEG;
    if endless {
        (best.0 + turns, best.1 + turns)
    } else {
        best
    }
}

/// One stop of a sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stop {
    at_deg: f64,
    up: bool,
    solves: u32,
}

/// What is known beforehand.
struct Design<'a> {
    rig: &'a RigSettings,
    seating: f64,
    noise: f64,
    accuracy_deg: f64,
    /// Combinations of the parameters that are to be known.
    wanted: Vec<SVector<f64, COUNT>>,
}

/// Inverse variances of the parameters, and of the two variances of a row.
#[derive(Clone)]
struct Information {
    mechanics: SMatrix<f64, COUNT, COUNT>,
    variances: Matrix2<f64>,
    stops: usize,
}

impl Design<'_> {
    fn of(rig: &RigSettings, wanted: Wanted) -> Design<'_> {
        /// Readings at which the angles of an arc are looked at.
        const LOOKED_AT: u32 = 24;
        let unit = |j: usize| SVector::<f64, COUNT>::from_fn(|i, _| f64::from(u8::from(i == j)));
        let combinations = match wanted.goal {
            Goal::Errors => (0..COUNT).map(unit).collect(),
            Goal::Angles => {
                let share = |i: u32| f64::from(i) / f64::from(LOOKED_AT);
                let at = |i| wanted.from_deg + (wanted.to_deg - wanted.from_deg) * share(i);
                let angles = (0..=LOOKED_AT)
                    .map(at)
                    .flat_map(|at_deg| [true, false].map(|up| row(rig, at_deg, up)));
                angles.chain([unit(BASE)]).collect()
            }
        };
        /// Nobody knows less than this beforehand \[deg\].
        const LEAST_DEG: f64 = 1e-3;
        Design {
            rig,
            seating: rig.drive.repeatability_deg.powi(2),
            noise: rig.solve.noise_deg.max(LEAST_DEG).powi(2),
            accuracy_deg: wanted.accuracy_deg,
            wanted: combinations,
        }
    }

    fn nothing(&self) -> Information {
        // Next to nothing, so that there is an inverse.
        Information {
            mechanics: SMatrix::identity() * 1e-4,
            variances: Matrix2::identity() * (1e-4 / (self.noise * self.noise)),
            stops: 0,
        }
    }

    fn add(&self, information: &mut Information, stop: &Stop, sign: f64) {
        let row = row(self.rig, stop.at_deg, stop.up);
        let solves = f64::from(stop.solves);
        let weight = 1.0 / (self.seating + self.noise / solves);
        information.mechanics += row * row.transpose() * (sign * weight);
        let between = 0.5 * weight * weight;
        let within = 0.5 * (solves - 1.0) / (self.noise * self.noise);
        let both = between / solves;
        information.variances += Matrix2::new(between, both, both, both / solves + within) * sign;
        information.stops = information.stops.saturating_add_signed(sign as isize);
    }

    /// Half widths over what is wanted, squared; done when none is above 1.
    fn excess(&self, information: &Information) -> Excess {
        let freedom = information.stops.saturating_sub(COUNT);
        let factor = if freedom == 0 { 20.0 } else { student(freedom) };
        let scale = (factor / self.accuracy_deg).powi(2);
        let mechanics = match information.mechanics.try_inverse() {
            Some(covariance) => {
                let wanted = self.wanted.iter();
                wanted.map(|w| w.dot(&(covariance * w)) * scale).collect()
            }
            None => vec![f64::INFINITY; self.wanted.len()],
        };
        let mut sigmas = [f64::INFINITY; 2];
        if let Some(covariance) = information.variances.try_inverse() {
            // Of a deviation: that of its square over twice itself. Seating below half the noise matters little.
            let seating = self.seating.max(0.25 * self.noise);
            for (j, v) in [seating, self.noise].into_iter().enumerate() {
                let relative = covariance[(j, j)] / (4.0 * v * v);
                sigmas[j] = relative * (factor / SIGMA_SHARE).powi(2);
            }
        }
        Excess { mechanics, sigmas }
    }

    fn cost_s(&self, stop: &Stop) -> f64 {
        let solve = &self.rig.solve;
        // Stopping costs about a degree of travel, too.
        let stopping_s = self.rig.drive.overhead_s + 1.0 / self.rig.drive.speed_deg_per_s;
        stopping_s + f64::from(stop.solves) * (solve.exposure_s + solve.solve_s)
    }
}

/// What a stop tells: its row of the model, with all parameters as angles, the gain error over half a turn.
fn row(rig: &RigSettings, at_deg: f64, up: bool) -> SVector<f64, COUNT> {
    let slope = if up { -0.5 } else { 0.5 };
    let columns = base(at_deg + slope * rig.drive.backlash_deg);
    let mut row = SVector::from_fn(|j, _| columns.get(j).copied().unwrap_or(slope));
    row[GAIN] *= 2.0 / TURN_DEG;
    row
}

/// How far a design is from what is wanted.
struct Excess {
    mechanics: Vec<f64>,
    sigmas: [f64; 2],
}

impl Excess {
    fn widest(&self) -> f64 {
        self.mechanics.iter().copied().fold(0.0, f64::max)
    }

    fn done(&self) -> bool {
        self.widest() <= 1.0 && self.sigmas.iter().all(|e| *e <= 1.0)
    }

    /// What is to become small. What is reached is worth little more.
    fn sum(&self) -> f64 {
        let floor = |e: &f64| e.max(0.2);
        let share = 7.0 / self.mechanics.len() as f64;
        share * self.mechanics.iter().map(floor).sum::<f64>()
            + self.sigmas.iter().map(floor).sum::<f64>()
    }
}

/// Finds a plan.
///
/// # Errors
/// [`PlanError`].
pub fn plan(rig: &Rig, wanted: Wanted) -> Result<FitPlan, PlanError> {
    let s = rig.settings();
    let design = Design::of(s, wanted);
    let lead = lead_deg(s);
    let (low, high) = (wanted.from_deg + lead, wanted.to_deg - lead);
    if high - low < lead {
        return Err(PlanError::NoRoom {
            from_deg: wanted.from_deg,
            to_deg: wanted.to_deg,
        });
    }
    let candidates = candidates((low, high));
    let mut stops: Vec<Stop> = Vec::new();
    let mut information = design.nothing();
    while !design.excess(&information).done() {
        let before = design.excess(&information).sum();
        let gain = |stop: &Stop| {
            let mut with = information.clone();
            design.add(&mut with, stop, 1.0);
            (before - design.excess(&with).sum()) / design.cost_s(stop)
        };
        let free = candidates
            .iter()
            .filter(|c| !stops.iter().any(|s| s.at_deg == c.at_deg && s.up == c.up));
        let best = free.max_by(|a, b| gain(a).total_cmp(&gain(b)));
        let Some(best) = best.filter(|_| stops.len() < MOST_STOPS) else {
            return Err(PlanError::OutOfReach {
                accuracy_deg: wanted.accuracy_deg,
                reached_deg: reached_deg(&design, &information),
                stops: stops.len(),
                from_deg: wanted.from_deg,
                to_deg: wanted.to_deg,
            });
        };
        design.add(&mut information, best, 1.0);
        stops.push(*best);
    }
    while let Some(fewer) = improved(&design, &stops, &candidates) {
        stops = fewer;
    }
    Ok(finished(rig, &design, stops, wanted))
}

/// The plain way, for comparison: evenly spaced stops up and down, each solved twice, as many as it takes.
///
/// # Errors
/// [`PlanError::OutOfReach`].
pub fn naive_sweep(rig: &Rig, wanted: Wanted) -> Result<FitPlan, PlanError> {
    let s = rig.settings();
    let design = Design::of(s, wanted);
    let lead = lead_deg(s);
    let (low, high) = (wanted.from_deg + lead, wanted.to_deg - lead);
    let mut information = design.nothing();
    for count in 2..=MOST_STOPS {
        let at = |i: usize| low + (high - low) * i as f64 / (count - 1) as f64;
        let sweep = |up| {
            (0..count).map(move |i| Stop {
                at_deg: at(i),
                up,
                solves: 2,
            })
        };
        let stops: Vec<Stop> = sweep(true).chain(sweep(false)).collect();
        information = design.nothing();
        for stop in &stops {
            design.add(&mut information, stop, 1.0);
        }
        if design.excess(&information).done() {
            return Ok(finished(rig, &design, stops, wanted));
        }
    }
    Err(PlanError::OutOfReach {
        accuracy_deg: wanted.accuracy_deg,
        reached_deg: reached_deg(&design, &information),
        stops: 2 * MOST_STOPS,
        from_deg: wanted.from_deg,
        to_deg: wanted.to_deg,
    })
}

/// How far the drive must go after a turn before the play is surely taken up \[deg\].
fn lead_deg(rig: &RigSettings) -> f64 {
    (3.0 * rig.drive.backlash_deg).max(1.0)
}

/// Places of the sweeps, unevenly spaced and with odd decimals, so that the readings tell the step.
fn candidates((low, high): (f64, f64)) -> Vec<Stop> {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let cell = (high - low) / PLACES as f64;
    let mut found = Vec::new();
    for up in [true, false] {
        for i in 0..PLACES {
            let shift = (GOLDEN * (2 * i + usize::from(up)) as f64).fract();
            let at_deg = low + cell * (i as f64 + shift);
            let at_deg = (100.0 * at_deg).round() / 100.0;
            found.extend((1..=MOST_SOLVES).map(|solves| Stop { at_deg, up, solves }));
        }
    }
    found
}

/// The same plan with a stop or a solve less, perhaps after an exchange.
fn improved(design: &Design<'_>, stops: &[Stop], candidates: &[Stop]) -> Option<Vec<Stop>> {
    let total = |stops: &[Stop]| {
        let mut information = design.nothing();
        for stop in stops {
            design.add(&mut information, stop, 1.0);
        }
        information
    };
    let without = |i: usize| -> Vec<Stop> {
        let others = stops.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, s)| *s).collect()
    };
    let mut order: Vec<(usize, f64)> = (0..stops.len())
        .map(|i| (i, design.excess(&total(&without(i))).sum()))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (i, _) in &order {
        let mut fewer = without(*i);
        if design.excess(&total(&fewer)).done() {
            return Some(fewer);
        }
        if stops[*i].solves > 1 {
            let solves = stops[*i].solves - 1;
            fewer.push(Stop {
                solves,
                ..stops[*i]
            });
            if design.excess(&total(&fewer)).done() {
                return Some(fewer);
            }
        }
    }
    // Two for one: the best replacement of one stop may make another superfluous.
    for (i, _) in order.iter().take(8) {
        let rest = without(*i);
        for (j, _) in order.iter().take(8).filter(|(j, _)| j != i) {
            let fewer: Vec<Stop> = rest.iter().copied().filter(|s| *s != stops[*j]).collect();
            let base = total(&fewer);
            let found = candidates.iter().find(|c| {
                let taken = fewer.iter().any(|s| s.at_deg == c.at_deg && s.up == c.up);
                let mut with = base.clone();
                design.add(&mut with, c, 1.0);
                let saved = design.cost_s(&stops[*i]) + design.cost_s(&stops[*j]);
                !taken && design.cost_s(c) < saved && design.excess(&with).done()
            });
            if let Some(found) = found {
                return Some(fewer.into_iter().chain([*found]).collect());
            }
        }
    }
    None
}

fn reached_deg(design: &Design<'_>, information: &Information) -> f64 {
    design.excess(information).widest().sqrt() * design.accuracy_deg
}

/// The stops in their order, with the moves that lead in and turn round.
fn finished(rig: &Rig, design: &Design<'_>, mut stops: Vec<Stop>, wanted: Wanted) -> FitPlan {
    let mut information = design.nothing();
    for stop in &stops {
        design.add(&mut information, stop, 1.0);
    }
    stops.sort_by(|a, b| {
        let along = |s: &Stop| if s.up { s.at_deg } else { -s.at_deg };
        b.up.cmp(&a.up).then(along(a).total_cmp(&along(b)))
    });
    let mut steps = Vec::new();
    let mut at_deg = rig.settings().drive.park_deg;
    let mut go = |to_deg: f64, solves: u32| {
        // Long ways in equal parts.
        let parts = ((to_deg - at_deg).abs() / LONGEST_MOVE_DEG).ceil().max(1.0);
        for part in 1..parts as u32 {
            let way_deg = at_deg + (to_deg - at_deg) * f64::from(part) / parts;
            steps.push(PlanStep {
                to_deg: (100.0 * way_deg).round() / 100.0,
                solves: 0,
            });
        }
        steps.push(PlanStep { to_deg, solves });
        at_deg = to_deg;
    };
    let mut up_before = None;
    for stop in &stops {
        if up_before != Some(stop.up) {
            go(
                if stop.up {
                    wanted.from_deg
                } else {
                    wanted.to_deg
                },
                0,
            );
            up_before = Some(stop.up);
        }
        go(stop.at_deg, stop.solves);
    }
    FitPlan {
        time_s: time_s(rig, &steps),
        steps,
        accuracy_deg: reached_deg(design, &information),
    }
}

/// Time of all moves and solves \[s\], without failures.
fn time_s(rig: &Rig, steps: &[PlanStep]) -> f64 {
    let s = rig.settings();
    let plant = Plant::new(rig);
    let mut at_deg = s.drive.park_deg;
    let mut time_s = 0.0;
    for step in steps {
        let move_plan = plant.plan(at_deg, step.to_deg);
        time_s += plant.duration_s(at_deg, &move_plan);
        if let crate::plant::Plan::Move { to_deg, .. } = move_plan {
            at_deg = to_deg;
        }
        time_s += f64::from(step.solves) * (s.solve.exposure_s + s.solve.solve_s);
    }
    time_s
}
