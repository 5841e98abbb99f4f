//! Following the mass of a chain from solve to solve.

use super::chain::{Chain, Place};
use super::kernel::Kernel;
use super::row::{CROSSING, LONG, Row};
use super::sums::{Step, Sums};

/// Where every run stands after the first command, which knows nothing of the zero point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start {
    pub(super) place: Place,
    /// The first command turns through a keep-out.
    pub(super) crosses: bool,
}

/// Room for the masses of one chain, to be used again.
///
/// A cell is a place, a seating and a number of passes in a row. It has slots for every number of long swings,
/// twice over where keep-outs are told apart.
#[derive(Debug)]
pub(super) struct Follower<'a> {
    kernel: &'a Kernel<'a>,
    /// Long swings that are told apart, none included.
    levels: usize,
    /// 2 where runs that have turned through a keep-out are told apart, else 1.
    sides: usize,
    /// Passes in a row that settle.
    confirm: usize,
    /// The slots of all cells before a solve.
    here: Vec<Slot>,
    /// The slots of all cells after it, where nothing has moved.
    staying: Vec<Slot>,
    /// What arrives by a move: slots for every place.
    arriving: Vec<Slot>,
    /// Chance that a solve succeeds before too many attempts have failed.
    success: f64,
    angle_bin_deg: f64,
}

/// A mass, and the mass times the time of its commands \[s\].
#[derive(Debug, Clone, Copy, Default)]
struct Slot {
    mass: f64,
    moment_s: f64,
}

impl Slot {
    /// Adds a share of another slot, whose command took so long.
    #[inline(always)]
    fn take(&mut self, from: Self, share: f64, duration_s: f64) {
        self.mass += from.mass * share;
        self.moment_s += (from.moment_s + from.mass * duration_s) * share;
    }
}

/// One solve of all runs.
#[derive(Debug, Clone, Copy)]
struct Turn {
    /// Its number, from 1.
    solve: usize,
    /// No command follows.
    last: bool,
    /// Most long swings so far.
    swings: usize,
    /// Chance that no attempt up to here has ended the run.
    solved: f64,
}

impl<'a> Follower<'a> {
    pub(super) fn new(kernel: &'a Kernel<'a>, success: f64, angle_bin_deg: f64) -> Self {
        let scenario = kernel.scenario;
        let most = kernel.precision.most_swings;
        Self {
            kernel,
            levels: most.min(scenario.brief.max_solves as usize) + 1,
            sides: if scenario.ground.keep_out().is_empty() {
                1
            } else {
                2
            },
            confirm: scenario.controller().confirm() as usize,
            here: Vec::new(),
            staying: Vec::new(),
            arriving: Vec::new(),
            success,
            angle_bin_deg,
        }
    }

    /// Long swings that are told apart, none included.
    pub(super) fn levels(&self) -> usize {
        self.levels
    }

    /// Adds what the chain, restarted at `start`, comes to; `weight` is the probability of its zero point.
    pub(super) fn follow(&mut self, chain: &mut Chain, start: Start, weight: f64, sums: &mut Sums) {
        self.here.clear();
        self.staying.clear();
        self.arriving.clear();
        self.make_room(chain.len());
        let side = usize::from(start.crosses).min(self.sides - 1);
        self.arriving[side * self.levels].mass = weight;
        self.settle_down(chain);
        let most = self.kernel.scenario.brief.max_solves as usize;
        let mut solved = 1.0;
        for solve in 1..=most {
            solved *= self.success;
            let turn = Turn {
                solve,
                last: solve == most,
                swings: (solve - 1).min(self.levels - 1),
                solved,
            };
            let mut followed = 0.0;
            for place in 0..self.here.len() / self.slots_of_place() {
                followed += self.solve_at(chain, place, turn, sums);
            }
            if followed <= self.kernel.precision.least_mass {
                break;
            }
            self.settle_down(chain);
        }
    }

    fn cells(&self) -> usize {
        self.kernel.seatings.len() * self.confirm
    }

    fn slots_of_place(&self) -> usize {
        self.cells() * self.sides * self.levels
    }

    fn make_room(&mut self, places: usize) {
        let slots = places * self.slots_of_place();
        self.here.resize(slots, Slot::default());
        self.staying.resize(slots, Slot::default());
        self.arriving
            .resize(places * self.sides * self.levels, Slot::default());
    }

    /// Spreads what has arrived over the seatings, and goes on to the next solve.
    fn settle_down(&mut self, chain: &Chain) {
        std::mem::swap(&mut self.here, &mut self.staying);
        self.staying.fill(Slot::default());
        let row = self.sides * self.levels;
        for place in 0..chain.len() {
            let arrived = &self.arriving[place * row..(place + 1) * row];
            if arrived.iter().all(|slot| slot.mass == 0.0) {
                continue;
            }
            for seating in 0..chain.seatings(place) {
                let share = chain.seating(place, seating).1;
                let cell = place * self.cells() + seating * self.confirm;
                for (to, from) in self.here[cell * row..].iter_mut().zip(arrived) {
                    to.take(*from, share, 0.0);
                }
            }
        }
        self.arriving.fill(Slot::default());
    }

