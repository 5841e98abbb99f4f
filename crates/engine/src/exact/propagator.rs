//! Following the mass of a chain from solve to solve.

use super::chain::Chain;
use super::chain_model::ChainModel;
use super::figures::{angle_bin_deg, farthest_pass_deg};
use super::layers::{Layers, Slot};
use super::place::ChainStart;
use super::sums::{SolveSums, Sums};
use super::transition::{Added, CROSSING, Entry, LONG, TransitionRow, WINDING};

/// Room for the masses of one chain, to be used again.
///
/// A cell is a place, a repeatability error and a number of passes in a row. Runs of the same number of long swings and the same
/// [`History`] of ground share a layer.
#[derive(Debug)]
pub(super) struct Propagator<'a> {
    model: &'a ChainModel<'a>,
    /// Long swings that are told apart, none included.
    levels: usize,
    /// Runs of different numbers of moves meet at one solve, and are told apart for the sake of their times.
    counts_moves: bool,
    /// Passes in a row that settle.
    confirm: usize,
    /// Mass of every cell before a solve.
    here: Layers,
    /// Mass of every cell after it, where nothing has moved.
    staying: Layers,
    /// What arrives at every place by a move.
    arriving: Layers,
    /// Chance that a solve succeeds before too many attempts have failed.
    success: f64,
    angle_bin_deg: f64,
    farthest_pass_deg: f64,
    least_mass: f64,
}

/// One solve of the runs of one layer.
#[derive(Debug, Clone, Copy)]
struct Turn {
    /// No command follows.
    last: bool,
    /// Chance that no attempt up to here has ended the run.
    solved: f64,
    /// Commands that moved, where they are told apart.
    moves: usize,
    /// Long swings so far.
    swings: usize,
    /// What ground it has covered.
    history: History,
}

/// Ground that a run has covered: the bits [`CROSSING`] and [`WINDING`], halved.
#[derive(Debug, Clone, Copy)]
struct History(u8);

impl History {
    const COUNT: usize = 4;

    fn of(crossed: bool, wound: bool) -> Self {
        Self(u8::from(crossed) | u8::from(wound) << 1)
    }

    fn after(self, kind: u8) -> Self {
        Self(self.0 | (kind & (CROSSING | WINDING)) >> 1)
    }

    fn crossed(self) -> bool {
        self.0 & 1 != 0
    }

    fn wound(self) -> bool {
        self.0 & 2 != 0
    }
}

impl<'a> Propagator<'a> {
    pub(super) fn new(model: &'a ChainModel<'a>, success: f64) -> Self {
        let scenario = model.scenario;
        Self {
            model,
            levels: MOST_SWINGS.min(scenario.brief.max_solves as usize) + 1,
            counts_moves: model.may_repeat(),
            confirm: scenario.controller().confirm() as usize,
            here: Layers::default(),
            staying: Layers::default(),
            arriving: Layers::default(),
            success,
            angle_bin_deg: angle_bin_deg(model),
            farthest_pass_deg: farthest_pass_deg(model),
            least_mass: model.least_mass(),
        }
    }

    /// Long swings that are told apart, none included.
    pub(super) fn levels(&self) -> usize {
        self.levels
    }

    /// Adds what the chain, restarted at `start`, comes to; `weight` is the probability of its zero point.
    pub(super) fn follow(
        &mut self,
        chain: &mut Chain,
        start: ChainStart,
        weight: f64,
        sums: &mut Sums,
    ) {
        self.here.clear();
        self.staying.clear();
        self.arriving.clear();
        let history = History::of(start.crosses(), start.overwinds);
        let layer = self.layer(0, 0, history);
        self.arriving.fill_up(layer, 1)[0].mass = weight;
        self.settle_down(chain);
        let most = self.model.scenario.brief.max_solves as usize;
        let mut solved = 1.0;
        for solve in 1..=most {
            solved *= self.success;
            let mut goes_on = 0.0;
            for layer in 0..self.here.len() {
                let turn = Turn {
                    last: solve == most,
                    solved,
                    moves: layer / History::COUNT / self.levels,
                    swings: layer / History::COUNT % self.levels,
                    history: History((layer % History::COUNT) as u8),
                };
                goes_on += self.solve_in(layer, chain, turn, sums, solve);
            }
            if goes_on <= self.least_mass {
                break;
            }
            self.settle_down(chain);
        }
        let one_error = self.cells() == 1;
        for (row, seated) in chain.rows() {
            let off_deg = row.true_residual_deg;
            if row.counted == 0.0 || off_deg.abs() > self.farthest_pass_deg {
                continue;
            }
            let bins = if one_error && seated {
                &mut sums.arriving_deg
            } else {
                &mut sums.settled_deg
            };
            bins.push(off_deg, row.counted, self.angle_bin_deg);
        }
    }

