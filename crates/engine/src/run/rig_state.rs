//! A run that goes on where another has ended.

use crate::plant::Shaft;

/// What a run finds, and leaves to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigState {
    /// The mechanics.
    pub shaft: Shaft,
    /// Position angle at shaft angle 0, as it truly is \[deg\].
    pub true_zero_deg: f64,
}

/// What makes attempts to solve fail more often at some times than at others.
pub trait FailureRate {
    /// The chance that an attempt fails that begins `at_s` after the start of the run, where the rig alone has `rate` \[s\].
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
