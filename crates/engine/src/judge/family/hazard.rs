//! The families of scenarios by name.

use serde::{Deserialize, Serialize};
use strum::VariantArray as _;

/// A family of scenarios.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Family {
    /// Targets on and beside both ends of the arc, with a band that is wide enough.
    Seam,
    /// Every symmetry, arc and travel, with targets far enough from the ends of the arc.
    Arcs,
    /// Starts everywhere: in the arc, on its ends, outside, and turns away.
    Starts,
    /// Between stops: from one end to the other, which is far along the line.
    Stops,
    /// Targets at exact multiples of the period from the start of the arc, on a perfect rig.
    Multiples,
    /// Angles written as 360, -0.0 or 720.25.
    Notation,
    /// Two solves are all there are, and backlash that a move there and back leaves: the first move must be right.
    FirstMove,
    /// A zero point that is far off.
    ZeroPoint,
    /// A zero point so far off that the correction leaves the arc and must fold.
    FarZeroPoint,
    /// A believed sense that is wrong.
    WrongSense,
    /// The true zero point turns by half a turn in mid-run.
    PierFlip,
    /// Solves that fail.
    FailedSolves,
    /// Targets that the stops forbid.
    Forbidden,
    /// Keep-out sectors where no correct controller turns.
    KeepOuts,
}

impl Family {
    /// All families, in the order in which they are shown.
    pub const ALL: &[Self] = Self::VARIANTS;
}
