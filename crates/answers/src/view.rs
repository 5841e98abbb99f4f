//! The data of the page's dial.

use serde_json::{Value, json};

use crate::wire::WireTarget;
use halfturn_engine::angle::{TURN_DEG, fold_finite};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::wording::on_dial;
use halfturn_report::dial_json;

/// The dial of a trace, with the chosen target and the others.
pub(crate) fn view(rig: &Rig, target_deg: f64, targets: &[WireTarget]) -> Value {
    let policy = Policy::of(rig);
    let scenario = Scenario::new(rig, policy, target_deg);
    let brief = scenario.brief();
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
    let others = targets.iter().map(|t| {
        let mut other = place(rig, t.position_angle_deg);
        other["name"] = json!(t.name);
        other["position_angle_deg"] = json!(t.position_angle_deg);
        other
    });
    view["targets"] = others.collect();
    let framing = rig.settings().framing;
    view["tolerance_corner_px"] = json!(framing.map(|f| f.corner_shift_px(brief.tolerance_deg)));
    view
}

/// Where a target \[deg\] lies, in the words of `advise`.
pub(crate) fn place(rig: &Rig, target_deg: f64) -> Value {
    let scenario = Scenario::new(rig, Policy::of(rig), target_deg);
    let drive_deg = scenario.drive_angle_deg();
    json!({
        "drive_deg": match scenario.brief().travel {
            Travel::Endless => on_dial(drive_deg),
            Travel::Stops { .. } => drive_deg,
        },
        "seam_distance_deg": scenario.seam_distance_deg(),
    })
}
