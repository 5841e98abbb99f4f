//! The settings of a rule with which no target angle hunts, and every one is safe.

use super::{MOST_HUNTING, RuleAnywhere, Survey, compare};
use crate::advise::AdviseError;
use crate::advise::band::find_band;
use crate::advise::bound::SwingBound;
use crate::advise::changes::Changeable;
use crate::advise::one_sided::one_sided;
use crate::advise::search::{Tolerances, present_arc, starts};
use crate::rig::{Rig, Rule};
use crate::scenario::{Policy, Target};

/// Starts of the arc that are tried.
const MOST_STARTS: usize = 8;

/// The band that serves beside the seam is widened by these factors where an angle elsewhere needs more.
const WIDER: [f64; 3] = [1.0, 1.2, 1.5];

impl Survey<'_> {
    /// A rule as it is, and at its best.
    pub(super) fn rule(&self, rule: Rule) -> Result<RuleAnywhere, AdviseError> {
        let present = self.rig.with(|s| s.wrap.rule = rule)?;
        let now = self.circle(&present)?;
        self.monitor.done(self.request.batch.trials);
        let mut found = RuleAnywhere {
            best: now.clone(),
            now,
            band: None,
        };
        let own = rule == self.rig.settings().wrap.rule;
        if !found.best.serves() && (own || self.may(Changeable::Rule)) {
            self.improve(&present, &mut found)?;
            let approach = self.may(Changeable::Approach);
            if let Some(rig) = one_sided(&present)?.filter(|_| approach && !found.best.serves()) {
                self.improve(&rig, &mut found)?;
            }
        }
        self.monitor.done(self.request.batch.trials);
        Ok(found)
    }

    fn may(&self, change: Changeable) -> bool {
        self.request.change.may(change)
    }

    /// Tries tolerance, arc and band until every angle is safe.
    fn improve(&self, rig: &Rig, found: &mut RuleAnywhere) -> Result<(), AdviseError> {
        let tolerances = Tolerances {
            judge: &self.coarse,
            may_change: self.may(Changeable::Tolerance),
        };
        let rig = tolerances.with_needed(rig)?;
        let banded = rig.settings().wrap.rule == Rule::HysteresisBand;
        let mut arcs = vec![rig.settings().wrap.arc_start_deg];
        if self.may(Changeable::Arc) {
            arcs.extend(
                starts(&rig, self.coarse.targets, 0.0)
                    .iter()
                    .take(MOST_STARTS),
            );
        }
        for start_deg in arcs {
            let there = rig.with(|s| s.wrap.arc_start_deg = start_deg)?;
            let mut bands = vec![there.settings().wrap.band_deg];
            if banded && self.may(Changeable::Band) {
                let policy = Policy::of(&there);
                let bound = SwingBound::of(&there, policy, self.request.criteria.tail);
                let arc = present_arc(&there, self.coarse.targets);
                let band = find_band(&self.fine, &there, &arc, bound.residual_deg)?;
                if let Some(needed_deg) = band.needed_deg {
                    bands = WIDER.map(|wider| hundredths(wider * needed_deg)).to_vec();
                }
                found.band = Some(band);
            }
            for band_deg in bands {
                let tried = there.with(|s| {
                    if banded {
                        s.wrap.band_deg = band_deg;
                    }
                })?;
                // The seam decides quickly.
                if self.seam_hunts(&tried)? && tried != *self.rig {
                    continue;
                }
                let circle = self.circle(&tried)?;
                let better = compare(&circle, &found.best).is_lt();
                if better {
                    found.best = circle;
                }
                if found.best.serves() {
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    /// A target on the seam hunts more than it may.
    fn seam_hunts(&self, rig: &Rig) -> Result<bool, AdviseError> {
        let s = rig.settings();
        let on_seam = Target::at(
            s.drive.zero_point_deg + s.loop_.believed_sense.factor() * s.wrap.arc_start_deg,
        );
        let hunting = self.hunting(rig, &on_seam)?;
        Ok(hunting.is_some_and(|rate| rate.high > MOST_HUNTING))
    }
}

/// Rounded up to hundredths.
fn hundredths(angle_deg: f64) -> f64 {
    (100.0 * angle_deg - 1e-6).ceil() / 100.0
}