    /// Cells of one place.
    fn cells(&self) -> usize {
        self.model.repeatability_errors.len() * self.confirm
    }

    /// Spreads what has arrived over the repeatability errors, and goes on to the next solve.
    fn settle_down(&mut self, chain: &Chain) {
        let cells = self.cells();
        if cells == 1 && self.staying_is_empty() {
            std::mem::swap(&mut self.here, &mut self.arriving);
            self.arriving.clear();
            return;
        }
        std::mem::swap(&mut self.here, &mut self.staying);
        self.staying.clear();
        for layer in 0..self.arriving.len() {
            let Some(arrived) = self.arriving.used(layer) else {
                continue;
            };
            let here = self.here.fill_up(layer, arrived.len() * cells);
            for (place, slot) in arrived.iter().enumerate() {
                if slot.mass == 0.0 {
                    continue;
                }
                for repeatability_error in 0..chain.repeatability_errors(place) {
                    let cell = place * cells + repeatability_error * self.confirm;
                    here[cell].take(
                        *slot,
                        chain.repeatability_error(place, repeatability_error).1,
                        0.0,
                    );
                }
            }
        }
        self.arriving.clear();
    }

    /// The layer of a history.
    fn layer(&self, moves: usize, swings: usize, history: History) -> usize {
        let (moves, swings) = (moves.min(MOST_MOVES), swings.min(self.levels - 1));
        History::COUNT * (moves * self.levels + swings) + usize::from(history.0)
    }

    fn staying_is_empty(&self) -> bool {
        (0..self.staying.len()).all(|layer| self.staying.used(layer).is_none())
    }

    /// One solve of a layer, and the commands after it; returns the mass that goes on.
    fn solve_in(
        &mut self,
        layer: usize,
        chain: &mut Chain,
        turn: Turn,
        sums: &mut Sums,
        solve: usize,
    ) -> f64 {
        let cells = self.cells();
        let Some(slots) = self.here.used(layer) else {
            return 0.0;
        };
        // Places with less than this have next to nothing to add, all together.
        let least = self.least_mass * (3.0 / slots.len() as f64).min(0.1);
        let overhead_s = self.model.scenario.plant.overhead_s();
        let moves = turn.moves + usize::from(self.counts_moves);
        let seen = slots.len() as u64;
        let (mut goes_on, mut work): (f64, u64) = (0.0, 0);
        let mut counted = LayerSums::default();
        let step = sums.step(solve);
        for (place, slots) in slots.chunks_exact(cells).enumerate() {
            if slots.iter().fold(0.0, |sum, s| sum + s.mass.abs()) <= least {
                continue;
            }
            let rows = chain.rows_from(place);
            if chain.over() {
                return 0.0;
            }
            let room = (place + 1) * cells;
            let one_error = cells == 1 && chain.at(place).seated;
            for repeatability_error in 0..chain.repeatability_errors(place) {
                let row = chain.get(rows + repeatability_error);
                let (mut arrived, mut settled) = (0.0, 0.0);
                for passes in 0..self.confirm {
                    let slot = slots[repeatability_error * self.confirm + passes];
                    if slot.mass == 0.0 {
                        continue;
                    }
                    let settles = passes + 1 == self.confirm;
                    let passed = counted.count(row, slot, settles, turn.last);
                    arrived += slot.mass;
                    settled += passed;
                    if passed != 0.0 {
                        step.settled_moving_s
                            .push_by_ratio(slot.moment_s / slot.mass, passed);
                    }
                    if turn.last {
                        continue;
                    }
                    goes_on += slot.mass * row.goes_on();
                    let cell = place * cells + repeatability_error * self.confirm + passes;
                    if !settles {
                        goes_on += slot.mass * row.pass;
                        self.staying.fill_up(layer, room)[cell + 1].take(slot, row.pass, 0.0);
                    }
                    if row.stay != 0.0 {
                        let cell = cell - passes;
                        self.staying.fill_up(layer, room)[cell].take(slot, row.stay, overhead_s);
                    }
                    let entries = chain.entries_of(row);
                    work += entries.len() as u64;
                    for entries in of_one_kind(entries) {
                        let kind = entries[0].kind;
                        let layer = self.layer(
                            moves,
                            turn.swings + usize::from(kind & LONG),
                            turn.history.after(kind),
                        );
                        move_on(entries, slot, self.arriving.fill_up(layer, chain.len()));
                    }
                }
                let share = if one_error { arrived } else { settled };
                chain.count(rows + repeatability_error, share * turn.solved);
            }
        }
        counted.add_to(step, turn);
        chain.work += work;
        chain.watch.spend(work + seen);
        goes_on
    }
}

