//! A night under several rules: timetable, courses, the simulated nights, and the best rule.

use thiserror::Error;

use super::best::{BestOrder, best_order};
use super::course::{Course, Knowledge, course};
use super::given::{Night, NightError, NightTarget, Setup};
use super::moonlight::Moonlight;
use super::order::Order;
use super::simulate::simulate;
use super::tally::NightSummary;
use super::timetable::{Stretch, timetable};
use super::weather::Clouds;
use halfturn_engine::rig::{Rig, RigError, Rule};
use halfturn_engine::sample::{Batch, Cancelled, Monitor};
use halfturn_engine::verdict::{Judge, Limits, TargetState};

/// The request for a night.
#[derive(Debug, Clone)]
pub struct NightRequest {
    /// Site, mount and start.
    pub night: Night,
    /// The order of the targets.
    pub order: Order,
    /// What is kept between targets, and what slips.
    pub knowledge: Knowledge,
    /// The weather.
    pub clouds: Clouds,
    /// The rules to compare.
    pub rules: Vec<Rule>,
    /// Number of nights to run, and the seed.
    pub batch: Batch,
    /// What counts as safe.
    pub limits: Limits,
}

/// A night under one rule.
#[derive(Debug, Clone)]
pub struct RuleNight {
    /// The planned rotations.
    pub course: Course,
    /// The figures of many nights.
    pub summary: NightSummary,
}

impl RuleNight {
    /// The worst state of any stretch.
    #[must_use]
    pub fn state(&self) -> TargetState {
        let states = self.summary.stretches.iter().map(|s| s.verdict.state);
        states.min().unwrap_or(TargetState::Safe)
    }

    /// Mean time under a clear sky that loops take and that stretches lose after a loop gave up \[s\].
    #[must_use]
    pub fn lost_s(&self) -> f64 {
        let means = [&self.summary.clear_lost_s, &self.summary.given_up_s];
        means.iter().filter_map(|d| d.mean).sum()
    }
}

/// A night under several rules.
#[derive(Debug, Clone)]
pub struct NightPlan {
    /// The targets, in the order of their list.
    pub targets: Vec<NightTarget>,
    /// The stretches, in the order of time.
    pub stretches: Vec<Stretch>,
    /// The rules, in the order of the request.
    pub rules: Vec<RuleNight>,
    /// The Moon.
    pub moon: Moonlight,
    /// Time for slews, flips and focus.
    pub setup: Setup,
    /// The order of the targets, if the best one was asked for.
    pub best_order: Option<BestOrder>,
    own: Rule,
}

impl NightPlan {
    /// The night under the rig's own rule, else under the first of the rules; `None` without rules.
    #[must_use]
    pub fn shown(&self) -> Option<&RuleNight> {
        let own = self.rules.iter().find(|r| r.course.policy.rule == self.own);
        own.or(self.rules.first())
    }

    /// Of the rules under which every stretch is safe, the one that loses least time; `None` if no rule is safe.
    #[must_use]
    pub fn best(&self) -> Option<&RuleNight> {
        let safe = self.rules.iter().filter(|r| r.state() == TargetState::Safe);
        safe.min_by(|a, b| a.lost_s().total_cmp(&b.lost_s()))
    }

    /// Whether every stretch can be used and is safe under the shown rule.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.stretches.iter().all(|s| s.not_usable.is_empty())
            && self.shown().is_some_and(|r| r.state() == TargetState::Safe)
    }
}

/// Why no plan is possible.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum NightPlanError {
    /// The timetable is not possible.
    #[error(transparent)]
    Night(#[from] NightError),
    /// The rig does not suit the night.
    #[error(transparent)]
    Rig(#[from] RigError),
    /// The user stopped it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Plans a night and runs it many times under every rule, with the same luck.
///
/// # Errors
/// [`NightPlanError`] for a wrong input, or if the monitor stops the work.
pub fn plan_night(
    rig: &Rig,
    targets: Vec<NightTarget>,
    request: &NightRequest,
    monitor: &dyn Monitor,
) -> Result<NightPlan, NightPlanError> {
    let own = rig.settings().wrap.rule;
    let night = &request.night;
    let (order, best_order) = match &request.order {
        Order::Best => {
            // A night that is not possible in one order is not possible in another.
            timetable(night, &targets, &Order::List)?;
            let shown = request.rules.iter().copied().find(|r| *r == own);
            let rule = shown.or(request.rules.first().copied()).unwrap_or(own);
            let best = best_order(rig, rule, night, &targets)?;
            (Order::Numbers(best.numbers.clone()), Some(best))
        }
        given => (given.clone(), None),
    };
    let stretches = timetable(night, &targets, &order)?;
    let judge = Judge {
        limits: request.limits,
        batch: request.batch,
        monitor,
    };
    let mut rules = Vec::new();
    for rule in &request.rules {
        let course = course(rig, *rule, &targets, &stretches)?;
        let (knowledge, clouds) = (request.knowledge, request.clouds);
        let summary = simulate(rig, &course, &stretches, knowledge, clouds, &judge);
        rules.push(RuleNight {
            summary: summary.ok_or(Cancelled)?,
            course,
        });
    }
    Ok(NightPlan {
        moon: Moonlight::of(night, &targets, &stretches),
        targets,
        stretches,
        rules,
        best_order,
        setup: night.setup,
        own,
    })
}
