//! The loop with no limit of solves: whether it ends, after how many solves, and how persistent it is.

use serde::Serialize;

use super::absorbing::{Absorbed, Absorbing};
use super::chain::Chain;
use super::chain_model::Node;
use super::place::ChainStart;

/// What becomes of the loop if it may solve without end. Failed attempts are left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LongRun {
    /// Probability that the loop never ends: it enters a set of states that it leaves with a chance of less than
    /// one in a billion a round.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub never_ends: f64,
    /// Mean number of good solves of the loops that do end.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub mean_solves: f64,
    /// The chance that a hunting loop goes on one more solve: the spectral radius of the transient part of the
    /// chain, at the zero point within six sigma for which it is largest.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub persistence: f64,
    /// The zero point where it is greatest, less the believed one \[deg\].
    pub worst_zero_error_deg: f64,
}

/// A state that is left with less than this chance a round is not left.
const TRAP: f64 = 1e-9;

/// Larger chains are followed step by step instead of being eliminated.
const MOST_STATES: usize = 160;

/// A chain of which less than this is left has ended.
const NOTHING_LEFT: f64 = 1e-16;

/// Most chains end within so many steps.
const QUICK_STEPS: usize = 12;

/// Most steps of a chain that is followed, and of the power iteration.
const MOST_STEPS: usize = 1000;

/// Larger chains than this have no long run.
const MOST_REACHED: usize = 1500;

/// Zero points beyond this many sigma do not count for the persistence.
const WORST_SIGMAS: f64 = 6.0;

/// Zero points that the persistence is looked for at: about so many, evenly over the grid.
const ZERO_POINTS: usize = 160;

/// The long run over all zero points; `None` where a chain has too many states.
pub(super) fn long_run(
    chain: &mut Chain,
    zero_points: &[Node],
    start: ChainStart,
) -> Option<LongRun> {
    let model = chain.model;
    let mut found = LongRun {
        never_ends: 0.0,
        mean_solves: 0.0,
        persistence: 0.0,
        worst_zero_error_deg: 0.0,
    };
    let mut ending = 0.0;
    let every = zero_points.len().div_ceil(ZERO_POINTS);
    let sigma_deg = model.scenario.zero_point_sigma_deg;
    let least_mass = model.least_mass();
    for (i, node) in zero_points.iter().enumerate() {
        if node.weight < least_mass {
            continue;
        }
        chain.restart(node.error_deg, start.place);
        let states = TransientStates::reached(chain)?;
        let absorbed = states.absorbed(chain);
        if chain.watch.over() {
            return None;
        }
        found.never_ends += node.weight * absorbed.trapped;
        found.mean_solves += node.weight * absorbed.steps;
        ending += node.weight * (1.0 - absorbed.trapped);
        if i % every == 0 && node.error_deg.abs() <= WORST_SIGMAS * sigma_deg {
            let radius = states.spectral_radius(chain, found.persistence);
            if radius > found.persistence {
                found.persistence = radius;
                found.worst_zero_error_deg = node.error_deg;
            }
        }
    }
    found.mean_solves = if ending > 0.0 {
        found.mean_solves / ending
    } else {
        f64::INFINITY
    };
    Some(found)
}

/// A chain that was followed step by step.
struct Followed {
    absorbed: Absorbed<2>,
    /// What had not ended.
    left: f64,
}

/// The transient states of a chain: a place with a repeatability error and a number of passes.
struct TransientStates {
    /// Place, row, repeatability error's share on arrival, and passes so far.
    states: Vec<TransientState>,
    /// First state of every place of the chain, if it is reached.
    of_place: Vec<Option<usize>>,
    confirm: usize,
}

#[derive(Debug, Clone, Copy)]
struct TransientState {
    row: usize,
    passes: usize,
    /// States of the same repeatability error begin here.
    repeatability_error: usize,
}

/// Probabilities below this make no new state.
const UNREACHED: f64 = 1e-14;

