//! Results as JSON. `docs/files.md` explains every key.

use serde::Serialize;
use serde_json::{Value, json};

use crate::advise::{Advice, RuleComparison, Setting, TargetReport, Verdict};
use crate::rig::Rig;
use crate::sample::Batch;
use crate::summary::{PolicySummary, Rate};

/// Version of the JSON formats.
pub(super) const FORMAT: u32 = 1;

/// Version of the program.
pub(super) const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The result of `batch`.
#[must_use]
pub fn batch_json(rig: &Rig, plan: Batch, target_deg: f64, compared: &RuleComparison) -> Value {
    let policies: Vec<&PolicySummary> = compared.rules.iter().map(|r| &r.summary).collect();
    let mut json = policies_json(rig, plan, target_deg, &policies);
    json["differences"] = json!(compared.differences);
    if let Some(intervals) = &compared.until {
        let rates = policies.iter().zip(intervals).map(|(policy, interval)| {
            json!({
                "rule": policy.rule,
                "rate": policy.ping_pong.rate,
                "low": interval.low,
                "high": interval.high,
            })
        });
        json["until_ping_pong"] = rates.collect();
    }
    json
}

/// The result of `batch` where figures are not, or not all, from runs.
#[must_use]
pub fn solved_json(rig: &Rig, plan: Batch, target_deg: f64, policies: &[PolicySummary]) -> Value {
    let policies: Vec<&PolicySummary> = policies.iter().collect();
    policies_json(rig, plan, target_deg, &policies)
}

fn policies_json(rig: &Rig, plan: Batch, target_deg: f64, policies: &[&PolicySummary]) -> Value {
    json!({
        "format": FORMAT,
        "version": VERSION,
        "rig_digest": rig.digest(),
        "seed": plan.seed,
        "trials": policies.iter().map(|p| p.trials).max().unwrap_or(0),
        "target_deg": target_deg,
        "policies": policies,
    })
}

/// One target of a setting.
#[derive(Serialize)]
struct TargetJson<'a> {
    name: &'a str,
    position_angle_deg: f64,
    drive_deg: f64,
    seam_distance_deg: Option<f64>,
    verdict: Verdict,
    reason: &'a str,
    hunting: Rate,
    ping_pong: Rate,
    settled: Rate,
    unsettled: Rate,
    unsolved: Rate,
    refused: Rate,
    keep_out: Rate,
    keep_out_mean_deg: Option<f64>,
    expected_time_s: Option<f64>,
    settle_time_p50_s: Option<f64>,
    settle_time_p90_s: Option<f64>,
    settle_time_p99_s: Option<f64>,
    long_swings_mean: Option<f64>,
    travel_mean_deg: Option<f64>,
    true_error_mean_deg: Option<f64>,
}

impl<'a> TargetJson<'a> {
    fn of(t: &'a TargetReport) -> Self {
        let s = &t.summary;
        Self {
            name: &t.name,
            position_angle_deg: t.position_angle_deg,
            drive_deg: t.drive_deg,
            seam_distance_deg: t.seam_distance_deg,
            verdict: t.verdict,
            reason: &t.reason,
            hunting: t.hunting,
            ping_pong: s.ping_pong,
            settled: s.settled,
            unsettled: s.unsettled,
            unsolved: s.unsolved,
            refused: s.refused,
            keep_out: t.keep_out,
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

/// The result of `advise`.
#[must_use]
pub fn advice_json(advice: &Advice) -> Value {
    let choice = &advice.choice;
    let rules: Vec<&PolicySummary> = advice.rules.iter().map(|r| &r.summary).collect();
    let mut json = json!({
        "format": FORMAT,
        "version": VERSION,
        "rig_digest": advice.rig.digest(),
        "advised_rig_digest": advice.advised_rig.digest(),
        "seed": advice.request.batch.seed,
        "trials": advice.request.batch.trials,
        "max_ping_pong": advice.request.limits.max_hunting,
        "advised": {
            "needed": advice.decision.needed(),
            "decision": advice.decision,
            "sentence": advice.sentence(),
            "arc_start_deg": choice.start_deg,
            "margin_deg": finite(choice.margin_deg),
            "present_margin_deg": finite(choice.present_margin_deg),
            "no_seam": choice.no_seam,
            "clear_of_keep_outs": choice.clear_of_keep_outs,
            "within_stops": choice.within_stops,
            "within_winding": choice.within_winding,
            "kept_present": choice.kept_present,
        },
        "before": setting(&advice.before),
        "after": setting(&advice.after),
        "rules_at": advice.before.targets.get(advice.shown).map(|t| &t.name),
        "rules": rules,
        "plan": super::plan_json::plan(advice),
    });
    if let Some(u) = &advice.uncertain {
        json["uncertain"] = super::uncertain::uncertain_json(u);
    }
    json
}

fn setting(setting: &Setting) -> Value {
    let targets: Vec<_> = setting.targets.iter().map(TargetJson::of).collect();
    json!({
        "rule": setting.policy.rule,
        "symmetry": setting.policy.symmetry,
        "arc_start_deg": setting.policy.arc_start_deg,
        "safe": setting.count(Verdict::Safe),
        "at_risk": setting.count(Verdict::AtRisk),
        "will_hunt": setting.count(Verdict::WillHunt),
        "out_of_reach": setting.count(Verdict::OutOfReach),
        "total_time_s": setting.total_time_s(),
        "targets": targets,
    })
}

/// JSON knows no infinity: without a seam there is no margin.
fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}
