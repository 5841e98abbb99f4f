//! What the dial of the page shows.

use serde_json::{Value, json};

use super::wire::WireTarget;
use crate::angle::{TURN_DEG, fold_finite};
use crate::plant::Travel;
use crate::rig::Rig;
use crate::scenario::{Policy, Scenario};

/// Arc, band, seam, stops and keep-outs, the chosen target and the others.
pub(super) fn view(rig: &Rig, target_deg: f64, targets: &[WireTarget]) -> Value {
    let s = rig.settings();
    let policy = Policy::of(rig);
    let scenario = Scenario::new(rig, policy, target_deg);
    let brief = scenario.brief();
    let stops = match brief.travel {
        Travel::Endless => Value::Null,
        Travel::Stops { lo_deg, hi_deg } => json!([lo_deg, hi_deg]),
    };
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
    json!({
        "rule": policy.rule,
        "symmetry": policy.symmetry,
        "period_deg": period_deg,
        "arc_start_deg": brief.arc_start_deg,
        "arc_width_deg": brief.arc_width_deg,
        "band_deg": brief.band_deg,
        "stops_deg": stops,
        "sense": brief.sense,
        "zero_point_deg": brief.zero_point_deg,
        "park_deg": brief.reading_deg,
        "tolerance_deg": brief.tolerance_deg,
        "keep_outs": s.keep_out,
        "target": {
            "position_angle_deg": target_deg,
            "wanted_deg": wanted_deg,
            "equivalents_deg": equivalents,
            "drive_deg": scenario.drive_angle_deg(),
            "seam_distance_deg": scenario.seam_distance_deg(),
        },
        "targets": others,
        "tolerance_corner_px": s.framing.map(|f| f.corner_shift_px(brief.tolerance_deg)),
    })
}
