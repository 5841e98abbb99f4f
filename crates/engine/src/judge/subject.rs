//! What can be judged: anything that answers events, such as a controller in this process.

use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::controller::{Action, Brief, Controller};

/// What rig and solver report to a controller.
#[derive(Debug, Clone, PartialEq, strum::IntoStaticStr)]
#[strum(serialize_all = "kebab-case")]
pub enum Event<'a> {
    /// A scenario begins.
    Begin(&'a Brief),
    /// The drive has stopped.
    Moved {
        /// Its reading \[deg\].
        reading_deg: f64,
    },
    /// The last command was refused; nothing has moved.
    Refused {
        /// Why, in a few words.
        why: &'static str,
    },
    /// A good solve.
    Solved {
        /// Reading of the drive \[deg\]. A controller in another process knows it from before.
        reading_deg: f64,
        /// Measured position angle, in `[0, 360)` \[deg\].
        position_angle_deg: f64,
    },
    /// A solve failed.
    SolveFailed,
}

/// What a controller does next.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Turn the drive to this angle \[deg\].
    Move(f64),
    /// Expose and solve.
    Solve,
    /// The target is framed.
    Done,
    /// The target cannot be framed, with a reason.
    GiveUp(String),
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// The commanded angle is not a finite number.
    NotFinite,
    /// The answer did not come in time.
    Late,
    /// The controller is gone.
    Gone,
    /// The answer does not follow the protocol.
    Nonsense,
    /// The user wants to stop.
    Stopped,
}

/// A failure to answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SubjectFault {
    /// Its kind.
    pub kind: FaultKind,
    /// What happened, in one sentence.
    pub detail: String,
}

impl SubjectFault {
    /// A fault.
    #[must_use]
    pub fn new(kind: FaultKind, detail: impl Into<String>) -> Self {
        Self {
            kind,
            detail: detail.into(),
        }
    }
}

/// What can be judged.
pub trait Subject {
    /// Answers an event.
    ///
    /// # Errors
    /// [`SubjectFault`] if it has no answer. The next event then begins another scenario.
    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault>;

    /// The judge cut the scenario short, and the subject forgets it. The next event begins another one.
    fn reset(&mut self);
}

/// A controller in this process. A panic or a cut replaces it by a new one.
pub struct InProcess<F, C> {
    make: F,
    controller: Option<C>,
}

impl<F: FnMut() -> C, C: Controller> InProcess<F, C> {
    /// Judges the controllers that `make` makes. One of them plays many scenarios, as in a night.
    pub fn new(make: F) -> Self {
        Self {
            make,
            controller: None,
        }
    }
}

impl<F, C> fmt::Debug for InProcess<F, C> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("InProcess").finish_non_exhaustive()
    }
}

impl<F: FnMut() -> C, C: Controller> Subject for InProcess<F, C> {
    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault> {
        let make = &mut self.make;
        let controller = self.controller.get_or_insert_with(make);
        // A panic drops the controller, and nobody sees the state in which it left it.
        let acted = catch_unwind(AssertUnwindSafe(|| match *event {
            Event::Begin(brief) => controller.begin(brief),
            Event::Moved { reading_deg } => controller.moved(reading_deg),
            Event::Refused { .. } => controller.refused(),
            Event::Solved {
                reading_deg,
                position_angle_deg,
            } => controller.solved(reading_deg, position_angle_deg),
            Event::SolveFailed => controller.solve_failed(),
        }));
        match acted {
            Ok(Action::Move(command)) => Ok(Answer::Move(command.drive_deg)),
            Ok(Action::Solve) => Ok(Answer::Solve),
            Ok(Action::Done) => Ok(Answer::Done),
            Ok(Action::GiveUp) => Ok(Answer::GiveUp(String::new())),
            Err(panic) => {
                self.controller = None;
                let text = panic
                    .downcast_ref::<&str>()
                    .map(|s| (*s).to_owned())
                    .or_else(|| panic.downcast_ref::<String>().cloned())
                    .unwrap_or_default();
                Err(SubjectFault::new(
                    FaultKind::Gone,
                    format!("the controller panicked: {text}"),
                ))
            }
        }
    }

    fn reset(&mut self) {
        self.controller = None;
    }
}
