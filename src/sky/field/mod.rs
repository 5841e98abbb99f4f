//! Field rotation: how the sky turns in the camera, how a rotator follows it, and when its way ends.
//!
//! | file | subject |
//! |---|---|
//! | `session` | a target through a stretch of time: pointing, rate, longest exposure |
//! | `follow` | a rotator that follows: seam, stops, cable, and when to unwind |
//! | `settle` | the loop while the field turns |
//! | `polar` | an equatorial mount whose axis misses the pole |

mod follow;
#[cfg(test)]
mod follow_tests;
mod polar;
mod session;
mod settle;

pub use follow::{End, Follow, Followed, Unwind, follow};
pub use polar::{PoleError, polar_rotation};
pub use session::{FieldMount, FieldRow, Session, longest_exposure_s, session};
pub use settle::{SettleWhileTurning, settle_while_turning};
