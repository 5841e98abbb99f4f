//! What decides the moves: the controller trait, the model's own controller, and the wrap rules.
//!
//! To try your own wrap logic against a simulated rig, implement [`Controller`] and pass it to
//! [`crate::run::run`]; to judge it over thousands of scenarios, to [`crate::judge::check`]:
//!
//! ```
//! use halfturn_engine::controller::{Action, Brief, Command, Controller};
//! use halfturn_engine::rig::{DEMO_RIG, read};
//! use halfturn_engine::run::{Outcome, Unobserved, run};
//! use halfturn_engine::sample::stream;
//! use halfturn_engine::scenario::{Policy, Scenario};
//!
//! /// Corrects by the residual and never folds.
//! struct Plain {
//!     brief: Option<Brief>,
//! }
//!
//! impl Controller for Plain {
//!     fn begin(&mut self, brief: &Brief) -> Action {
//!         self.brief = Some(brief.clone());
//!         Action::Move(Command::to(brief.target_deg - brief.zero_point_deg))
//!     }
//!
//!     fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
//!         let Some(brief) = &self.brief else {
//!             return Action::GiveUp;
//!         };
//!         // The nearest of the equivalent framings, in (-90, 90].
//!         let error = 90.0 - (90.0 - (brief.target_deg - position_angle_deg)).rem_euclid(180.0);
//!         if error.abs() <= brief.tolerance_deg {
//!             Action::Done
//!         } else {
//!             Action::Move(Command::to(reading_deg + error))
//!         }
//!     }
//! }
//!
//! let rig = read(DEMO_RIG, "demo", &[])?;
//! let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
//! let figures = run(&scenario, &mut Plain { brief: None }, &mut stream(1, 0), &mut Unobserved);
//! assert_eq!(figures.outcome, Outcome::Settled);
//! assert_eq!(figures.long_swings, 0);
//! # Ok::<(), halfturn_engine::rig::InputError>(())
//! ```

mod standard;
mod wrap;

pub use standard::Standard;
pub use wrap::Wrap;

use crate::plant::Travel;

/// What a controller knows at the start of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Brief {
    /// Wanted position angle as given \[deg\].
    pub target_deg: f64,
    /// Largest accepted residual \[deg\].
    pub tolerance_deg: f64,
    /// Where the allowed arc starts \[deg\].
    pub arc_start_deg: f64,
    /// Width of the allowed arc \[deg\].
    pub arc_width_deg: f64,
    /// How far a correction may leave the arc \[deg\].
    pub band_deg: f64,
    /// Number of orientations in a turn that frame the same field.
    pub symmetry: u32,
    /// What limits the travel of the drive.
    pub travel: Travel,
    /// Believed position angle at drive angle 0 \[deg\].
    pub zero_point_deg: f64,
    /// Believed sense, `+1` or `-1`.
    pub sense: f64,
    /// Reading of the drive at the start \[deg\].
    pub reading_deg: f64,
    /// Good solves after which the run ends.
    pub max_solves: u32,
}

/// What a controller does next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// Turn the drive.
    Move(Command),
    /// Expose and plate-solve.
    Solve,
    /// The target is framed.
    Done,
    /// The target cannot be framed.
    GiveUp,
}

/// A commanded drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Command {
    /// Where to turn to \[deg\].
    pub drive_deg: f64,
    /// Where the controller wanted to go before its wrap rule \[deg\]. Shown, but never used.
    pub wanted_deg: f64,
}

impl Command {
    /// A command that no wrap rule has changed.
    #[must_use]
    pub fn to(drive_deg: f64) -> Self {
        Self {
            drive_deg,
            wanted_deg: drive_deg,
        }
    }

    /// Whether the wrap rule moved the command to an equivalent framing.
    #[must_use]
    pub fn folded(&self) -> bool {
        self.drive_deg != self.wanted_deg
    }
}

/// Decides the moves of a run. The run calls it once for every event, in the order of time.
pub trait Controller {
    /// A run begins. The usual answer is the first move, without a solve.
    fn begin(&mut self, brief: &Brief) -> Action;

    /// The drive has stopped at this reading \[deg\], which may be the one that it had.
    fn moved(&mut self, reading_deg: f64) -> Action {
        let _ = reading_deg;
        Action::Solve
    }

    /// The stops refused the last command; nothing has moved.
    fn refused(&mut self) -> Action {
        Action::GiveUp
    }

    /// A plate solve gave this position angle, in `[0, 360)` \[deg\], at this reading \[deg\].
    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action;

    /// A plate solve failed.
    fn solve_failed(&mut self) -> Action {
        Action::Solve
    }
}
