//! The faults of a loop, and how each compares with its limit.

use serde::Serialize;
use strum::VariantArray as _;

use super::{Limits, TargetState};
use crate::summary::{PolicySummary, Rate};

/// A fault of the loop is certain from this many times its limit. Below, it is a risk.
const CERTAIN_FACTOR: f64 = 10.0;

/// A fault in this share of the runs is certain in any case.
const CERTAIN_SHARE: f64 = 0.5;

/// A way for a run to go wrong, worst first.
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
    /// The stops refuse a command.
    Refused,
    /// Two or more long swings.
    Hunting,
    /// The good solves run out, with at most one long swing.
    Stuck,
    /// The run did not settle within the wanted number of good solves.
    Late,
    /// Too many failed solves in a row.
    Unsolved,
}

impl Fault {
    /// All faults, worst first.
    pub const ALL: &[Self] = Self::VARIANTS;

    /// The fault in a few words, to stand before a share of the runs.
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

    /// The state of a target for which this fault is certain.
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

    /// Largest share of the runs that may have this fault.
    #[must_use]
    pub fn limit(self, limits: &Limits) -> f64 {
        match self {
            Self::Late => 1.0 - limits.settle_chance,
            _ => limits.max_fault,
        }
    }

    /// Share above which the fault is certain. A fault that can break gear is certain above its limit.
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

/// How the share of a fault compares with its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Within the limit: the upper end of the interval is at most the limit.
    Within,
    /// Neither of the two: the share may exceed the limit, or exceeds it a little.
    MayExceed,
    /// Certainly above the limit.
    ///
    /// The lower end of the interval is above [`Fault::certain_from`].
    Exceeds,
}

/// A fault with its share and its limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct FaultShare {
    /// The fault.
    pub fault: Fault,
    /// Share of the runs, with its interval or bounds.
    #[serde(flatten)]
    pub rate: Rate,
    /// Largest allowed share.
    pub limit: f64,
    /// How the share compares with the limit.
    pub standing: Standing,
}

/// A smaller difference of probabilities is rounding.
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

    /// The state that this fault puts a target in; `None` if it is within its limit.
    #[must_use]
    pub fn state(&self) -> Option<TargetState> {
        match self.standing {
            Standing::Within => None,
            Standing::MayExceed => Some(TargetState::AtRisk),
            Standing::Exceeds => Some(self.fault.state()),
        }
    }
}
