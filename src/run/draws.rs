//! The random numbers of a run.

use rand::{Rng, RngExt};
use rand_distr::StandardNormal;

/// Draws from a stream; what has no effect draws nothing.
#[derive(Debug)]
pub(super) struct Draws<'a, R> {
    rng: &'a mut R,
}

impl<'a, R: Rng> Draws<'a, R> {
    pub(super) fn new(rng: &'a mut R) -> Self {
        Self { rng }
    }

    /// A normal deviate of mean 0 and this sigma \[deg\].
    #[inline]
    pub(super) fn normal_deg(&mut self, sigma_deg: f64) -> f64 {
        if sigma_deg == 0.0 {
            0.0
        } else {
            sigma_deg * self.rng.sample::<f64, _>(StandardNormal)
        }
    }

    /// True with this probability.
    #[inline]
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        // A uniform deviate lies in [0, 1): never below 0, always below 1.
        probability > 0.0 && self.rng.random::<f64>() < probability
    }
}
