//! Why a target has its verdict.

use serde::Serialize;

use super::cause::Cause;
use crate::rig::KeepOut;
use crate::verdict::FaultShare;

/// Why a target has its verdict.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// No reason was looked for.
    #[default]
    NotSought,
    /// The target is safe.
    Safe(Safety),
    /// No run or a few of them show this fault, but the runs are too few to be sure of less than its limit.
    TooFewRuns(FaultShare),
    /// Every fault that decides, the worst kind first.
    Faults(Vec<FaultReason>),
}

/// What makes a target safe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Safety {
    /// The arc is a full circle of endless travel.
    NoSeam,
    /// No correction reaches the seam.
    FarFromSeam,
    /// Runs swing to the other end of the arc and settle there.
    SettlesThere,
    /// The rule holds corrections that would cross the seam.
    RuleHolds,
}

/// A fault, and what is behind it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FaultReason {
    /// The fault with its share.
    #[serde(flatten)]
    pub fault: FaultShare,
    /// What is behind it.
    pub behind: Behind,
}

/// What is behind a fault.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Behind {
    /// Nothing was found, or nothing needs to be.
    Nothing,
    /// Errors of the rig.
    Errors(Cause),
    /// The keep-out that most runs turn through.
    KeepOut(KeepOut),
    /// The first reading lies too far from the parking reading \[deg\].
    FirstReading(f64),
    /// The first command lies outside the stops; an arc could lead to this equivalent angle between them \[deg\].
    OutsideStops(Option<f64>),
}
