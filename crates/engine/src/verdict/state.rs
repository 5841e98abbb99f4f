//! The states of a target.

use serde::Serialize;
use strum::VariantArray as _;

/// The state of a target, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::VariantArray)]
pub enum TargetState {
    /// The drive turns through a keep-out sector.
    TurnsThroughKeepOut,
    /// A reading is farther from the parking reading than the cable allows.
    WindsTooFar,
    /// A command lies outside the stops.
    OutOfReach,
    /// The camera makes two or more long swings between the ends of the arc.
    Hunts,
    /// The loop does not settle in time, without hunting.
    DoesNotSettle,
    /// Too many plate solves fail in a row.
    NoSolution,
    /// A fault may occur more often than its limit allows.
    AtRisk,
    /// No fault exceeds its limit.
    Safe,
}

impl TargetState {
    /// All states, worst first.
    pub const ALL: &[Self] = Self::VARIANTS;

    /// The predicate of one target: "hunts", "is at risk".
    #[must_use]
    pub fn does(self) -> &'static str {
        match self {
            Self::TurnsThroughKeepOut => "turns through a keep-out",
            Self::WindsTooFar => "winds the cable too far",
            Self::OutOfReach => "is out of reach",
            Self::Hunts => "hunts",
            Self::DoesNotSettle => "does not settle",
            Self::NoSolution => "finds no solution",
            Self::AtRisk => "is at risk",
            Self::Safe => "is safe",
        }
    }

    /// The predicate of several targets: "hunt", "are at risk".
    #[must_use]
    pub fn do_(self) -> &'static str {
        match self {
            Self::TurnsThroughKeepOut => "turn through a keep-out",
            Self::WindsTooFar => "wind the cable too far",
            Self::OutOfReach => "are out of reach",
            Self::Hunts => "hunt",
            Self::DoesNotSettle => "do not settle",
            Self::NoSolution => "find no solution",
            Self::AtRisk => "are at risk",
            Self::Safe => "are safe",
        }
    }
}

impl TargetState {
    /// The word after a number of targets: "1 hunts", "2 hunt", "6 safe".
    #[must_use]
    pub fn short(self, count: usize) -> &'static str {
        let does = if count == 1 { self.does() } else { self.do_() };
        does.trim_start_matches("is ").trim_start_matches("are ")
    }
}

impl std::fmt::Display for TargetState {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // "no solution", not "finds no solution".
        f.pad(
            self.does()
                .trim_start_matches("is ")
                .trim_start_matches("finds "),
        )
    }
}
