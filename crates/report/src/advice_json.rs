//! The result of `advise` as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::advice::{headline, reason, times};
use super::plan_json::Plan;
use super::result::{Format, Version, as_json};
use super::setting_json::SettingOfList;
use super::uncertain_json::UncertainAdvice;
use halfturn_engine::advise::{Advice, AdviceOutcome, Criteria, Setting, TargetReport};
use halfturn_engine::rig::Rig;
use halfturn_engine::summary::{PolicySummary, Rate};
use halfturn_engine::verdict::{Limits, Verdict};

/// Settings for a rig and a list of targets, with their grounds.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct AdviceResult<'a> {
    /// Version of the format.
    format: Format<2>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig as given.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Digest of the advised rig.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    advised_rig_digest: String,
    /// Seed of the random numbers.
    seed: u64,
    /// Runs for every target that is run.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    trials: u64,
    /// What counts as safe.
    limits: Limits,
    /// Other wishes for the settings.
    wishes: Criteria,
    /// Whether the advised rig meets every limit; the exit code is then 0.
    holds: bool,
    /// The result of the search.
    outcome: AdviceOutcome,
    /// The answer in a sentence or two.
    headline: String,
    /// What the changes gain and cost in time, in words; empty if that is not known.
    times: String,
    /// The list under the rig as given.
    before: ListUnderRig<'a>,
    /// The list under the advised rig.
    after: ListUnderRig<'a>,
    /// The target at which the rules are compared.
    rules_at: &'a str,
    /// The rules at that target, with the present arc.
    #[cfg_attr(feature = "schema", schemars(length(equal = 4)))]
    rules: Vec<&'a PolicySummary>,
    /// The grounds of the advice.
    plan: Plan<'a>,
    /// The advice tried on drawn rigs; only with `--uncertain`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "UncertainAdvice<'a>"))]
    uncertain: Option<UncertainAdvice<'a>>,
}

/// The result of `advise`.
#[must_use]
pub fn advice_json(advice: &Advice) -> Value {
    as_json(&AdviceResult {
        format: Format,
        version: Version,
        rig_digest: advice.rig.digest(),
        advised_rig_digest: advice.advised_rig.digest(),
        seed: advice.request.batch.seed,
        trials: advice.request.batch.trials,
        limits: advice.request.limits,
        wishes: advice.request.criteria,
        holds: advice.holds(),
        outcome: advice.outcome,
        headline: headline(advice),
        times: times(advice),
        before: ListUnderRig::of(&advice.rig, &advice.before),
        after: ListUnderRig::of(&advice.advised_rig, &advice.after),
        rules_at: &advice.shown().name,
        rules: advice.rules.iter().map(|r| &r.summary).collect(),
        plan: Plan::of(advice),
        uncertain: advice.uncertain.as_deref().map(UncertainAdvice::of),
    })
}

/// A list of targets under one rig.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct ListUnderRig<'a> {
    #[serde(flatten)]
    setting: SettingOfList,
    /// The targets, in the order of the list.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    targets: Vec<ListedTarget<'a>>,
}

impl<'a> ListUnderRig<'a> {
    pub(crate) fn of(rig: &Rig, setting: &'a Setting) -> Self {
        let targets = setting.targets.iter();
        Self {
            setting: SettingOfList::of(setting),
            targets: targets.map(|t| ListedTarget::of(rig, setting, t)).collect(),
        }
    }
}

/// One target of a list.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct ListedTarget<'a> {
    /// Its name.
    name: &'a str,
    /// Position angle as given \[deg\].
    position_angle_deg: f64,
    /// Drive angle of the first move \[deg\].
    drive_deg: f64,
    /// Distance of the drive angle from the nearer end of the arc \[deg\]; `None` without a seam.
    seam_distance_deg: Option<f64>,
    #[serde(flatten)]
    verdict: &'a Verdict,
    /// Why it is in that state.
    reason: String,
    /// How the figures were found.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["exact", "monte-carlo"])))]
    method: &'static str,
    /// Share of the runs that settle.
    settled: Rate,
    /// Share of the runs with a long swing or more.
    swinging: Rate,
    /// Degrees turned inside keep-outs, mean of all runs \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    keep_out_mean_deg: Option<f64>,
    /// Expected time until the loop ends \[s\]; `None` for a target out of reach.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    expected_time_s: Option<f64>,
    /// Time by which 50 % of all runs have settled \[s\]; `None` if fewer ever do.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    settle_time_p50_s: Option<f64>,
    /// Time by which 90 % of all runs have settled \[s\]; `None` if fewer ever do.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    settle_time_p90_s: Option<f64>,
    /// Time by which 99 % of all runs have settled \[s\]; `None` if fewer ever do.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    settle_time_p99_s: Option<f64>,
    /// Long swings, mean of all runs.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    long_swings_mean: Option<f64>,
    /// Degrees turned, mean of all runs \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    travel_mean_deg: Option<f64>,
    /// True error, mean of settled runs \[deg\]; `None` if none settled or the exact method does not find it.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    true_error_mean_deg: Option<f64>,
}

impl<'a> ListedTarget<'a> {
    fn of(rig: &Rig, setting: &Setting, t: &'a TargetReport) -> Self {
        let s = &t.summary;
        Self {
            name: &t.name,
            position_angle_deg: t.position_angle_deg,
            drive_deg: t.drive_deg,
            seam_distance_deg: t.seam_distance_deg,
            verdict: &t.verdict,
            reason: reason(rig, setting, t),
            method: s.method,
            settled: s.settled,
            swinging: s.swinging,
            keep_out_mean_deg: s.keep_out_deg.mean,
            expected_time_s: t.expected_time_s,
            settle_time_p50_s: s.settle_time_s.p50,
            settle_time_p90_s: s.settle_time_s.p90,
            settle_time_p99_s: s.settle_time_s.p99,
            long_swings_mean: s.long_swings.mean,
            travel_mean_deg: s.travel_deg.mean,
            true_error_mean_deg: s.true_error_deg.mean,
        }
    }
}
