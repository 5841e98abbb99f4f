//! What limits the travel of a drive.

use crate::rig::{DriveSettings, Rig, TravelKind};

/// What limits the travel of the drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Travel {
    /// Nothing: the drive takes the short way, and its readings count on through turns.
    Endless,
    /// The drive moves along the line between two stops.
    Stops {
        /// Lower stop \[deg\].
        lo_deg: f64,
        /// Upper stop \[deg\].
        hi_deg: f64,
    },
}

impl Travel {
    pub(super) fn of(drive: &DriveSettings) -> Self {
        match (drive.travel, drive.stop_from_deg, drive.stop_to_deg) {
            (TravelKind::Stops, Some(lo_deg), Some(hi_deg)) => Self::Stops { lo_deg, hi_deg },
            _ => Self::Endless, // a checked rig has both stops
        }
    }
}

impl Rig {
    /// What limits the travel of this rig.
    #[must_use]
    pub fn travel(&self) -> Travel {
        Travel::of(&self.settings().drive)
    }
}
