//! The families of scenarios by name.

use serde::{Deserialize, Serialize};

/// A family of scenarios.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
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
    pub const ALL: [Self; 14] = [
        Self::Seam,
        Self::Arcs,
        Self::Starts,
        Self::Stops,
        Self::Multiples,
        Self::Notation,
        Self::FirstMove,
        Self::ZeroPoint,
        Self::FarZeroPoint,
        Self::WrongSense,
        Self::PierFlip,
        Self::FailedSolves,
        Self::Forbidden,
        Self::KeepOuts,
    ];

    /// Its name in tables, files and reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Seam => "seam",
            Self::Arcs => "arcs",
            Self::Starts => "starts",
            Self::Stops => "stops",
            Self::Multiples => "multiples",
            Self::Notation => "notation",
            Self::FirstMove => "first-move",
            Self::ZeroPoint => "zero-point",
            Self::FarZeroPoint => "far-zero-point",
            Self::WrongSense => "wrong-sense",
            Self::PierFlip => "pier-flip",
            Self::FailedSolves => "failed-solves",
            Self::Forbidden => "forbidden",
            Self::KeepOuts => "keep-outs",
        }
    }

    /// The family of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.name() == name)
    }
}

impl std::fmt::Display for Family {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.name())
    }
}
