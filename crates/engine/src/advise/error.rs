//! Why there is no advice.

use crate::rig::RigError;
use crate::sample::Cancelled;

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AdviseError {
    /// There is no target.
    #[error("no target to judge")]
    NoTargets,
    /// The advised settings do not make a rig.
    #[error("the advised settings are not valid: {0}")]
    Rig(#[from] RigError),
    /// The user stopped the work.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
