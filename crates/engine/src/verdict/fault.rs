//! The faults of a loop, and how each stands to its limit.

use serde::Serialize;
use strum::VariantArray as _;

use super::{Limits, TargetState};
use crate::summary::{PolicySummary, Rate};

/// A fault of the loop with this many times its limit is certain; up to there it is a risk.
const CERTAIN_FACTOR: f64 = 10.0;

/// No more than half of the runs need to have a fault for it to be certain.
const CERTAIN_SHARE: f64 = 0.5;

/// A way for a run to go wrong, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Fault {
    /// A leg of the drive passes through a keep-out sector.
    KeepOut,
    /// A reading is farther from the parking reading than the cable allows.
    Winding,
    /// A command lies outside the stops.
    Refused,
    /// Two or more long swings.
    Hunting,
    /// The good solves are used up, without a second long swing.
    Stuck,
    /// Not settled within the wished number of good solves.
    Late,
    /// Too many failed solves in a row.
    Unsolved,
}

impl Fault {
    /// All of them, the worst first.
    pub const ALL: &[Self] = Self::VARIANTS;

    /// The fault in a few words, before a share of the runs.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::KeepOut => "through a keep-out",
            Self::Winding => "cable wound too far",
            Self::Refused => "refused at a stop",
            Self::Hunting => "hunting",
            Self::Stuck => "out of solves",
            Self::Late => "late",
            Self::Unsolved => "without a solution",
        }
    }

    /// The state of a target where this fault is certain.
    #[must_use]
    pub fn state(self) -> TargetState {
        match self {
            Self::KeepOut => TargetState::TurnsThroughKeepOut,
            Self::Winding => TargetState::WindsTooFar,
            Self::Refused => TargetState::OutOfReach,
            Self::Hunting => TargetState::Hunts,
            Self::Stuck | Self::Late => TargetState::DoesNotSettle,
            Self::Unsolved => TargetState::NoSolution,
        }
    }

    /// Share of the runs with this fault.
    #[must_use]
    pub fn share(self, summary: &PolicySummary, limits: &Limits) -> Rate {
        match self {
            Self::KeepOut => summary.keep_out,
            Self::Winding => summary.overwound,
            Self::Refused => summary.refused,
            Self::Hunting => summary.hunting,
            Self::Stuck => summary.stuck,
            Self::Late => summary
                .settled_by
                .late(limits.max_solves, &summary.unsolved),
            Self::Unsolved => summary.unsolved,
        }
    }

    /// Largest share of the runs that may have it.
    #[must_use]
    pub fn limit(self, limits: &Limits) -> f64 {
        match self {
            Self::Late => 1.0 - limits.settle_chance,
            _ => limits.max_fault,
        }
    }

    /// Share from which on it is certain. What can break the gear is certain from its limit on.
    #[must_use]
    pub fn certain_from(self, limits: &Limits) -> f64 {
        let limit = self.limit(limits);
        match self {
            Self::KeepOut | Self::Winding | Self::Refused => limit,
            Self::Hunting | Self::Stuck | Self::Late | Self::Unsolved => {
                (CERTAIN_FACTOR * limit).min(CERTAIN_SHARE).max(limit)
            }
        }
    }
}

/// How the share of a fault stands to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Within it: the upper end of the share's interval is at most the limit.
    Within,
    /// The share may be beyond the limit, or is a little.
    MayExceed,
    /// Beyond it for certain.
    ///
    /// The lower end of the interval is above [`Fault::certain_from`].
    Exceeds,
}

/// A fault with its share and its limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct FaultShare {
    /// Which.
    pub fault: Fault,
    /// Share of the runs, with its interval or bounds.
    #[serde(flatten)]
    pub rate: Rate,
    /// Largest share that is permitted.
    pub limit: f64,
    /// How the one stands to the other.
    pub standing: Standing,
}

/// Rounding of a sum of probabilities that is no fault.
const ROUNDING: f64 = 1e-9;

impl FaultShare {
    /// A fault with this share under these limits.
    #[must_use]
    pub fn new(fault: Fault, rate: Rate, limits: &Limits) -> Self {
        let limit = fault.limit(limits);
        Self {
            fault,
            rate,
            limit,
            standing: if rate.low > fault.certain_from(limits) {
                Standing::Exceeds
            } else if rate.high > limit + ROUNDING {
                Standing::MayExceed
            } else {
                Standing::Within
            },
        }
    }

    /// The state that it puts a target in; `None` where it is within its limit.
    #[must_use]
    pub fn state(&self) -> Option<TargetState> {
        match self.standing {
            Standing::Within => None,
            Standing::MayExceed => Some(TargetState::AtRisk),
            Standing::Exceeds => Some(self.fault.state()),
        }
    }
}
