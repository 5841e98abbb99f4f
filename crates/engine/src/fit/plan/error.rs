use super::range::Range;

/// Why there is no plan.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitPlanError {
    /// Every way out of the parking reading leads through a keep-out.
    #[error(
        "drive.park_deg = {park_deg}: this is inside a keep-out, and every way out leads through it. Park the drive elsewhere, or correct the keep-out"
    )]
    InKeepOut {
        /// The parking reading \[deg\].
        park_deg: f64,
    },
    /// A one-sided approach starts too far from its goal.
    #[error(
        "loop.overrun_deg = {overrun_deg}: too far for a plan, because an endless drive could take the other way round. Use a smaller overrun"
    )]
    Overrun {
        /// How far an approach starts from its goal \[deg\].
        overrun_deg: f64,
    },
    /// A wanted reading is outside the range.
    #[error("the plan can't go to {at_deg}°. The rig allows readings {allowed}")]
    Outside {
        /// The wanted reading \[deg\].
        at_deg: f64,
        /// The allowed range.
        allowed: Range,
    },
    /// The range of readings is too small.
    #[error("the readings {range} leave no room for a sweep. Allow a wider range")]
    NoRoom {
        /// The range.
        range: Range,
    },
    /// No plan reaches the accuracy.
    #[error(
        "no plan over the readings {range} reaches ±{accuracy_deg}°. Use --accuracy {} or a wider range",
        readable(*reached_deg)
    )]
    OutOfReach {
        /// Wanted accuracy \[deg\].
        accuracy_deg: f64,
        /// Best accuracy that a plan reaches \[deg\].
        reached_deg: f64,
        /// The range of the plan.
        range: Range,
    },
}

/// `reached_deg` rounded up to four decimals, so that a plan reaches the printed accuracy too.
fn readable(reached_deg: f64) -> f64 {
    (1e4 * reached_deg).ceil() / 1e4
}
