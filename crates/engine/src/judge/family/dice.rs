//! Random choices of a scenario.

use rand::Rng as _;

use crate::run::{Stream, stream};

/// Draws from its own random stream.
#[derive(Debug)]
pub(super) struct Dice(Stream);

impl Dice {
    pub(super) fn new(seed: u64, index: usize) -> Self {
        // Far from the streams of the random errors, which count from 0.
        Self(stream(seed ^ 0x6a75_6467_6500_0000, index as u64))
    }

    /// A number from `low` up to `high`, in steps of 1/1024: sums of such angles stay exact.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        let x = low + share * (high - low);
        (x * 1024.0).floor() / 1024.0
    }

    /// One of some values.
    pub(super) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.0.next_u64() % from.len() as u64) as usize]
    }

    /// True with this probability.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }

    /// `+1` or `-1`.
    pub(super) fn sign(&mut self) -> f64 {
        self.pick(&[1.0, -1.0])
    }
}
