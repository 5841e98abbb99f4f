//! Runs that wait for a lane. Their generators are seeded and their zero points drawn many at a time.

use super::state::{LANES, LaneState, RUNNING, Words, next_words};
use crate::run::normal::normal_pair;
use crate::run::stream;
use crate::scenario::Scenario;

/// The next runs of a block.
#[derive(Debug)]
pub(super) struct RunQueue<'a> {
    scenario: &'a Scenario,
    seed: u64,
    /// Number of the first run of the block.
    first: u64,
    /// Runs of the block.
    count: usize,
    /// Runs of the block that already have or had a lane.
    given: usize,
    random: [Words; 4],
    zero_point_deg: [f64; LANES],
}

impl<'a> RunQueue<'a> {
    #[inline(always)]
    pub(super) fn new(scenario: &'a Scenario, seed: u64, first: u64, count: usize) -> Self {
        Self {
            scenario,
            seed,
            first,
            count,
            given: 0,
            random: [[0; LANES]; 4],
            zero_point_deg: [0.0; LANES],
        }
    }

    /// Puts the next run into a lane; false if none is left.
    #[inline(always)]
    pub(super) fn fill(&mut self, state: &mut LaneState, lane: usize, command_deg: f64) -> bool {
        if self.given == self.count {
            return false;
        }
        let place = self.given % LANES;
        if place == 0 {
            self.raise();
        }
        let reading_deg = self.scenario.brief.reading_deg;
        state.run[lane] = self.given;
        self.given += 1;
        for (words, raised) in state.random.iter_mut().zip(&self.random) {
            words[lane] = raised[place];
        }
        state.ended[lane] = RUNNING;
        state.command_deg[lane] = command_deg;
        state.commanded[lane] = 1;
        state.first[lane] = 1;
        state.reading_deg[lane] = reading_deg;
        state.output_deg[lane] = reading_deg;
        state.repeatability_error_deg[lane] = 0.0;
        state.zero_point_deg[lane] = self.zero_point_deg[place];
        state.elapsed_s[lane] = 0.0;
        state.travel_deg[lane] = 0.0;
        state.winding_deg[lane] = 0.0;
        state.outside_arc_deg[lane] = 0.0;
        state.keep_out_deg[lane] = 0.0;
        state.solves[lane] = 0;
        state.failed_attempts[lane] = 0;
        state.moves[lane] = 0;
        state.long_swings[lane] = 0;
        state.passes[lane] = 0;
        true
    }

    /// Seeds the next generators and draws their zero points.
    #[inline(always)]
    fn raise(&mut self) {
        for i in 0..LANES {
            let index = self.first.wrapping_add((self.given + i) as u64);
            let seeded = stream::state(self.seed, index);
            for (words, word) in self.random.iter_mut().zip(seeded) {
                words[i] = word;
            }
        }
        let believed_deg = self.scenario.brief.zero_point_deg;
        let sigma_deg = self.scenario.zero_point_sigma_deg;
        if sigma_deg == 0.0 {
            self.zero_point_deg = [believed_deg + 0.0; LANES];
            return;
        }
        let a = next_words(&mut self.random, LANES);
        let b = next_words(&mut self.random, LANES);
        for i in 0..LANES {
            self.zero_point_deg[i] = believed_deg + sigma_deg * normal_pair(a[i], b[i]).0;
        }
    }
}
