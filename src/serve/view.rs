//! What the dial of the page shows.

use serde_json::{Value, json};

use super::wire::WireTarget;
use crate::angle::{TURN_DEG, fold_finite};
use crate::report::dial_json;
use crate::rig::Rig;
use crate::scenario::{Policy, Scenario};

/// The dial of a trace, with the chosen target and the others.
pub(super) fn view(rig: &Rig, target_deg: f64, targets: &[WireTarget]) -> Value {
    let policy = Policy::of(rig);
    let scenario = Scenario::new(rig, policy, target_deg);
    let brief = scenario.brief();
    let others: Vec<Value> = targets
        .iter()
        .map(|t| {
            let scenario = Scenario::new(rig, policy, t.position_angle_deg);
            json!({
                "name": t.name,
                "position_angle_deg": t.position_angle_deg,
                "drive_deg": scenario.drive_angle_deg(),
                "seam_distance_deg": scenario.seam_distance_deg(),
            })
        })
        .collect();
    let wanted_deg = brief.sense * (target_deg - brief.zero_point_deg);
    let period_deg = scenario.period_deg();
    let equivalents: Vec<f64> = (0..policy.symmetry)
        .map(|i| fold_finite(wanted_deg + f64::from(i) * period_deg, 0.0, TURN_DEG))
        .collect();
    let mut view = dial_json(rig, &scenario);
    view["target"] = json!({
        "position_angle_deg": target_deg,
        "wanted_deg": wanted_deg,
        "equivalents_deg": equivalents,
        "seam_distance_deg": scenario.seam_distance_deg(),
    });
    view["targets"] = others.into();
    let framing = rig.settings().framing;
    view["tolerance_corner_px"] = json!(framing.map(|f| f.corner_shift_px(brief.tolerance_deg)));
    view
}
