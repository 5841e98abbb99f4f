//! The properties that the judge checks, each with its reason.

use serde::{Deserialize, Serialize};
use strum::VariantArray as _;

/// One thing that a controller must do in every scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::IntoStaticStr, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Property {
    /// At most one correction longer than half a period.
    LongSwings,
    /// Frames the target and says so, within `max_solves`.
    Settles,
    /// Commands nothing outside the stops.
    Travel,
    /// Commands nothing outside the arc with its band.
    Arc,
    /// Commands only what the claimed rule makes of the wanted angle.
    Rule,
    /// Turns no degree inside a keep-out sector.
    KeepOut,
    /// Commands finite numbers only.
    Finite,
    /// Goes on after a failed solve.
    FailedSolve,
    /// Ends in good order after a refused command.
    Refusal,
    /// Gives up within `max_solves` if the target cannot be framed.
    GivesUp,
    /// Answers every event in time.
    AnswersInTime,
    /// Runs until the end.
    StaysAlive,
    /// Sends only lines that the protocol knows.
    Protocol,
}

impl Property {
    /// All properties, in the order of every table.
    pub const ALL: &[Self] = Self::VARIANTS;

    /// Why the property matters, in one sentence.
    #[must_use]
    pub fn why(self) -> &'static str {
        match self {
            Self::Settles => {
                "The controller must frame every target that it can, in time, and say \"done\" only then."
            }
            Self::LongSwings => {
                "A run may need one long swing. A second one brings back the error that the first removed."
            }
            Self::Travel => "A command outside the stops drives the rotator against them.",
            Self::Arc => "Outside the arc and its band cables wind up, and gear may collide.",
            Self::Rule => {
                "Every command must be where the claimed rule puts it, in the band and beyond it."
            }
            Self::KeepOut => "In a keep-out something is in the way.",
            Self::Finite => {
                "No drive can obey an angle that is not a finite number, and every later angle inherits the fault."
            }
            Self::FailedSolve => {
                "Clouds pass. One failed solve must not end the night or the program."
            }
            Self::Refusal => {
                "After a refused command the controller must go elsewhere or give up, and not claim success."
            }
            Self::GivesUp => {
                "Where the target is out of reach, a loop without end wastes the night and wears the gear."
            }
            Self::AnswersInTime => "A controller that does not answer holds up the night.",
            Self::StaysAlive => "A controller that dies leaves the camera where it happens to be.",
            Self::Protocol => "Nobody can understand what breaks the protocol.",
        }
    }
}

/// What no property forbids, though no wrap rule does it. A session warns of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display)]
#[strum(serialize_all = "kebab-case")]
pub enum Remark {
    /// A correction swings although the direct way ends in the arc or its band.
    NeedlessSwing,
    /// A correction leaves the arc and its band, and others fold.
    LeavesBand,
}

impl Remark {
    /// What it says of the controller, in one sentence.
    #[must_use]
    pub fn why(self) -> &'static str {
        match self {
            Self::NeedlessSwing => {
                "Its own band is narrower than the one of the brief, or missing at one end of the arc."
            }
            Self::LeavesBand => {
                "It folds some corrections and lets others leave the band: its own band is wider than the one of the brief."
            }
        }
    }
}

/// A property that did not hold, with the figures.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Failure {
    /// The property.
    pub property: Property,
    /// What happened, with numbers.
    pub detail: String,
}
