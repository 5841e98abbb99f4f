//! The drive: travel limits, quantising, the legs of a move and how long they take.

use super::Plant;
use crate::angle::{TURN_DEG, residual_finite};
use crate::rig::{Approach, DriveSettings, TravelKind};

/// What limits the travel of the drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Travel {
    /// Nothing: the drive takes the short way and its readings keep counting turns.
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

/// What a command will do, before anything moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Plan {
    /// The goal lies outside the stops; nothing moves.
    Refused,
    /// The goal is the present reading; nothing moves.
    Still,
    /// The drive moves, first to `via_deg` where the approach is one-sided.
    Move {
        /// Reading at the end of the first of two legs \[deg\].
        via_deg: Option<f64>,
        /// Reading at the end \[deg\].
        to_deg: f64,
    },
}

/// Speeds and times of the drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Timing {
    speed_deg_per_s: f64,
    /// 0 for constant speed.
    acceleration_deg_per_s2: f64,
    overhead_s: f64,
}

impl Timing {
    pub(super) fn of(drive: &DriveSettings) -> Self {
        Self {
            speed_deg_per_s: drive.speed_deg_per_s,
            acceleration_deg_per_s2: drive.acceleration_deg_per_s2,
            overhead_s: drive.overhead_s,
        }
    }

    /// Time of one leg of this length \[s\]; from rest to rest where there is an acceleration.
    #[inline]
    fn leg_s(&self, length_deg: f64) -> f64 {
        let (v, a) = (self.speed_deg_per_s, self.acceleration_deg_per_s2);
        if a == 0.0 {
            length_deg / v
        } else if length_deg >= v * v / a {
            length_deg / v + v / a
        } else {
            2.0 * (length_deg / a).sqrt()
        }
    }
}

impl Plant {
    /// Decides what the command `command_deg` does at the reading `reading_deg`.
    #[inline]
    #[must_use]
    pub fn plan(&self, reading_deg: f64, command_deg: f64) -> Plan {
        let goal = match self.travel {
            Travel::Endless => reading_deg + residual_finite(command_deg - reading_deg, TURN_DEG),
            Travel::Stops { lo_deg, hi_deg } => {
                if !(lo_deg..=hi_deg).contains(&command_deg) {
                    return Plan::Refused;
                }
                command_deg
            }
        };
        let to_deg = self.quantised(goal);
        if to_deg == reading_deg {
            return Plan::Still;
        }
        let via_deg = match self.approach {
            Approach::Direct => None,
            Approach::FromBelow => Some(self.within_stops(goal - self.overrun_deg)),
            Approach::FromAbove => Some(self.within_stops(goal + self.overrun_deg)),
        }
        .map(|via| self.quantised(via));
        Plan::Move { via_deg, to_deg }
    }

    /// Time of a command \[s\]: the overhead and its legs.
    #[inline]
    #[must_use]
    pub fn duration_s(&self, reading_deg: f64, plan: &Plan) -> f64 {
        match *plan {
            Plan::Refused => 0.0,
            Plan::Still => self.timing.overhead_s,
            Plan::Move { via_deg, to_deg } => {
                let turning = match via_deg {
                    None => self.timing.leg_s((to_deg - reading_deg).abs()),
                    Some(via) => {
                        self.timing.leg_s((via - reading_deg).abs())
                            + self.timing.leg_s((to_deg - via).abs())
                    }
                };
                turning + self.timing.overhead_s
            }
        }
    }

    /// The nearest multiple of the step, halves away from zero.
    #[inline]
    fn quantised(&self, goal_deg: f64) -> f64 {
        if self.step_deg == 0.0 {
            goal_deg
        } else {
            self.step_deg * (goal_deg / self.step_deg).round()
        }
    }

    fn within_stops(&self, goal_deg: f64) -> f64 {
        match self.travel {
            Travel::Endless => goal_deg,
            Travel::Stops { lo_deg, hi_deg } => goal_deg.max(lo_deg).min(hi_deg),
        }
    }
}