impl TransientStates {
    fn reached(chain: &mut Chain) -> Option<Self> {
        let confirm = chain.model.scenario.controller().confirm() as usize;
        let mut found = Self {
            states: Vec::new(),
            of_place: vec![None],
            confirm,
        };
        let mut queue = vec![0_usize];
        while let Some(place) = queue.pop() {
            found.of_place.resize(chain.len(), None);
            if found.states.len() > MOST_REACHED {
                return None;
            }
            if found.of_place[place].is_some() {
                continue;
            }
            found.of_place[place] = Some(found.states.len());
            let rows = chain.rows_from(place);
            for repeatability_error in 0..chain.repeatability_errors(place) {
                let first = found.states.len();
                found
                    .states
                    .extend((0..confirm).map(|passes| TransientState {
                        row: rows + repeatability_error,
                        passes,
                        repeatability_error: first,
                    }));
                let entries = chain.entries_of(chain.get(rows + repeatability_error));
                let likely = entries.iter().filter(|e| e.probability > UNREACHED);
                queue.extend(likely.map(|e| e.place as usize));
            }
        }
        found.of_place.resize(chain.len(), None);
        Some(found)
    }

    /// Hands on where a state leads, with the probability of each.
    fn moves(&self, chain: &Chain, state: usize, mut to: impl FnMut(usize, f64)) {
        let at = self.states[state];
        let row = chain.get(at.row);
        if at.passes + 1 < self.confirm {
            to(state + 1, row.pass);
        }
        if row.stay > 0.0 {
            to(at.repeatability_error, row.stay);
        }
        for entry in chain.entries_of(row) {
            let place = entry.place as usize;
            let Some(first) = self.of_place[place] else {
                continue;
            };
            for repeatability_error in 0..chain.repeatability_errors(place) {
                let share = chain.repeatability_error(place, repeatability_error).1;
                to(
                    first + repeatability_error * self.confirm,
                    entry.probability.max(0.0) * share,
                );
            }
        }
    }

    /// Probability that a state settles or is refused.
    fn ends(&self, chain: &Chain, state: usize) -> [f64; 2] {
        let at = self.states[state];
        let row = chain.get(at.row);
        let settles = at.passes + 1 == self.confirm;
        [if settles { row.pass } else { 0.0 }, row.refuse]
    }

    fn absorbed(&self, chain: &Chain) -> Absorbed<2> {
        let n = self.states.len();
        if n > MOST_STATES {
            return self.followed(chain, MOST_STEPS).absorbed;
        }
        let quick = self.followed(chain, QUICK_STEPS);
        if quick.left == 0.0 {
            return quick.absorbed;
        }
        let mut absorbing = Absorbing::new(n);
        for state in 0..n {
            self.moves(chain, state, |to, p| absorbing.add_move(state, to, p));
            for (kind, p) in self.ends(chain, state).into_iter().enumerate() {
                absorbing.add_end(state, kind, p);
            }
        }
        absorbing.absorbed_from_first(TRAP)
    }

    /// The ends of a large chain, step by step, and from there on by the chance to go on.
    fn followed(&self, chain: &Chain, most: usize) -> Followed {
        let mut mass = vec![0.0; self.states.len()];
        mass[0] = 1.0;
        let (mut ends, mut steps) = ([0.0; 2], 0.0);
        let (mut before, mut here) = (1.0, 1.0);
        for _ in 0..most {
            if chain.watch.over() {
                break;
            }
            for (state, mass) in mass.iter().enumerate().filter(|(_, m)| **m > 0.0) {
                for (sum, end) in ends.iter_mut().zip(self.ends(chain, state)) {
                    *sum += mass * end;
                }
            }
            steps += here;
            mass = self.step(chain, &mass);
            before = here;
            here = mass.iter().sum();
            if here < NOTHING_LEFT {
                here = 0.0;
                break;
            }
        }
        // What is left decays as it did in the last step.
        let goes_on = here / before;
        let trapped = if 1.0 - goes_on < TRAP { here } else { 0.0 };
        if here > 0.0 && trapped == 0.0 {
            steps += here / (1.0 - goes_on);
        }
        Followed {
            absorbed: Absorbed {
                ends,
                trapped,
                steps,
            },
            left: here,
        }
    }

    fn step(&self, chain: &Chain, mass: &[f64]) -> Vec<f64> {
        let mut next = vec![0.0; mass.len()];
        let mut moves = mass.len();
        for (state, mass) in mass.iter().enumerate().filter(|(_, m)| **m > 0.0) {
            self.moves(chain, state, |to, p| next[to] += mass * p);
            moves += chain.get(self.states[state].row).entries.len();
        }
        chain.watch.spend(moves as u64);
        next
    }

