//! A rig judged at every target angle: the share of the angles that hunt under each rule, and the settings with which none
//! does (docs/advice.md, section 9).

mod circle;
mod cure;
#[cfg(test)]
mod tests;

pub use circle::{AnglePoint, Circle, Part, Zone};

use std::cmp::Ordering;

use super::band::BandAdvice;
use super::changes::Changeable;
use super::list::ListJudge;
use super::{AdviceRequest, AdviseError};
use crate::rig::{KeyDifference, Rig, Rule};
use crate::sample::{Cancelled, Monitor, Uncounted};
use crate::scenario::Target;
use crate::verdict::{Judge, Limits};

/// Share of the runs that may hunt at any angle, with settings that are set once.
pub const MOST_HUNTING: f64 = 1e-6;

/// Angles that stand for all where only the middle of the arc matters.
const SPREAD: u32 = 12;

/// A rule at every target angle.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleAnywhere {
    /// With the settings of the rig.
    pub now: Circle,
    /// With the best settings that were found for it.
    pub best: Circle,
    /// The band that ends hunting around the best arc; only for the hysteresis band.
    pub band: Option<BandAdvice>,
}

/// What [`any_target`] reports as done in all, for a progress bar.
#[must_use]
pub fn any_target_runs(request: &AdviceRequest) -> u64 {
    2 * (Rule::ALL.len() as u64).saturating_mul(request.batch.trials)
}

/// A rig at every target angle.
#[derive(Debug, Clone, PartialEq)]
pub struct AnyTarget {
    /// How it was asked.
    pub request: AdviceRequest,
    /// The rig as given.
    pub rig: Rig,
    /// Every rule, in the order of [`Rule::ALL`].
    pub rules: Vec<RuleAnywhere>,
    /// The settings to set once; `None` where none serve at every angle.
    pub advised: Option<Rig>,
    /// What they change.
    pub changes: Vec<KeyDifference>,
}

impl AnyTarget {
    /// The rule of the rig.
    #[must_use]
    pub fn own(&self) -> &RuleAnywhere {
        let own = self.rig.settings().wrap.rule;
        let found = self.rules.iter().find(|r| r.now.policy.rule == own);
        found.unwrap_or(&self.rules[0])
    }
}

/// Judges a rig at every target angle under every rule, and looks for settings that serve at all of them.
///
/// # Errors
/// [`AdviseError`] when cancelled through the monitor.
pub fn any_target(
    rig: &Rig,
    request: AdviceRequest,
    monitor: &dyn Monitor,
) -> Result<AnyTarget, AdviseError> {
    // One after another, because they share what they solve.
    let rules = with_survey(rig, &request, monitor, |survey| {
        let rules = Rule::ALL.iter().map(|rule| survey.rule(*rule));
        rules.collect::<Result<Vec<_>, AdviseError>>()
    })?;
    if monitor.cancelled() {
        return Err(Cancelled.into());
    }
    let present = rig.settings().wrap.rule;
    let may = |c: &&Circle| c.policy.rule == present || request.change.may(Changeable::Rule);
    let mut advised: Vec<&Circle> = rules.iter().map(|r| &r.best).filter(may).collect();
    advised.retain(|c| c.serves());
    // A band or an arc is a number to type; a rule is something that a control program has or has not.
    let cost = |c: &Circle| (rig.differences(&c.rig).len(), c.policy.rule != present);
    let advised = advised.into_iter().min_by_key(|c| cost(c));
    let advised = advised.map(|c| c.rig.clone());
    Ok(AnyTarget {
        changes: advised
            .as_ref()
            .map_or_else(Vec::new, |a| rig.differences(a)),
        request,
        rig: rig.clone(),
        rules,
        advised,
    })
}

/// Does work with a survey of a rig.
fn with_survey<T>(
    rig: &Rig,
    request: &AdviceRequest,
    monitor: &dyn Monitor,
    work: impl FnOnce(&Survey<'_>) -> T,
) -> T {
    let quiet = Uncounted(monitor);
    let spread: Vec<Target> = (0..SPREAD)
        .map(|k| Target::at(360.0 * (f64::from(k) + 0.37) / f64::from(SPREAD)))
        .collect();
    let judge = Judge {
        limits: request.limits,
        batch: request.batch,
        monitor: &quiet,
    };
    let mut fine = judge;
    // No number of runs shows a share so small.
    fine.batch.trials = 1;
    fine.limits = Limits {
        max_fault: request.limits.max_fault.min(MOST_HUNTING),
        ..request.limits
    };
    work(&Survey {
        rig,
        request,
        coarse: ListJudge::new(&spread, &request.criteria, judge),
        fine: ListJudge::new(&spread, &request.criteria, fine),
        monitor,
    })
}

/// What the judging of a rig at every angle needs.
struct Survey<'a> {
    rig: &'a Rig,
    request: &'a AdviceRequest,
    /// Judges as everything else does.
    coarse: ListJudge<'a>,
    /// Solves well enough for shares of a millionth.
    fine: ListJudge<'a>,
    monitor: &'a dyn Monitor,
}

/// Better first: serves, then the share of the angles that are safe, then the least hunting.
fn compare(a: &Circle, b: &Circle) -> Ordering {
    let worst = |c: &Circle| c.worst_hunting().map_or(0.0, |rate| rate.high);
    (b.serves().cmp(&a.serves()))
        .then(b.share(Part::is_safe).total_cmp(&a.share(Part::is_safe)))
        .then(worst(a).total_cmp(&worst(b)))
}
