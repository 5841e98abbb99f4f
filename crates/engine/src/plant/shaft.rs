//! The state of the mechanics, and the position angle that follows from it.

use super::{PlannedMove, Plant, driven_side_deg};
use crate::angle::sin_deg;
use crate::rig::Periodic;

/// State of the mechanics.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shaft {
    /// Reading of the drive, `p` \[deg\].
    pub reading_deg: f64,
    /// Output side of the backlash, `y` \[deg\].
    pub output_deg: f64,
    /// Repeatability error of the last move, `eta` \[deg\].
    pub repeatability_error_deg: f64,
}

impl Shaft {
    /// At rest at a reading, in the middle of the backlash and without repeatability error.
    #[must_use]
    pub fn at(reading_deg: f64) -> Self {
        Self {
            reading_deg,
            output_deg: reading_deg,
            repeatability_error_deg: 0.0,
        }
    }
}

impl Plant {
    /// Carries out a planned command. A real move ends with the error `repeatability_error_deg`.
    #[inline]
    pub fn carry_out(
        &self,
        shaft: &mut Shaft,
        planned: &PlannedMove,
        repeatability_error_deg: f64,
    ) {
        if let PlannedMove::Move { via_deg, to_deg } = *planned {
            if let Some(via) = via_deg {
                shaft.output_deg = driven_side_deg(shaft.output_deg, via, self.backlash_deg);
            }
            shaft.output_deg = driven_side_deg(shaft.output_deg, to_deg, self.backlash_deg);
            shaft.reading_deg = to_deg;
            shaft.repeatability_error_deg = repeatability_error_deg;
        }
    }

    /// True position angle of the camera \[deg\], not reduced, with the true zero point `zero_point_deg`, `time_s`
    /// after the start of the run.
    #[inline]
    #[must_use]
    pub fn position_angle_deg(&self, shaft: &Shaft, zero_point_deg: f64, time_s: f64) -> f64 {
        let mut x = self.shaft_angle_deg(shaft.output_deg, shaft.repeatability_error_deg);
        for p in &self.periodic {
            x += periodic_error_deg(p, shaft.output_deg);
        }
        self.sky_angle_deg(x, zero_point_deg, time_s)
    }

    /// Periodic errors of the shaft that have an effect.
    #[inline(always)]
    pub(crate) fn periodic(&self) -> &[Periodic] {
        &self.periodic
    }

    /// `+1` where the position angle grows with the shaft angle, else `-1`.
    #[inline(always)]
    pub(crate) fn sky_sense(&self) -> f64 {
        self.sense
    }

    /// Whether the field rotates during the loop.
    #[inline(always)]
    pub(crate) fn turns_the_field(&self) -> bool {
        self.field_rotation_deg_per_s != 0.0
    }

    /// Full width of the backlash \[deg\].
    #[inline(always)]
    pub(crate) fn backlash_deg(&self) -> f64 {
        self.backlash_deg
    }

    /// Angle of the camera before periodic errors \[deg\].
    #[inline(always)]
    pub(crate) fn shaft_angle_deg(&self, output_deg: f64, repeatability_error_deg: f64) -> f64 {
        self.gain * output_deg + repeatability_error_deg
    }

    /// Position angle for an angle of the camera \[deg\].
    #[inline(always)]
    pub(crate) fn sky_angle_deg(&self, x_deg: f64, zero_point_deg: f64, time_s: f64) -> f64 {
        zero_point_deg + self.sense * x_deg + self.field_rotation_deg_per_s * time_s
    }
}

/// One periodic error at a position of the output \[deg\].
#[inline(always)]
pub(crate) fn periodic_error_deg(p: &Periodic, output_deg: f64) -> f64 {
    p.amplitude_deg * sin_deg(p.cycles * output_deg + p.phase_deg)
}
