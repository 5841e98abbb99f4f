//! The controller of the model: it corrects by the measured residual until this is within the tolerance
//! (docs/model.md, section 4).

use super::{Action, Brief, Command, Controller, Wrap};
use crate::angle::residual_finite;

/// The model's correction loop over one wrap rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standard {
    wrap: Wrap,
    /// Period of equivalent framings \[deg\].
    period_deg: f64,
    target_deg: f64,
    tolerance_deg: f64,
    /// Solves in a row within the tolerance that settle a run.
    confirm: u32,
    /// Share of the residual that a correction takes away.
    correction: f64,
    /// Believed sense, `+1` or `-1`.
    sense: f64,
    passes: u32,
}

impl Standard {
    /// A controller that corrects the share `correction` of each residual and settles after `confirm` solves in a row
    /// within the tolerance.
    pub(crate) fn new(wrap: Wrap, period_deg: f64, correction: f64, confirm: u32) -> Self {
        Self {
            wrap,
            period_deg,
            target_deg: 0.0,
            tolerance_deg: 0.0,
            confirm,
            correction,
            sense: 1.0,
            passes: 0,
        }
    }

    /// Target minus measured position angle, to the nearest equivalent framing \[deg\].
    #[inline(always)]
    pub(crate) fn residual_deg(&self, target_deg: f64, measured_deg: f64) -> f64 {
        residual_finite(target_deg - measured_deg, self.period_deg)
    }

    /// The command that answers a residual \[deg\] with the sense `sense`.
    #[inline(always)]
    pub(crate) fn correction(&self, reading_deg: f64, sense: f64, error_deg: f64) -> Command {
        let wanted_deg = reading_deg + self.correction * sense * error_deg;
        self.wrap.correction(wanted_deg)
    }

    /// Degrees that the drive turns, with sign, for a residual of one degree.
    #[inline(always)]
    pub(crate) fn answer(&self, sense: f64) -> f64 {
        self.correction * sense
    }

    /// Solves in a row within the tolerance that settle a run.
    #[inline(always)]
    pub(crate) fn confirm(&self) -> u32 {
        self.confirm
    }
}

impl Controller for Standard {
    #[inline]
    fn begin(&mut self, brief: &Brief) -> Action {
        self.target_deg = brief.target_deg;
        self.tolerance_deg = brief.tolerance_deg;
        self.sense = brief.sense;
        self.passes = 0;
        let wanted = brief.sense * (brief.target_deg - brief.zero_point_deg);
        Action::Move(self.wrap.first(wanted))
    }

    #[inline]
    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
        let error = self.residual_deg(self.target_deg, position_angle_deg);
        if error.abs() <= self.tolerance_deg {
            self.passes += 1;
            return if self.passes >= self.confirm {
                Action::Done
            } else {
                Action::Solve
            };
        }
        self.passes = 0;
        Action::Move(self.correction(reading_deg, self.sense, error))
    }
}
