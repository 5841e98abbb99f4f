//! Field rotation: how the sky turns in the camera, how a rotator follows it, and when it must stop.
//!
//! | file | subject |
//! |---|---|
//! | `session` | a target through a stretch of time: pointing, rate, longest exposure |
//! | `fastest` | when the field turns fastest |
//! | `bounds` | the limits of a rotator: keep-outs, stops, cable, the ends of the arc |
//! | `follow` | a rotator that follows: when it unwinds, and its faults |
//! | `settle` | the loop while the field turns |
//! | `polar` | an equatorial mount whose axis misses the pole |

mod bounds;
#[cfg(test)]
mod bounds_tests;
mod fastest;
mod follow;
#[cfg(test)]
mod follow_tests;
mod polar;
mod session;
mod settle;

pub use bounds::WayEnd;
pub use fastest::fastest;
pub use follow::{During, Follow, FollowFault, Followed, Unwind, follow};
pub use polar::{PoleError, polar_rotation};
pub use session::{FieldMount, FieldRow, FieldSession, longest_exposure_s, session};
pub use settle::{SettleWhileTurning, settle_while_turning};
