//! What an advice rests on, as JSON. `docs/files.md` explains every key.

use serde_json::{Value, json};

use super::json::setting_head;
use halfturn_engine::advise::{Advice, Proof, RuleOnList, Setting, short_way_trap};
use halfturn_engine::rig::KeyDifference;

/// Sets of flats that are listed; beyond that only their number.
const MOST_SETS: usize = 1000;

pub(super) fn plan(advice: &Advice) -> Value {
    let corner = |angle_deg: f64| {
        let framing = advice.rig.settings().framing;
        framing.map(|f| f.corner_shift_px(angle_deg))
    };
    let window = &advice.window;
    let rules: Vec<Value> = advice.on_list.iter().map(|r| rule(advice, r)).collect();
    json!({
        "holds": advice.holds(),
        "changes": changes(&advice.changes),
        "proof": proof(&advice.proof, &advice.after),
        "proof_sentence": crate::advice::proof(advice),
        "bound": advice.bound,
        "bound_sentence": crate::advice::bound(advice),
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
            "sentence": crate::advice::window(advice),
        },
        "repair": advice.repair,
        "repair_sentence": crate::advice::repair(advice),
        "band": advice.band,
        "band_sentence": crate::advice::band(advice),
        "rules": rules,
        "rule_sentence": crate::advice::rule_sentence(advice),
        "short_way_trap_deg": short_way_trap(&advice.advised_rig, advice.after.policy),
        "flats": {
            "within_deg": advice.flats.within_deg,
            "angles": advice.flats.angles,
            "count": advice.flats.sets.len(),
            "sets": advice.flats.sets.iter().take(MOST_SETS).collect::<Vec<_>>(),
        },
    })
}

fn changes(changes: &[KeyDifference]) -> Vec<Value> {
    let one = |c: &KeyDifference| json!({ "key": c.key, "from": c.from, "to": c.to });
    changes.iter().map(one).collect()
}

/// The runs of an advised rig.
pub(super) fn proof(proof: &Proof, setting: &Setting) -> Value {
    let name = |i: &usize| &setting.targets[*i].name;
    json!({
        "trials": proof.trials,
        "ping_pong": proof.ping_pong,
        "in_time": proof.in_time,
        "contradicted": proof.contradicted.iter().map(name).collect::<Vec<_>>(),
    })
}

fn rule(advice: &Advice, r: &RuleOnList) -> Value {
    let mut json = setting_head(&r.setting);
    json["changes"] = json!(changes(&r.changes));
    json["advised"] = json!(r.advised);
    json["why_not"] = json!((!r.advised).then(|| crate::advice::why_not(advice, r)));
    json
}