    /// One solve at a place, and the commands after it; returns the mass that goes on.
    fn solve_at(&mut self, chain: &mut Chain, place: usize, turn: Turn, sums: &mut Sums) -> f64 {
        let slots = self.slots_of_place();
        let of_place = &self.here[place * slots..(place + 1) * slots];
        let mass: f64 = of_place.iter().map(|s| s.mass.abs()).sum();
        if mass <= 1e-3 * self.kernel.precision.least_mass {
            return 0.0;
        }
        let rows = chain.rows_from(place);
        self.make_room(chain.len());
        let one_error = !self.kernel.seatings_apart() && self.confirm == 1 && chain.at(place).seated;
        let mut goes_on = 0.0;
        for seating in 0..chain.seatings(place) {
            let row = chain.get(rows + seating);
            let (mut arrived, mut settled) = (0.0, 0.0);
            for passes in 0..self.confirm {
                let cell = place * self.cells() + seating * self.confirm + passes;
                let step = sums.step(turn.solve);
                let (here, passed) = self.count(row, cell, passes, turn, step);
                arrived += here;
                settled += passed;
                goes_on += here * row.goes_on();
                if passes + 1 < self.confirm {
                    goes_on += here * row.pass;
                }
                if !turn.last && here != 0.0 {
                    self.command(row, cell, passes, turn);
                }
            }
            let off_deg = chain.true_residual_deg(place, seating);
            if one_error {
                sums.arriving_deg
                    .push(off_deg, arrived * turn.solved, self.angle_bin_deg);
            } else {
                sums.settled_deg
                    .push(off_deg, settled * turn.solved, self.angle_bin_deg);
            }
        }
        goes_on
    }

    /// Counts what is in a cell before a solve; returns its mass, and how much of it settles.
    fn count(
        &self,
        row: &Row,
        cell: usize,
        passes: usize,
        turn: Turn,
        step: &mut Step,
    ) -> (f64, f64) {
        let settles = passes + 1 == self.confirm;
        let (mut here, mut settled) = (0.0, 0.0);
        for side in 0..self.sides {
            let slots = (cell * self.sides + side) * self.levels;
            for (swings, slot) in self.here[slots..=slots + turn.swings].iter().enumerate() {
                if slot.mass == 0.0 {
                    continue;
                }
                here += slot.mass;
                step.running[swings] += slot.mass;
                if settles {
                    let passed = slot.mass * row.pass;
                    settled += passed;
                    step.settled[swings] += passed;
                    if swings >= 2 || side == 1 {
                        step.settled_badly += passed;
                    }
                    if passed > 0.0 {
                        step.settled_moving_s
                            .push_by_ratio(slot.moment_s / slot.mass, passed);
                    }
                }
                if turn.last {
                    let passed = if settles { 0.0 } else { row.pass };
                    step.unsettled[swings] += slot.mass * (row.goes_on() + row.refuse + passed);
                } else {
                    step.refused[swings] += slot.mass * row.refuse;
                    if swings == 1 {
                        step.second_swing += slot.mass * row.long();
                    }
                    if side == 0 && self.sides == 2 {
                        step.first_crossing += slot.mass * row.crossing();
                    }
                }
            }
        }
        if !turn.last {
            step.added.add(&row.added, here);
        }
        (here, settled)
    }

    /// Moves what is in a cell and does not settle to where it is before the next solve.
    fn command(&mut self, row: &Row, cell: usize, passes: usize, turn: Turn) {
        let (sides, levels) = (self.sides, self.levels);
        let overhead_s = self.kernel.scenario.plant.overhead_s();
        for side in 0..sides {
            let slots = (cell * sides + side) * levels;
            let from = &self.here[slots..=slots + turn.swings];
            if from.iter().all(|slot| slot.mass == 0.0) {
                continue;
            }
            if passes + 1 < self.confirm {
                let to = ((cell + 1) * sides + side) * levels;
                for (to, from) in self.staying[to..].iter_mut().zip(from) {
                    to.take(*from, row.pass, 0.0);
                }
            }
            if row.stay != 0.0 {
                let to = ((cell - passes) * sides + side) * levels;
                for (to, from) in self.staying[to..].iter_mut().zip(from) {
                    to.take(*from, row.stay, overhead_s);
                }
            }
            for entry in &row.entries {
                let crossed = (side == 1 || entry.kind & CROSSING != 0) && sides == 2;
                let to = (entry.place as usize * sides + usize::from(crossed)) * levels;
                let to = &mut self.arriving[to..to + levels];
                let long = usize::from(entry.kind & LONG);
                for (swings, from) in from.iter().enumerate() {
                    let swings = (swings + long).min(levels - 1);
                    to[swings].take(*from, entry.probability, entry.duration_s);
                }
            }
        }
    }
}
