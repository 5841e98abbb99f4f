//! One way of wrapping: a rule with its symmetry, arc and band.

use crate::angle::TURN_DEG;
use crate::controller::Wrap;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};

/// A wrap rule with its numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// The rule.
    pub rule: Rule,
    /// Number of orientations in a turn that frame the same field: 1, 2 or 4.
    pub symmetry: u32,
    /// Where the allowed arc starts \[deg\].
    pub arc_start_deg: f64,
    /// How far a correction may leave the arc before it folds \[deg\]; only the hysteresis band uses it.
    pub band_deg: f64,
}

impl Policy {
    /// The policy of the rig itself.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        Self::with_rule(rig, rig.settings().wrap.rule)
    }

    /// The rig's policy with another rule. Its symmetry is the rig's, or the rule's default if the rig sets none.
    #[must_use]
    pub fn with_rule(rig: &Rig, rule: Rule) -> Self {
        let wrap = &rig.settings().wrap;
        Self {
            rule,
            symmetry: wrap.symmetry.unwrap_or(rule.default_symmetry()),
            arc_start_deg: wrap.arc_start_deg,
            band_deg: wrap.band_deg,
        }
    }

    /// Period of equivalent framings \[deg\].
    #[must_use]
    pub fn period_deg(&self) -> f64 {
        TURN_DEG / f64::from(self.symmetry)
    }

    /// The wrap rule for a kind of travel.
    #[must_use]
    pub fn wrap(&self, travel: Travel) -> Wrap {
        Wrap::new(
            self.rule,
            self.arc_start_deg,
            self.period_deg(),
            self.band_deg,
            travel,
        )
    }
}
