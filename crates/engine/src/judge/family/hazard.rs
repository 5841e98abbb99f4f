//! The names of the families of scenarios.

use serde::{Deserialize, Serialize};
use strum::VariantArray as _;

/// A family of scenarios, each with one hazard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Family {
    /// Targets on and beside both ends of the arc, with a wide enough band.
    Seam,
    /// Every symmetry, arc and travel, with targets far enough from the ends of the arc.
    Arcs,
    /// Starts everywhere: in the arc, on its ends, outside, and turns away.
    Starts,
    /// Between stops, from one end of the line to the other.
    Stops,
    /// Targets at exact multiples of the period from the start of the arc, on a perfect rig.
    Multiples,
    /// Angles written as 360, -0.0 or 720.25.
    Notation,
    /// Only two solves, and a backlash that a move there and back leaves: the first move must be right.
    FirstMove,
    /// A zero point that is far off, with corrections that stay in the arc.
    ZeroPoint,
    /// A zero point so far off that the correction leaves the arc and must fold.
    FarZeroPoint,
    /// Corrections that end just within the band, or beyond it by known distances, on a perfect rig.
    BeyondBand,
    /// The controller believes the wrong sense.
    WrongSense,
    /// The true zero point turns by half a turn during the run.
    PierFlip,
    /// Some solves fail.
    FailedSolves,
    /// Targets outside the stops.
    Forbidden,
    /// Keep-out sectors in which no correct controller turns.
    KeepOuts,
}

impl Family {
    /// All families, in the order of every table.
    pub const ALL: &[Self] = Self::VARIANTS;
}
