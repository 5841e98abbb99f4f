//! One scenario of the judge as plain data: it can be written to a file, shrunk, and played again.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::family::Family;
use crate::angle::MOST_ANGLE_DEG;
use crate::rig::{Rig, RigError, RigSettings};
use crate::scenario::{Policy, Scenario};

/// Most failing attempts that a scenario lists.
const MOST_FAILING: usize = 10_000;

/// The right answer to a scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Expect {
    /// The target can be framed.
    Settle,
    /// The target cannot be framed: give up within `max_solves`.
    GiveUp,
    /// Framed, truly, or given up within `max_solves`.
    Either,
}

/// One scenario: the rig as it truly is, what the controller is told of it, and the luck.
///
/// The rig's zero point, believed sense, tolerance, arc and band are what the controller is told; all else is
/// the truth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// Where it comes from.
    pub family: Family,
    /// The right answer.
    pub expect: Expect,
    /// Wanted position angle \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -MOST_ANGLE_DEG, max = MOST_ANGLE_DEG)))]
    pub target_deg: f64,
    /// True zero point less the one that the controller is told \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -360, max = 360)))]
    pub zero_error_deg: f64,
    /// Attempts to solve that fail, counted from 0.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schemars(length(max = MOST_FAILING)))]
    pub failing_attempts: Vec<u32>,
    /// Good solves after which the true zero point turns by half a turn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "u32"))]
    pub flip_after_solves: Option<u32>,
    /// A direct correction may leave the arc: the controller may be one that folds the first move only.
    #[serde(default)]
    pub free_corrections: bool,
    /// Seed of the luck.
    pub seed: u64,
    /// Number of the luck under that seed.
    pub index: u64,
    /// The rig. Its zero point uncertainty, failure rate and outliers are not used.
    #[cfg_attr(feature = "schema", schemars(transform = crate::rig::whole_entries))]
    pub rig: RigSettings,
}

/// A scenario that cannot be played.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CaseError {
    /// A setting of the rig.
    #[error("rig.{0}")]
    Rig(#[from] RigError),
    /// A value that is not of the rig.
    #[error("{key} = {value}: {allowed}")]
    Value {
        /// Its key.
        key: &'static str,
        /// The value.
        value: String,
        /// What is allowed.
        allowed: String,
    },
}

impl Case {
    /// Checks the values and makes the scenario ready.
    ///
    /// # Errors
    /// [`CaseError`] for the first value out of its range.
    pub fn scenario(&self) -> Result<Scenario, CaseError> {
        let angle = |key, value: f64, most: f64| {
            if value.abs() <= most {
                return Ok(());
            }
            Err(CaseError::Value {
                key,
                value: value.to_string(),
                allowed: format!("must be a number from -{most} to {most} deg"),
            })
        };
        angle("target_deg", self.target_deg, MOST_ANGLE_DEG)?;
        angle("zero_error_deg", self.zero_error_deg, 360.0)?;
        if self.failing_attempts.len() > MOST_FAILING {
            return Err(CaseError::Value {
                key: "failing_attempts",
                value: format!("{} entries", self.failing_attempts.len()),
                allowed: format!("must have at most {MOST_FAILING}"),
            });
        }
        let rig = Rig::new(self.rig.clone())?;
        Ok(Scenario::new(&rig, Policy::of(&rig), self.target_deg))
    }

    /// The controller is told the wrong sense, so that every full correction doubles the error.
    #[must_use]
    pub fn wrong_sense(&self) -> bool {
        self.rig.drive.sense != self.rig.loop_.believed_sense
    }
}
