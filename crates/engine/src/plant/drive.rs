//! The drive: travel limits, steps, the legs of a move and their time.

use super::Plant;
use super::travel::Travel;
use crate::angle::{TURN_DEG, nearest_whole, residual_finite};
use crate::rig::Approach;

/// What a command will do, before anything moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PlannedMove {
    /// The goal lies outside the stops; nothing moves.
    Refused,
    /// The goal is the current reading; nothing moves.
    Still,
    /// The drive moves, first to `via_deg` if the approach is one-sided.
    Move {
        /// Reading between the two legs \[deg\]; `None` for one leg.
        via_deg: Option<f64>,
        /// Reading at the end \[deg\].
        to_deg: f64,
    },
}

/// The multiple of `step` nearest to `goal`, halves away from zero, without a branch.
#[inline(always)]
fn nearest_multiple(goal: f64, step: f64) -> f64 {
    let steps = goal / step;
    let even = nearest_whole(steps); // halves to the even number
    let away = steps + 0.5_f64.copysign(steps);
    let half = (steps - even).abs() == 0.5;
    step * if half { away } else { even }
}

impl Plant {
    /// What the command `command_deg` does at the reading `reading_deg`.
    #[inline]
    #[must_use]
    pub fn plan(&self, reading_deg: f64, command_deg: f64) -> PlannedMove {
        if self.refuses(command_deg) {
            return PlannedMove::Refused;
        }
        let goal = self.goal_deg(reading_deg, command_deg);
        let to_deg = self.quantised(goal);
        if to_deg == reading_deg {
            return PlannedMove::Still;
        }
        PlannedMove::Move {
            via_deg: self.one_sided().then(|| self.via_deg(goal)),
            to_deg,
        }
    }

    /// Time of a command \[s\]: the overhead and its legs; 0 for a refused command.
    #[inline]
    #[must_use]
    pub fn duration_s(&self, reading_deg: f64, planned: &PlannedMove) -> f64 {
        match *planned {
            PlannedMove::Refused => 0.0,
            PlannedMove::Still => self.timing.overhead_s,
            PlannedMove::Move { via_deg, to_deg } => {
                let via_deg = via_deg.unwrap_or(reading_deg);
                if self.accelerates() {
                    self.move_s::<true>(reading_deg, via_deg, to_deg)
                } else {
                    self.move_s::<false>(reading_deg, via_deg, to_deg)
                }
            }
        }
    }

    /// Whether legs accelerate.
    #[inline(always)]
    pub(crate) fn accelerates(&self) -> bool {
        self.timing.acceleration_deg_per_s2 != 0.0
    }

    /// Time of a move of two legs \[s\], overhead included. A leg of length 0 takes no time.
    #[inline(always)]
    pub(crate) fn move_s<const ACCELERATES: bool>(
        &self,
        reading_deg: f64,
        via_deg: f64,
        to_deg: f64,
    ) -> f64 {
        let first_s = self
            .timing
            .leg_s::<ACCELERATES>((via_deg - reading_deg).abs());
        let second_s = self.timing.leg_s::<ACCELERATES>((to_deg - via_deg).abs());
        first_s + second_s + self.timing.overhead_s
    }

    /// Time of a move of one leg \[s\], overhead included.
    #[inline(always)]
    pub(crate) fn one_leg_s<const ACCELERATES: bool>(&self, length_deg: f64) -> f64 {
        self.timing.leg_s::<ACCELERATES>(length_deg) + self.timing.overhead_s
    }

    /// Fixed time of a command \[s\].
    #[inline(always)]
    pub(crate) fn overhead_s(&self) -> f64 {
        self.timing.overhead_s
    }

    /// Whether a command lies outside the stops.
    #[inline(always)]
    pub fn refuses(&self, command_deg: f64) -> bool {
        match self.travel {
            Travel::Endless => false,
            Travel::Stops { lo_deg, hi_deg } => (command_deg < lo_deg) | (command_deg > hi_deg),
        }
    }

    /// Where the drive should stop, before it rounds to a step \[deg\].
    #[inline(always)]
    pub fn goal_deg(&self, reading_deg: f64, command_deg: f64) -> f64 {
        match self.travel {
            Travel::Endless => reading_deg + residual_finite(command_deg - reading_deg, TURN_DEG),
            Travel::Stops { .. } => command_deg,
        }
    }

    /// Smallest move \[deg\]; 0 for a drive without steps.
    #[inline(always)]
    pub(crate) fn step_deg(&self) -> f64 {
        self.step_deg
    }

    /// How far a one-sided approach first goes beyond its goal \[deg\].
    #[inline(always)]
    pub(crate) fn overrun_deg(&self) -> f64 {
        self.overrun_deg
    }

    /// Whether moves have two legs.
    #[inline(always)]
    pub fn one_sided(&self) -> bool {
        self.approach != Approach::Direct
    }

    /// Reading between the two legs of a one-sided approach \[deg\].
    #[inline(always)]
    pub fn via_deg(&self, goal_deg: f64) -> f64 {
        self.quantised(self.via_goal_deg(goal_deg))
    }

    /// The same before it is rounded to a step \[deg\].
    #[inline(always)]
    pub(crate) fn via_goal_deg(&self, goal_deg: f64) -> f64 {
        let overrun_deg = match self.approach {
            Approach::FromBelow => -self.overrun_deg,
            Approach::Direct | Approach::FromAbove => self.overrun_deg,
        };
        self.within_stops(goal_deg + overrun_deg)
    }

    /// The reading at which the drive stops for a goal \[deg\].
    #[inline(always)]
    pub(crate) fn quantised(&self, goal_deg: f64) -> f64 {
        if self.step_deg == 0.0 {
            goal_deg
        } else {
            nearest_multiple(goal_deg, self.step_deg)
        }
    }

    #[inline(always)]
    fn within_stops(&self, goal_deg: f64) -> f64 {
        match self.travel {
            Travel::Endless => goal_deg,
            Travel::Stops { lo_deg, hi_deg } => {
                let goal_deg = if goal_deg > lo_deg { goal_deg } else { lo_deg };
                if goal_deg < hi_deg { goal_deg } else { hi_deg }
            }
        }
    }
}
