//! The result of `fit --plan` as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use crate::result::{Format, Version, as_json};
use halfturn_engine::fit::{FitPlan, PlanStep, RangeLimit, Wanted};

/// A list of moves and solves for a log.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct FitPlanResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Wanted accuracy of the mechanics \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    wanted_accuracy_deg: f64,
    /// Lowest reading \[deg\].
    from_deg: f64,
    /// What limits the readings there.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    from_limit: RangeLimit,
    /// Highest reading \[deg\].
    to_deg: f64,
    /// What limits the readings there.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    to_limit: RangeLimit,
    /// Effort and accuracy of the plan.
    plan: Effort,
    /// Effort and accuracy of a plain sweep of evenly spaced stops; `None` if it does not reach the accuracy.
    naive_sweep: Option<Effort>,
    /// The moves, in their order.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    steps: &'a [PlanStep],
}

/// Effort and accuracy of a plan.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Effort {
    /// Moves of the drive.
    moves: usize,
    /// Solves.
    solves: u32,
    /// Time \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    time_s: f64,
    /// Half width of the widest 95 % interval \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    accuracy_deg: f64,
}

impl Effort {
    fn of(plan: &FitPlan) -> Self {
        Self {
            moves: plan.steps.len(),
            solves: plan.solves(),
            time_s: plan.time_s,
            accuracy_deg: plan.accuracy_deg,
        }
    }
}

/// The result of `fit --plan`.
#[must_use]
pub fn fit_plan_json(plan: &FitPlan, naive: Option<&FitPlan>, wanted: Wanted) -> Value {
    as_json(&FitPlanResult {
        format: Format,
        version: Version,
        wanted_accuracy_deg: wanted.accuracy_deg,
        from_deg: plan.range.from.at_deg,
        from_limit: plan.range.from.limit,
        to_deg: plan.range.to.at_deg,
        to_limit: plan.range.to.limit,
        plan: Effort::of(plan),
        naive_sweep: naive.map(Effort::of),
        steps: &plan.steps,
    })
}
