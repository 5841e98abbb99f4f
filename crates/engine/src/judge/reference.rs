//! A correct controller that passes every scenario: the yardstick of the judge.

use crate::angle::TURN_DEG;
use crate::controller::{Action, Brief, Controller, Standard, Wrap};
use crate::plant::Travel;
use crate::rig::Rule;

/// The model's own loop under a wrap rule. It also counts its solves and gives up in good order.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    rule: Rule,
    brief: Option<Brief>,
    inner: Standard,
    solves: u32,
}

impl Reference {
    /// A controller with this wrap rule. With the hysteresis band and with folding once it passes every scenario. The
    /// half circle folds every correction and hunts at the seam.
    #[must_use]
    pub fn new(rule: Rule) -> Self {
        Self {
            rule,
            brief: None,
            inner: Standard::new(
                Wrap::new(rule, 0.0, TURN_DEG, 0.0, Travel::Endless),
                TURN_DEG,
                1.0,
                1,
            ),
            solves: 0,
        }
    }
}

impl Default for Reference {
    fn default() -> Self {
        Self::new(Rule::HysteresisBand)
    }
}

/// The rule over the arc of a brief, which may be wider than a period.
pub(super) fn wrap(rule: Rule, brief: &Brief) -> Wrap {
    Wrap::new(
        rule,
        brief.arc_start_deg,
        brief.arc_width_deg,
        brief.band_deg,
        brief.travel,
    )
}

impl Controller for Reference {
    fn begin(&mut self, brief: &Brief) -> Action {
        let period_deg = TURN_DEG / f64::from(brief.symmetry);
        self.inner = Standard::new(wrap(self.rule, brief), period_deg, 1.0, 1);
        self.solves = 0;
        self.brief = Some(brief.clone());
        self.inner.begin(brief)
    }

    fn solved(&mut self, reading_deg: f64, position_angle_deg: f64) -> Action {
        self.solves += 1;
        let most = self.brief.as_ref().map_or(0, |b| b.max_solves);
        match self.inner.solved(reading_deg, position_angle_deg) {
            Action::Done => Action::Done,
            _ if self.solves >= most => Action::GiveUp,
            next => next,
        }
    }
}
