//! The plan of an advice as JSON. `docs/files.md` explains every key.

use serde_json::{Value, json};

use super::json::{FORMAT, VERSION};
use crate::advise::{Advice, Certificate, Proved, RigNow, RuleOnList, short_way_trap};
use crate::summary::Distribution;

/// Sets of flats that are listed; beyond that only their number.
const MOST_SETS: usize = 1000;

pub(super) fn plan(advice: &Advice) -> Value {
    let plan = &advice.plan;
    let corner = |angle_deg: f64| {
        let framing = advice.rig.settings().framing;
        framing.map(|f| f.corner_shift_px(angle_deg))
    };
    let changes: Vec<Value> = plan
        .changes
        .iter()
        .map(|c| json!({ "key": c.key, "from": c.from, "to": c.to }))
        .collect();
    let rules: Vec<Value> = plan.rules.iter().map(|r| rule(advice, r)).collect();
    let window = &plan.window;
    json!({
        "holds": plan.holds(),
        "changes": changes,
        "limits": advice.request.wishes,
        "bound": plan.bound,
        "bound_sentence": advice.bound_sentence(),
        "window": {
            "low_deg": window.low_deg,
            "low_by": window.low_by,
            "high_deg": window.high_deg,
            "low_corner_px": window.low_deg.and_then(corner),
            "high_corner_px": window.high_deg.and_then(corner),
            "present_deg": window.present_deg,
            "present_corner_px": corner(window.present_deg),
            "advised_deg": window.advised_deg,
            "advised_corner_px": corner(window.advised_deg),
            "empty": window.empty(),
            "hardest": advice.before.targets.get(window.hardest).map(|t| &t.name),
            "tried": window.tried,
            "frame_limits": window.limits,
            "improvements": window.improvements,
            "sentence": advice.window_sentence(),
        },
        "repair": plan.repair,
        "repair_sentence": advice.repair_sentence(),
        "band": plan.band,
        "band_sentence": advice.band_sentence(),
        "rules": rules,
        "rule": plan.chosen.map(|i| plan.rules[i].policy.rule),
        "rule_sentence": advice.rule_sentence(),
        "short_way_trap_deg": short_way_trap(&plan.rig, plan.proof().policy),
        "flats": {
            "within_deg": plan.flats.within_deg,
            "angles": plan.flats.angles,
            "count": plan.flats.sets.len(),
            "sets": plan.flats.sets.iter().take(MOST_SETS).collect::<Vec<_>>(),
        },
    })
}

fn rule(advice: &Advice, r: &RuleOnList) -> Value {
    let mean = |d: &Distribution| d.mean;
    json!({
        "rule": r.policy.rule,
        "symmetry": r.policy.symmetry,
        "arc_start_deg": r.policy.arc_start_deg,
        "band_deg": r.policy.wrap(crate::plant::Plant::new(&advice.rig).travel()).band_deg(),
        "meets": r.meets(),
        "misses": r.misses,
        "safe": r.safe,
        "worst_ping_pong": r.worst_ping_pong,
        "worst_in_time": r.worst_in_time,
        "slowest": advice.before.targets.get(r.slowest).map(|t| &t.name),
        "total_time_s": r.total_time_s,
        "settle_time_mean_s": mean(&r.summary.settle_time_s),
        "settle_time_p99_s": r.summary.settle_time_s.p99,
        "solves_mean": mean(&r.summary.solves),
        "travel_mean_deg": mean(&r.summary.travel_deg),
        "outside_arc_mean_deg": mean(&r.summary.outside_arc_deg),
        "keep_out_mean_deg": mean(&r.summary.keep_out_deg),
        "winding_p99_deg": r.summary.winding_deg.p99,
        "overwound": r.overwound,
        "clear_of_keep_outs": r.choice.clear_of_keep_outs,
        "within_stops": r.choice.within_stops,
        "within_winding": r.choice.within_winding,
    })
}

/// The result of `advise --check`.
#[must_use]
pub fn check_json(certificate: &Certificate, now: &RigNow, proved: &Proved, seed: u64) -> Value {
    let (rig, keys) = match now {
        RigNow::AsItWas => ("as-it-was", Vec::new()),
        RigNow::Advised => ("advised", Vec::new()),
        RigNow::Changed(keys) => (
            "changed",
            keys.iter()
                .map(|d| json!({ "key": d.key, "from": d.from, "to": d.to }))
                .collect(),
        ),
    };
    let found = &proved.found;
    json!({
        "format": FORMAT,
        "version": VERSION,
        "holds": proved.holds(),
        "held": certificate.holds,
        "rig": rig,
        "changed_keys": keys,
        "targets": proved.targets,
        "same_targets": proved.same_targets,
        "seed": seed,
        "trials": certificate.trials,
        "safe": found.safe,
        "worst_ping_pong": found.worst_ping_pong,
        "worst_in_time": found.worst_in_time,
        "misses": found.misses,
        "tolerance_deg": proved.tolerance_deg,
        "tolerance_high_deg": proved.tolerance_high_deg,
    })
}
