//! Results as JSON. `docs/files.md` explains every key.

use serde::Serialize;
use serde_json::{Value, json};

use crate::advice::{headline, list_faults, reason, standing};
use halfturn_engine::advise::{
    Advice, Certificate, Proved, RigStatus, RuleComparison, Setting, TargetReport,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::Batch;
use halfturn_engine::summary::{PolicySummary, Rate};
use halfturn_engine::verdict::{Limits, TargetState, Verdict};

/// Version of the JSON formats.
pub(super) const FORMAT: u32 = 1;

/// Version of the program.
pub(super) const VERSION: &str = env!("CARGO_PKG_VERSION");

/// The result of `batch`.
#[must_use]
pub fn batch_json(rig: &Rig, batch: Batch, target_deg: f64, compared: &RuleComparison) -> Value {
    let policies: Vec<&PolicySummary> = compared.rules.iter().map(|r| &r.summary).collect();
    let verdicts = compared.rules.iter().map(|r| r.verdict.clone());
    let mut json = policies_json(
        rig,
        batch,
        target_deg,
        policies.iter().copied().zip(verdicts),
    );
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
pub fn solved_json(rig: &Rig, batch: Batch, target_deg: f64, policies: &[PolicySummary]) -> Value {
    let judged = policies
        .iter()
        .map(|p| (p, Verdict::of(p, &Limits::default())));
    policies_json(rig, batch, target_deg, judged)
}

fn policies_json<'a>(
    rig: &Rig,
    batch: Batch,
    target_deg: f64,
    policies: impl Iterator<Item = (&'a PolicySummary, Verdict)>,
) -> Value {
    let policies: Vec<_> = policies.collect();
    json!({
        "format": FORMAT,
        "version": VERSION,
        "rig_digest": rig.digest(),
        "seed": batch.seed,
        "trials": policies.iter().map(|(p, _)| p.trials).max().unwrap_or(0),
        "target_deg": target_deg,
        "policies": policies.iter().map(|(p, verdict)| judged_policy(p, verdict)).collect::<Vec<_>>(),
    })
}

/// A rule at a target with its verdict.
fn judged_policy(policy: &PolicySummary, verdict: &Verdict) -> Value {
    let mut json = json!(policy);
    json["verdict"] = json!(verdict.state);
    json["faults"] = json!(verdict.faults);
    json
}

/// Version of the JSON of `advise` and `advise --check`.
const ADVICE_FORMAT: u32 = 2;

/// One target of a setting.
#[derive(Serialize)]
struct TargetJson<'a> {
    name: &'a str,
    position_angle_deg: f64,
    drive_deg: f64,
    seam_distance_deg: Option<f64>,
    #[serde(flatten)]
    verdict: &'a Verdict,
    reason: String,
    method: &'static str,
    settled: Rate,
    swinging: Rate,
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

/// The result of `advise`.
#[must_use]
pub fn advice_json(advice: &Advice) -> Value {
    let rules: Vec<&PolicySummary> = advice.rules.iter().map(|r| &r.summary).collect();
    let mut json = json!({
        "format": ADVICE_FORMAT,
        "version": VERSION,
        "rig_digest": advice.rig.digest(),
        "advised_rig_digest": advice.advised_rig.digest(),
        "seed": advice.request.batch.seed,
        "trials": advice.request.batch.trials,
        "limits": advice.request.limits,
        "wishes": advice.request.criteria,
        "holds": advice.holds(),
        "outcome": advice.outcome,
        "headline": headline(advice),
        "before": setting_json(&advice.rig, &advice.before),
        "after": setting_json(&advice.advised_rig, &advice.after),
        "rules_at": advice.shown().name,
        "rules": rules,
        "plan": super::plan_json::plan(advice),
    });
    if let Some(u) = &advice.uncertain {
        json["uncertain"] = super::uncertain::uncertain_json(u);
    }
    json
}

/// A list of targets under one rig.
pub(super) fn setting_json(rig: &Rig, setting: &Setting) -> Value {
    let targets: Vec<_> = setting
        .targets
        .iter()
        .map(|t| TargetJson::of(rig, setting, t))
        .collect();
    let mut json = setting_head(setting);
    json["targets"] = json!(targets);
    json
}

/// The same without its targets.
pub(super) fn setting_head(setting: &Setting) -> Value {
    json!({
        "rule": setting.policy.rule,
        "symmetry": setting.policy.symmetry,
        "arc_start_deg": setting.policy.arc_start_deg,
        "band_deg": setting.policy.band_deg,
        "tolerance_deg": setting.tolerance_deg,
        "tolerance_high_deg": setting.tolerance_high_deg,
        "margin_deg": finite(setting.arc.margin_deg),
        "no_seam": setting.arc.no_seam,
        "clear_of_keep_outs": setting.arc.clear_of_keep_outs,
        "within_stops": setting.arc.within_stops,
        "holds": setting.holds(),
        "safe": setting.count(TargetState::Safe),
        "standing": standing(setting),
        "list_faults": list_faults(setting),
        "total_time_s": setting.total_time_s(),
    })
}

/// The result of `advise --check`.
#[must_use]
pub fn check_json(
    certificate: &Certificate,
    now: &RigStatus,
    proved: &Proved,
    rig: &Rig,
    seed: u64,
) -> Value {
    let (rig_is, keys) = match now {
        RigStatus::AsItWas => ("as-it-was", Vec::new()),
        RigStatus::Advised => ("advised", Vec::new()),
        RigStatus::Changed(keys) => (
            "changed",
            keys.iter()
                .map(|d| json!({ "key": d.key, "from": d.from, "to": d.to }))
                .collect(),
        ),
    };
    json!({
        "format": ADVICE_FORMAT,
        "version": VERSION,
        "holds": proved.holds(),
        "held": certificate.holds,
        "rig": rig_is,
        "changed_keys": keys,
        "same_targets": proved.same_targets,
        "seed": seed,
        "trials": certificate.trials,
        "setting": setting_json(rig, &proved.setting),
        "proof": super::plan_json::proof(&proved.proof, &proved.setting),
    })
}

/// JSON knows no infinity: without a seam there is no margin.
fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}
