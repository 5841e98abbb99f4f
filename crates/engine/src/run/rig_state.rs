//! The state of a rig between two runs.

use crate::plant::Shaft;

/// What a run starts from, and leaves to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigState {
    /// The mechanics.
    pub shaft: Shaft,
    /// True position angle at shaft angle 0 \[deg\].
    pub true_zero_deg: f64,
}

/// Makes attempts to solve fail more often at some times than at others.
pub trait FailureRate {
    /// Probability that an attempt fails that begins `at_s` after the start of the run \[s\]. `rate` is the rig's own
    /// probability.
    fn failure_rate(&self, rate: f64, at_s: f64) -> f64;
}

/// The rig's own rate at all times.
#[derive(Debug, Clone, Copy, Default)]
pub struct ConstantRate;

impl FailureRate for ConstantRate {
    #[inline]
    fn failure_rate(&self, rate: f64, _: f64) -> f64 {
        rate
    }
}