/// Long swings that are told apart; more count as so many in shares and quantiles.
pub(super) const MOST_SWINGS: usize = 64;

/// Moves that are told apart; more count as so many in the quantiles of times.
const MOST_MOVES: usize = 64;

/// What a solve does to the runs of one layer.
#[derive(Debug, Default)]
struct LayerSums {
    running: f64,
    settled: f64,
    settled_moment_s: f64,
    unsettled: f64,
    refused: f64,
    crossing: f64,
    winding: f64,
    added: Added,
}

impl LayerSums {
    /// Counts what is in a cell before a solve; returns how much of it settles.
    #[inline]
    fn count(&mut self, row: &TransitionRow, slot: Slot, settles: bool, last: bool) -> f64 {
        let passed = slot.mass * row.pass;
        let settled = if settles { passed } else { 0.0 };
        self.running += slot.mass;
        self.settled += settled;
        if settles {
            self.settled_moment_s += slot.moment_s * row.pass;
        }
        if last {
            self.unsettled += slot.mass * (row.goes_on() + row.refuse) + passed - settled;
            return settled;
        }
        self.refused += slot.mass * row.refuse;
        if !row.is_certain_to_pass() {
            self.crossing += slot.mass * row.crossing;
            self.winding += slot.mass * row.winding;
            self.added.add(&row.added, slot.mass);
        }
        settled
    }

    fn add_to(&self, step: &mut SolveSums, turn: Turn) {
        let swings = turn.swings;
        step.running[swings] += self.running;
        step.settled[swings] += self.settled;
        step.settled_moment_s += self.settled_moment_s;
        step.unsettled[swings] += self.unsettled;
        step.refused[swings] += self.refused;
        step.added.add(&self.added, 1.0);
        if swings >= 2 || turn.history.0 != 0 {
            step.settled_badly += self.settled;
        }
        if swings == 1 {
            step.second_swing += self.added.long_swings;
        }
        if !turn.history.crossed() {
            step.first_crossing += self.crossing;
        }
        if !turn.history.wound() {
            step.first_winding += self.winding;
        }
    }
}

/// Entries, which are ordered by kind, in groups of one kind. Nearly always there is one group.
#[inline]
fn of_one_kind(mut entries: &[Entry]) -> impl Iterator<Item = &[Entry]> {
    std::iter::from_fn(move || {
        let kind = entries.first()?.kind;
        let count = if entries[entries.len() - 1].kind == kind {
            entries.len()
        } else {
            entries.partition_point(|e| e.kind == kind)
        };
        let group;
        (group, entries) = entries.split_at(count);
        Some(group)
    })
}

/// Moves what is in a cell, and does not settle or stay, to where it is before the next solve.
#[inline]
fn move_on(entries: &[Entry], slot: Slot, arriving: &mut [Slot]) {
    for entry in entries {
        arriving[entry.place as usize].take(slot, entry.probability, entry.duration_s);
    }
}
