//! Why there is no plan.

use super::range::Range;

/// Why there is no plan.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitPlanError {
    /// Every way from the parking reading leads through a keep-out.
    #[error(
        "drive.park_deg = {park_deg}: this is inside a keep-out, and every way out leads through it. Park the drive elsewhere, or correct the keep-out"
    )]
    InKeepOut {
        /// The parking reading \[deg\].
        park_deg: f64,
    },
    /// The way of a one-sided approach is too long.
    #[error(
        "loop.overrun_deg = {overrun_deg}: too far for a plan. An endless drive could take the other way round"
    )]
    Overrun {
        /// How far an approach starts from its goal \[deg\].
        overrun_deg: f64,
    },
    /// A reading that is asked for is not allowed.
    #[error("a plan may not go to {at_deg} deg: the readings {allowed} are allowed")]
    Outside {
        /// That reading \[deg\].
        at_deg: f64,
        /// What is allowed.
        allowed: Range,
    },
    /// The range of readings is too small.
    #[error("the readings {range} leave no room for a sweep")]
    NoRoom {
        /// What there is.
        range: Range,
    },
    /// No plan makes the errors known so well.
    #[error(
        "an accuracy of {accuracy_deg} deg is out of reach over the readings {range}: {} deg can be had. A wider range tells more than more solves",
        readable(*reached_deg)
    )]
    OutOfReach {
        /// What is wanted \[deg\].
        accuracy_deg: f64,
        /// What can be had \[deg\].
        reached_deg: f64,
        /// The readings.
        range: Range,
    },
}

/// An accuracy with four decimals that can be had where `reached_deg` can.
fn readable(reached_deg: f64) -> f64 {
    (1e4 * reached_deg).ceil() / 1e4
}
