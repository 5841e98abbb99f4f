//! How long the legs of a move take.

use crate::rig::DriveSettings;

/// Speeds and times of the drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Timing {
    speed_deg_per_s: f64,
    /// Acceleration; 0 for constant speed.
    pub(super) acceleration_deg_per_s2: f64,
    pub(super) overhead_s: f64,
}

impl Timing {
    pub(super) fn of(drive: &DriveSettings) -> Self {
        Self {
            speed_deg_per_s: drive.speed_deg_per_s,
            acceleration_deg_per_s2: drive.acceleration_deg_per_s2,
            overhead_s: drive.overhead_s,
        }
    }

    /// Time of one leg of this length \[s\]: from rest to rest if `ACCELERATES`, else at constant speed.
    #[inline(always)]
    pub(super) fn leg_s<const ACCELERATES: bool>(&self, length_deg: f64) -> f64 {
        let (v, a) = (self.speed_deg_per_s, self.acceleration_deg_per_s2);
        if !ACCELERATES {
            length_deg / v
        } else if length_deg >= v * v / a {
            length_deg / v + v / a
        } else {
            2.0 * (length_deg / a).sqrt()
        }
    }
}
