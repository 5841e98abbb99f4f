//! Which keys of a rig an advice may change.

use serde::Serialize;
use strum::VariantArray as _;

/// A setting that an advice may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::VariantArray)]
#[strum(serialize_all = "kebab-case")]
pub enum Changeable {
    /// The start of the arc.
    Arc,
    /// The tolerance of the loop.
    Tolerance,
    /// The hysteresis band.
    Band,
    /// The wrap rule.
    Rule,
    /// The approach: direct, or always from one side.
    Approach,
}

impl Changeable {
    /// All of them, by the names that `--change` takes.
    pub const ALL: &[Self] = Self::VARIANTS;
}

/// The settings that an advice may change; all by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AllowedChanges([bool; Changeable::ALL.len()]);

impl Default for AllowedChanges {
    fn default() -> Self {
        Self([true; Changeable::ALL.len()])
    }
}

impl AllowedChanges {
    /// Only these.
    #[must_use]
    pub fn only(changes: &[Changeable]) -> Self {
        let mut allowed = Self([false; Changeable::ALL.len()]);
        for change in changes {
            allowed.0[*change as usize] = true;
        }
        allowed
    }

    /// A setting is among them.
    #[must_use]
    pub fn may(self, change: Changeable) -> bool {
        self.0[change as usize]
    }

    /// Everything may change.
    #[must_use]
    pub fn all(self) -> bool {
        self == Self::default()
    }
}
