//! Many runs of the model's own controller side by side, as vector instructions.
//!
//! A lane holds one run. Every turn of the loop is a few passes over all lanes. Each pass is a plain loop over
//! arrays, which the compiler turns into vector instructions for the processor at hand. When the run of a lane ends,
//! the lane takes the next run. The passes call the same functions as [`super::run`] and give every run the same
//! bits; `tests` compares the two.

mod passes;
mod queue;
mod state;
#[cfg(test)]
mod tests;

use pulp::{Arch, Simd, WithSimd};

use super::{Figures, Outcome, Unobserved, run, stream};
use crate::controller::Standard;
use crate::scenario::Scenario;
use queue::RunQueue;
use state::{ENDED_REFUSED, ENDED_SETTLED, ENDED_UNSOLVED, LANES, LaneState};

/// Runs number `first` to `first + figures.len() - 1` of a seed, and fills `figures`.
pub fn run_block(scenario: &Scenario, seed: u64, first: u64, figures: &mut [Figures]) {
    let _ = run_block_unless(scenario, seed, first, figures, &|| false);
}

/// Runs as [`run_block`] does. Returns false if `stopped` became true; the figures are then useless.
#[must_use]
pub fn run_block_unless(
    scenario: &Scenario,
    seed: u64,
    first: u64,
    figures: &mut [Figures],
    stopped: &dyn Fn() -> bool,
) -> bool {
    Arch::new().dispatch(Block {
        scenario,
        seed,
        first,
        figures,
        stopped,
    })
}

/// Turns of the loop between two looks at `stopped`: a millisecond, or a tenth of a second if nearly every attempt to
/// solve fails.
const BETWEEN_LOOKS: u32 = 1024;

/// A block, to run with the widest vectors of the processor.
struct Block<'a> {
    scenario: &'a Scenario,
    seed: u64,
    first: u64,
    figures: &'a mut [Figures],
    stopped: &'a dyn Fn() -> bool,
}

impl WithSimd for Block<'_> {
    type Output = bool;

    // The compiler makes the vectors: everything below is inlined here, to be compiled for them.
    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> bool {
        block(self)
    }
}

#[inline(always)]
fn block(block: Block<'_>) -> bool {
    let Block {
        scenario,
        seed,
        first,
        figures,
        stopped,
    } = block;
    if scenario.before().is_some() {
        for (i, figures) in figures.iter_mut().enumerate() {
            if i % BETWEEN_LOOKS as usize == 0 && stopped() {
                return false;
            }
            let mut rng = stream(seed, first + i as u64);
            *figures = run(
                scenario,
                &mut scenario.controller(),
                &mut rng,
                &mut Unobserved,
            );
        }
        return true;
    }
    let controller = scenario.controller();
    let command_deg = scenario.first_command().drive_deg;
    let mut queue = RunQueue::new(scenario, seed, first, figures.len());
    let mut state = LaneState::new();
    for lane in 0..LANES {
        state.busy += usize::from(queue.fill(&mut state, lane, command_deg));
    }
    let mut turns = 0_u32;
    while state.busy > 0 {
        turns = turns.wrapping_add(1);
        if turns.is_multiple_of(BETWEEN_LOOKS) && stopped() {
            return false;
        }
        turn(scenario, &controller, &mut state);
        // From the last lane down: closing a lane then moves a lane that was already looked at.
        let mut ended = state.ended_lanes();
        while ended != 0 {
            let lane = 63 - ended.leading_zeros() as usize;
            ended ^= 1 << lane;
            figures[state.run[lane]] = figures_of(scenario, &state, lane);
            if !queue.fill(&mut state, lane, command_deg) {
                state.close(lane);
            }
        }
    }
    true
}

/// One turn of the loop in every lane.
#[inline(always)]
fn turn(scenario: &Scenario, controller: &Standard, state: &mut LaneState) {
    let (mut repeatability_error, mut noise) = ([0.0; LANES], [0.0; LANES]);
    if scenario.has_normals() {
        passes::normals(state, &mut repeatability_error, &mut noise);
    }
    passes::moves(scenario, state, &repeatability_error);
    passes::ground(scenario, state);
    if scenario.solve.failure_rate > 0.0 {
        passes::failures(scenario, state);
    }
    let mut sigma_deg = [scenario.solve.noise_deg; LANES];
    if scenario.solve.outlier_rate > 0.0 {
        passes::outliers(scenario, state, &mut sigma_deg);
    }
    passes::angles(scenario, state);
    passes::solves(scenario, controller, state, &noise, &sigma_deg);
}

#[inline(always)]
fn figures_of(scenario: &Scenario, state: &LaneState, lane: usize) -> Figures {
    let solves = state.solves[lane] as u32;
    Figures {
        outcome: match state.ended[lane] {
            ENDED_SETTLED => Outcome::Settled,
            ENDED_UNSOLVED => Outcome::Unsolved,
            ENDED_REFUSED => Outcome::Refused,
            _ => Outcome::Unsettled,
        },
        solves,
        failed_attempts: state.failed_attempts[lane] as u32,
        moves: state.moves[lane] as u32,
        long_swings: state.long_swings[lane] as u32,
        travel_deg: state.travel_deg[lane],
        winding_deg: state.winding_deg[lane],
        overwound: scenario.overwinds(state.winding_deg[lane]),
        outside_arc_deg: state.outside_arc_deg[lane],
        keep_out_deg: state.keep_out_deg[lane],
        elapsed_s: state.elapsed_s[lane],
        true_error_deg: (solves > 0).then_some(state.true_error_deg[lane]),
    }
}
