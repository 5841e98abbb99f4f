//! What the advised start of the arc does for the list.

use crate::advise::{Advice, Setting, TargetReport, Verdict};

/// Rounding that does not change an angle \[deg\].
pub(super) const ROUNDING_DEG: f64 = 1e-9;

/// What the advised start does for the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Effect {
    /// Nothing was wrong, and a start with more room exists.
    Spare,
    /// Nothing hunted, but moves went through a keep-out and no longer do.
    Clears,
    /// Nothing was wrong, and the present start is kept.
    Fine,
    /// Every target becomes safe.
    Cures,
    /// Fewer targets hunt, but not all are safe.
    Helps,
    /// No better start exists: it is the present one, or there is no seam.
    NoOther,
    /// The start with the widest margin is no better.
    NoHelp,
}

impl Effect {
    pub(super) fn of(advice: &Advice) -> Self {
        let (before, after) = (&advice.before, &advice.after);
        let same = before.policy.arc_start_deg == after.policy.arc_start_deg;
        let crosses = |s: &Setting| crossing(s).is_some();
        // Greater is better.
        let score = |s: &Setting| {
            let bad = s.count(Verdict::WillHunt) + s.count(Verdict::OutOfReach);
            (s.count(Verdict::Safe), s.targets.len() - bad)
        };
        match (before.all_safe(), after.all_safe()) {
            (true, true) if !same && crosses(before) && !crosses(after) => Self::Clears,
            (true, true) if !same => Self::Spare,
            (true, _) => Self::Fine,
            (false, true) => Self::Cures,
            (false, false) if same => Self::NoOther,
            (false, false) if score(after) > score(before) => Self::Helps,
            (false, false) => Self::NoHelp,
        }
    }

    /// The start of the arc is worth changing.
    pub(super) fn changes(self) -> bool {
        matches!(self, Self::Spare | Self::Clears | Self::Cures | Self::Helps)
    }
}

/// The target whose runs turn farthest through keep-outs, and how far on average \[deg\].
pub(super) fn crossing(setting: &Setting) -> Option<(&TargetReport, f64)> {
    setting
        .targets
        .iter()
        .filter_map(|t| Some((t, t.summary.keep_out_deg.mean?)))
        .filter(|(_, mean)| *mean > ROUNDING_DEG)
        .max_by(|a, b| a.1.total_cmp(&b.1))
}
