//! Which keys of a rig an advice may change.

use serde::Serialize;

/// A setting that an advice may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
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
    /// All of them, with the names that `--change` takes.
    pub const NAMES: [(Self, &'static str); 5] = [
        (Self::Arc, "arc"),
        (Self::Tolerance, "tolerance"),
        (Self::Band, "band"),
        (Self::Rule, "rule"),
        (Self::Approach, "approach"),
    ];

    /// The setting of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let mut all = Self::NAMES.iter();
        all.find(|(_, known)| *known == name)
            .map(|(change, _)| *change)
    }
}

/// The settings that an advice may change; all by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AllowedChanges([bool; Changeable::NAMES.len()]);

impl Default for AllowedChanges {
    fn default() -> Self {
        Self([true; Changeable::NAMES.len()])
    }
}

impl AllowedChanges {
    /// Only these.
    #[must_use]
    pub fn only(changes: &[Changeable]) -> Self {
        Self(Changeable::NAMES.map(|(change, _)| changes.contains(&change)))
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
