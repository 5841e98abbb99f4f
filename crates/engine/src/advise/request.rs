//! How an advice is computed.

use super::changes::AllowedChanges;
use super::criteria::Criteria;
use crate::sample::Batch;
use crate::verdict::Limits;

/// How the advice is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AdviceRequest {
    /// Runs for every target where it cannot be solved, and for the proof.
    pub batch: Batch,
    /// What counts as safe.
    pub limits: Limits,
    /// What else the settings should keep.
    pub criteria: Criteria,
    /// What may change.
    pub change: AllowedChanges,
}
