//! What is wrong with the settings of a rig.

use thiserror::Error;

/// A key whose value is not permitted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{key} = {value}: {allowed}")]
pub struct RigError {
    /// Dotted path.
    pub key: String,
    /// The value.
    pub value: String,
    /// What is allowed.
    pub allowed: String,
    /// Other keys that take part in the fault.
    pub partners: Vec<String>,
}