    /// The spectral radius, or some number no greater than `least` where it is no greater.
    ///
    /// From the chances to go on for a while, one step more takes at most a share of each. The radius is no greater than that
    /// share, whatever the chances are (Collatz 1942; from memory). Power iteration makes them those for which both agree.
    /// A part of the chances before is kept, so that places that take turns do not swing.
    fn spectral_radius(&self, chain: &Chain, least: f64) -> f64 {
        let mut chances = vec![1.0; self.states.len()];
        let mut radius: f64 = 1.0;
        for _ in 0..2 * MOST_STEPS {
            if chain.watch.over() {
                break;
            }
            let mut next = self.step_back(chain, &chances);
            let shares = next.iter().zip(&chances);
            let share = shares
                .filter(|(_, before)| **before > VANISHED)
                .map(|(next, before)| next / before)
                .fold(0.0, f64::max);
            let fallen = radius - share;
            radius = share;
            if radius <= least {
                break;
            }
            if radius < NOTHING_COMES_BACK {
                return 0.0;
            }
            for (next, before) in next.iter_mut().zip(&chances) {
                *next += KEPT * radius * before;
            }
            let most = next.iter().copied().fold(0.0, f64::max);
            next.iter_mut().for_each(|p| *p /= most);
            let changes = next.iter().zip(&chances);
            let change = changes.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            chances = next;
            if change <= 1e-9 && fallen <= 1e-12 * radius {
                break;
            }
        }
        radius.min(1.0)
    }

    /// The chance, from each state, to go on one step more than these chances say.
    fn step_back(&self, chain: &Chain, from_next: &[f64]) -> Vec<f64> {
        let mut moves = 0;
        let next = (0..from_next.len())
            .map(|state| {
                let mut sum = 0.0;
                self.moves(chain, state, |to, p| sum += p * from_next[to]);
                moves += chain.get(self.states[state].row).entries.len() + 1;
                sum
            })
            .collect();
        chain.watch.spend(moves as u64);
        next
    }
}

/// A state that goes on with less than this share of the greatest chance has the lesser radius.
const VANISHED: f64 = 1e-100;

/// A radius below this is that of a chain that comes back to no place.
const NOTHING_COMES_BACK: f64 = 1e-30;

/// How much of the chances before is kept, over the radius.
const KEPT: f64 = 0.25;

#[cfg(test)]
mod tests {
    use super::super::chain_model::ChainModel;
    use super::super::{begin, never};
    use super::*;
    use crate::exact::Precision;
    use crate::rig::{DEMO_RIG, read};
    use crate::scenario::{Policy, Scenario};

    /// Shows (exact): the spectral radius, also where three places take turns. Source: eigenvalues of nalgebra.
    #[test]
    fn persistence_is_the_largest_eigenvalue() {
        let mut compared = 0;
        for (set, target_deg) in [
            ("drive.backlash_deg=0.6", 64.0),
            ("drive.backlash_deg=0.6", 0.0),
            ("loop.tolerance_deg=0.1", 0.2),
        ] {
            let rig = read(DEMO_RIG, "demo", &[set.to_owned()]).expect("a valid rig");
            let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
            let model = ChainModel::new(&scenario, Precision::FULL, &never).expect("a model");
            let start = begin(&model).expect("a first move");
            let mut chain = Chain::new(&model);
            for zero_error_deg in [-0.878, 0.0, 0.3, 1.7] {
                chain.restart(zero_error_deg, start.place);
                let states = TransientStates::reached(&mut chain).expect("few states");
                let n = states.states.len();
                let mut moves = nalgebra::DMatrix::<f64>::zeros(n, n);
                for state in 0..n {
                    states.moves(&chain, state, |to, p| moves[(state, to)] += p);
                }
                let Some(schur) = nalgebra::Schur::try_new(moves, 1e-15, 2000) else {
                    continue;
                };
                compared += 1;
                let eigenvalues = schur.complex_eigenvalues();
                let sizes = eigenvalues.iter().map(|e| libm::hypot(e.re, e.im));
                let largest = sizes.fold(0.0, f64::max);
                let radius = states.spectral_radius(&chain, 0.0);
                // What the library rounds off.
                let off = (radius - largest).abs();
                assert!(
                    off <= 1e-6 * largest + 1e-9,
                    "{set} {zero_error_deg}: {radius:e} {largest:e}"
                );
                assert!(states.spectral_radius(&chain, 1.01 * radius) <= 1.01 * radius);
            }
        }
        assert!(compared >= 8, "{compared}");
    }
}
