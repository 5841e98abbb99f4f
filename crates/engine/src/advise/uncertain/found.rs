//! How an advice fares on drawn rigs.

use serde::Serialize;

use super::driver::Driver;
use crate::advise::found_by::FoundBy;
use crate::fit::{Diagnosis, DiagnosisKind, Fit};
use crate::rig::{KeyDifference, Rig};
use crate::summary::Rate;

/// Settings that hold for more of the rigs than the advised ones.
#[derive(Debug, Clone)]
pub struct RobustSettings {
    /// The rig with these settings.
    pub rig: Rig,
    /// The keys that change against the advised settings.
    pub changes: Vec<KeyDifference>,
    /// Share of as many newly drawn rigs for which every target is safe.
    pub holds: Rate,
    /// The share is as large as wanted.
    pub enough: bool,
}

/// What the user asks of the drawn rigs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RobustnessRequest {
    /// How many rigs are drawn.
    pub draws: u32,
    /// Share of them for which every target should be safe.
    pub hold: f64,
}

/// One target over all drawn rigs.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct TargetShare {
    /// Its name.
    pub name: String,
    /// Share of the rigs for which it is safe.
    pub safe: Rate,
    /// Share of the rigs for which it settles within the wished number of solves as often as wished.
    pub in_time: Rate,
    /// Share of the runs that hunt, over all rigs.
    #[serde(rename = "hunting_mean")]
    pub hunting_mean: f64,
    /// Share of the runs that hunt under the rig where most do.
    #[serde(rename = "hunting_most")]
    pub hunting_most: f64,
}

/// How an advice fares on drawn rigs.
#[derive(Debug, Clone)]
pub struct Uncertain {
    /// The estimates.
    pub fit: Fit,
    /// Name of the log.
    pub log: String,
    /// What was asked for.
    pub robustness: RobustnessRequest,
    /// Share of the rigs for which every target is safe.
    pub all_safe: Rate,
    /// Every target, in the order of the list.
    pub targets: Vec<TargetShare>,
    /// Place of the target that [`Self::worst`] gives.
    pub(super) worst: usize,
    /// Errors that differ where the advice fails, the one that tells most first.
    pub drivers: Vec<Driver>,
    /// Settings that hold for more rigs, where the advised ones hold for too few.
    pub robust: Option<RobustSettings>,
    /// How targets were judged.
    pub found_by: FoundBy,
}

impl Uncertain {
    /// The advice holds for as many rigs as wanted.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.all_safe.rate >= self.robustness.hold
    }

    /// The target that is safe for the fewest rigs.
    #[must_use]
    pub fn worst(&self) -> &TargetShare {
        &self.targets[self.worst]
    }

    /// What the log does not tell.
    pub fn unconstrained(&self) -> impl Iterator<Item = &Diagnosis> {
        let all = self.fit.diagnoses.iter();
        all.filter(|d| d.kind == DiagnosisKind::NotIdentifiable)
    }
}
