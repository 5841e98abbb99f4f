//! Drive and mechanics: from a commanded drive angle to the angle of the camera (docs/model.md, section 2).
//!
//! [`Plant::plan`] plans a command, without any random number. [`Plant::carry_out`] then carries it out.

mod backlash;
mod drive;
mod shaft;
mod timing;
mod travel;

pub use backlash::driven_side_deg;
pub use drive::PlannedMove;
pub use shaft::Shaft;
pub(crate) use shaft::periodic_error_deg;
pub use travel::Travel;

use crate::rig::{Approach, Periodic, Rig};
use timing::Timing;

/// The mechanics of one rig, prepared for running.
#[derive(Debug, Clone, PartialEq)]
pub struct Plant {
    travel: Travel,
    /// Smallest move \[deg\]; 0 for a drive without steps.
    step_deg: f64,
    approach: Approach,
    overrun_deg: f64,
    timing: Timing,
    /// Full backlash width \[deg\].
    backlash_deg: f64,
    /// Shaft turn per output turn: `1 + gain_error`.
    gain: f64,
    periodic: Vec<Periodic>,
    /// `+1` or `-1`.
    sense: f64,
    field_rotation_deg_per_s: f64,
}

impl Plant {
    /// The mechanics of a rig.
    #[must_use]
    pub fn new(rig: &Rig) -> Self {
        let s = rig.settings();
        Self {
            travel: rig.travel(),
            step_deg: s.drive.step_deg,
            approach: s.loop_.approach,
            overrun_deg: s.loop_.overrun_deg,
            timing: Timing::of(&s.drive),
            backlash_deg: s.drive.backlash_deg,
            gain: 1.0 + s.drive.gain_error,
            // An amplitude of 0 has no effect and need not cost a sine.
            periodic: s
                .drive
                .periodic
                .iter()
                .copied()
                .filter(|p| p.amplitude_deg != 0.0)
                .collect(),
            sense: s.drive.sense.factor(),
            field_rotation_deg_per_s: s.loop_.field_rotation_deg_per_s,
        }
    }

    /// What limits the travel.
    #[must_use]
    pub fn travel(&self) -> Travel {
        self.travel
    }
}
