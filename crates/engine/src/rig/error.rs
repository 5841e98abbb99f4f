//! What is wrong with the settings of a rig.

use thiserror::Error;

/// A key whose value is not allowed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{key} = {value}: {allowed}")]
pub struct RigError {
    /// Dotted path.
    pub key: String,
    /// Its value as given; empty if there is none.
    pub value: String,
    /// What is allowed instead.
    pub allowed: String,
    /// Other keys that take part in the fault.
    pub partners: Vec<String>,
}
