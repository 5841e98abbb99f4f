//! One scenario of the judge as plain data, which can be written to a file, simplified, and played again.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::family::Family;
use crate::angle::{MOST_ANGLE_DEG, TURN_DEG};
use crate::rig::{Rig, RigError, RigSettings, Rule, TravelKind};
use crate::scenario::{Policy, Scenario};

/// Most entries of a list in a scenario.
const MOST_LISTED: usize = 10_000;

/// The right answer to a scenario.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Expect {
    /// The target can be framed.
    Settle,
    /// The target cannot be framed: give up within `max_solves`.
    GiveUp,
    /// Either the target is framed, truly, or the controller gives up within `max_solves`.
    Either,
}

/// One scenario: the true rig, what the controller knows of it, and the luck.
///
/// The controller gets the rig's zero point, believed sense, tolerance, arc and band. The rest is the truth, which it
/// does not know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// The family that it belongs to.
    pub family: Family,
    /// The right answer.
    pub expect: Expect,
    /// Wanted position angle \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -MOST_ANGLE_DEG, max = MOST_ANGLE_DEG)))]
    pub target_deg: f64,
    /// True zero point minus the controller's \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -360, max = 360)))]
    pub zero_error_deg: f64,
    /// Attempts to solve that fail, numbered from 0.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schemars(length(max = MOST_LISTED)))]
    pub failing_attempts: Vec<u32>,
    /// Number of good solves after which the true zero point turns by half a turn; `None` for never.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "u32"))]
    pub flip_after_solves: Option<u32>,
    /// What the good solves measure too much, in turn \[deg\]; nothing after the last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schemars(length(max = MOST_LISTED)))]
    pub solve_errors_deg: Vec<f64>,
    /// The wrap rule that the controller claims to follow; `None` for any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "Rule"))]
    pub rule: Option<Rule>,
    /// Corrections may leave the arc, as those of a controller do that folds the first move only.
    #[serde(default)]
    pub free_corrections: bool,
    /// Seed of the scenario's random errors.
    pub seed: u64,
    /// Number of the random stream under that seed.
    pub index: u64,
    /// The rig. Its zero point uncertainty, failure rate and outliers are ignored.
    #[cfg_attr(feature = "schema", schemars(transform = crate::rig::whole_entries))]
    pub rig: RigSettings,
}

/// A scenario that cannot be played.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CaseError {
    /// A setting of the rig is wrong.
    #[error("rig.{0}")]
    Rig(#[from] RigError),
    /// Another value is wrong.
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
    /// Checks the values and prepares the scenario.
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
        for &error_deg in &self.solve_errors_deg {
            angle("solve_errors_deg", error_deg, TURN_DEG)?;
        }
        let lists = [
            ("failing_attempts", self.failing_attempts.len()),
            ("solve_errors_deg", self.solve_errors_deg.len()),
        ];
        if let Some((key, entries)) = lists.into_iter().find(|l| l.1 > MOST_LISTED) {
            return Err(CaseError::Value {
                key,
                value: format!("{entries} entries"),
                allowed: format!("may have at most {MOST_LISTED}"),
            });
        }
        let rig = Rig::new(self.rig.clone())?;
        Ok(Scenario::new(&rig, Policy::of(&rig), self.target_deg))
    }

    /// Whether more than one long swing is right: the sense is wrong, or the claimed rule hunts at its seam.
    #[must_use]
    pub fn may_hunt(&self) -> bool {
        let hunts = match self.rule {
            Some(Rule::HalfCircle) => true,
            Some(Rule::FullCircle) => self.rig.drive.travel == TravelKind::Stops,
            Some(Rule::HysteresisBand | Rule::FoldOnce) | None => false,
        };
        hunts || self.wrong_sense()
    }

    /// Whether direct corrections may leave the arc and its band.
    #[must_use]
    pub fn may_leave(&self) -> bool {
        self.rule
            .map_or(self.free_corrections, |rule| rule == Rule::FoldOnce)
    }

    /// Whether the controller believes the wrong sense. Every full correction then doubles the error.
    #[must_use]
    pub fn wrong_sense(&self) -> bool {
        self.rig.drive.sense != self.rig.loop_.believed_sense
    }
}
