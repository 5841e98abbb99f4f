//! One way of wrapping: a rule with its symmetry, arc and band.

use crate::angle::TURN_DEG;
use crate::controller::Wrap;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};

/// A wrap rule and the numbers that it works with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// The rule.
    pub rule: Rule,
    /// Orientations a turn that frame the same field: 1, 2 or 4.
    pub symmetry: u32,
    /// Where the allowed arc starts \[deg\].
    pub arc_start_deg: f64,
    /// Band around the arc, used by the hysteresis band \[deg\].
    pub band_deg: f64,
}

impl Policy {
    /// The rig's own policy.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        Self::with_rule(rig, rig.settings().wrap.rule)
    }

    /// The rig's policy under another rule: the rig's symmetry where it sets one, else the rule's own.
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
