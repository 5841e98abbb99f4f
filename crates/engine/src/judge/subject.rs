//! What is judged: anything that answers events, a controller in this process among them.

use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::controller::{Action, Brief, Controller};

/// What the rig and the solver tell a controller.
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
        /// In a few words.
        why: &'static str,
    },
    /// A good solve.
    Solved {
        /// Reading of the drive \[deg\]; a controller of another process has been told before.
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
    /// The target cannot be framed; with a reason.
    GiveUp(String),
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// The commanded angle is no finite number.
    NotFinite,
    /// Nothing came in time.
    Late,
    /// The controller is gone.
    Gone,
    /// What came is not understood.
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
    /// [`SubjectFault`] when there is no answer; the next event is then the beginning of a scenario.
    fn answer(&mut self, event: &Event<'_>) -> Result<Answer, SubjectFault>;

    /// The scenario was cut short by the judge: forget it. The next event is the beginning of another one.
    fn reset(&mut self);
}

/// A controller in this process, made anew after a panic or a cut.
pub struct InProcess<F, C> {
    make: F,
    controller: Option<C>,
}

impl<F: FnMut() -> C, C: Controller> InProcess<F, C> {
    /// Judges the controllers that `make` makes. One is kept over many scenarios, as in a night.
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
        // After a panic the controller is dropped, so that nobody sees what it left half done.
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
