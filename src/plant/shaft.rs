//! The state of the mechanics, and the sky angle that it shows.

use super::{Plan, Plant, play};
use crate::angle::sin_deg;

/// Where the mechanics stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shaft {
    /// Reading of the drive, `p` \[deg\].
    pub reading_deg: f64,
    /// Output side of the play, `y` \[deg\].
    pub output_deg: f64,
    /// Seating error of the last move, `eta` \[deg\].
    pub seating_deg: f64,
}

impl Shaft {
    /// At rest at a reading, in the middle of the play and perfectly seated.
    #[must_use]
    pub fn at(reading_deg: f64) -> Self {
        Self {
            reading_deg,
            output_deg: reading_deg,
            seating_deg: 0.0,
        }
    }
}

impl Plant {
    /// Carries out a plan. `seating_deg` is the seating error that a real move ends with.
    #[inline]
    pub fn carry_out(&self, shaft: &mut Shaft, plan: &Plan, seating_deg: f64) {
        if let Plan::Move { via_deg, to_deg } = *plan {
            if let Some(via) = via_deg {
                shaft.output_deg = play(shaft.output_deg, via, self.backlash_deg);
            }
            shaft.output_deg = play(shaft.output_deg, to_deg, self.backlash_deg);
            shaft.reading_deg = to_deg;
            shaft.seating_deg = seating_deg;
        }
    }

    /// True position angle of the camera \[deg\], not reduced, with the true zero point
    /// `zero_point_deg`, `time_s` after the start of the run.
    #[inline]
    #[must_use]
    pub fn position_angle_deg(&self, shaft: &Shaft, zero_point_deg: f64, time_s: f64) -> f64 {
        let y = shaft.output_deg;
        let mut x = self.gain * y + shaft.seating_deg;
        for p in &self.periodic {
            x += p.amplitude_deg * sin_deg(p.cycles * y + p.phase_deg);
        }
        zero_point_deg + self.sense * x + self.field_rotation_deg_per_s * time_s
    }
}
