//! A night under several rules: timetable, courses, costs and the simulated nights.

use thiserror::Error;

use super::cost::{Cost, costs};
use super::course::{Course, Knowledge, course};
use super::order::Order;
use super::simulate::simulate;
use super::tally::NightSummary;
use super::timetable::{Night, NightError, NightTarget, Stretch, timetable};
use super::weather::Clouds;
use crate::rig::{Rig, RigError, Rule};
use crate::sample::{Batch, Cancelled, Monitor, Uncounted};

/// What is asked of a night.
#[derive(Debug, Clone)]
pub struct NightRequest {
    /// Site, mount and start.
    pub night: Night,
    /// In which order the targets come.
    pub order: Order,
    /// What is kept between targets, and what slips.
    pub knowledge: Knowledge,
    /// The weather.
    pub clouds: Clouds,
    /// The rules to compare.
    pub rules: Vec<Rule>,
    /// How many nights are run, with which seed.
    pub batch: Batch,
}

/// A night under one rule.
#[derive(Debug, Clone)]
pub struct RuleNight {
    /// The planned way of the rotator.
    pub course: Course,
    /// The expected cost of every rotation.
    pub costs: Vec<Cost>,
    /// The nights that were run.
    pub summary: NightSummary,
}

impl RuleNight {
    /// Expected time of all rotations \[s\].
    #[must_use]
    pub fn expected_s(&self) -> f64 {
        self.costs.iter().map(|c| c.time_s).sum()
    }
}

/// A night under several rules.
#[derive(Debug, Clone)]
pub struct NightPlan {
    /// The targets, in the order of their list.
    pub targets: Vec<NightTarget>,
    /// The stretches, in the order of time.
    pub stretches: Vec<Stretch>,
    /// The rules, in the order asked for.
    pub rules: Vec<RuleNight>,
}

/// Why there is no plan.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PlanError {
    /// No timetable.
    #[error(transparent)]
    Night(#[from] NightError),
    /// The rig does not go with the night.
    #[error(transparent)]
    Rig(#[from] RigError),
    /// The user stopped it.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Plans a night and runs it many times under every rule, with the same luck.
///
/// # Errors
/// [`PlanError`].
pub fn plan_night(
    rig: &Rig,
    targets: Vec<NightTarget>,
    request: &NightRequest,
    monitor: &dyn Monitor,
) -> Result<NightPlan, PlanError> {
    let stretches = timetable(&request.night, &targets, &request.order)?;
    let mut rules = Vec::new();
    for rule in &request.rules {
        let course = course(rig, *rule, &targets, &stretches, &request.knowledge)?;
        let costs = costs(&course, request.batch.seed, &Uncounted(monitor))?.ok_or(Cancelled)?;
        let life = (request.knowledge, request.clouds);
        let summary = simulate(rig, &course, &stretches, life, request.batch, monitor);
        rules.push(RuleNight {
            costs,
            summary: summary.ok_or(Cancelled)?,
            course,
        });
    }
    Ok(NightPlan {
        targets,
        stretches,
        rules,
    })
}
