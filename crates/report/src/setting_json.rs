//! A rig's settings and the state of its list, as JSON.

use serde::Serialize;

use super::advice::{list_faults, standing};
use super::result::finite;
use halfturn_engine::advise::Setting;
use halfturn_engine::rig::Rule;
use halfturn_engine::verdict::TargetState;

/// The settings of a rig, and the state of its list of targets.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct SettingOfList {
    /// The wrap rule.
    rule: Rule,
    /// Number of orientations in a turn that frame the same field.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, 2, 4])))]
    symmetry: u32,
    /// Start of the arc \[deg\].
    arc_start_deg: f64,
    /// How far a correction may leave the arc before it folds \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    band_deg: f64,
    /// Largest accepted residual \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    tolerance_deg: f64,
    /// Largest tolerance that keeps the frame \[deg\]; `None` without `[framing]`.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    tolerance_high_deg: Option<f64>,
    /// Smallest distance of a target from the seam \[deg\]; `None` without a seam.
    seam_distance_deg: Option<f64>,
    /// Whether the arc has no seam.
    no_seam: bool,
    /// Whether the arc, band included, is clear of every keep-out.
    clear_of_keep_outs: bool,
    /// Whether the arc, band included, fits between the stops.
    within_stops: bool,
    /// Whether every limit is met.
    holds: bool,
    /// Number of safe targets.
    safe: usize,
    /// How many targets are in which state, in words.
    standing: String,
    /// Limits of the whole list that are not met, in words.
    list_faults: Vec<String>,
    /// Sum of `expected_time_s` over the targets within reach \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    total_time_s: f64,
}

impl SettingOfList {
    pub(crate) fn of(setting: &Setting) -> Self {
        Self {
            rule: setting.policy.rule,
            symmetry: setting.policy.symmetry,
            arc_start_deg: setting.policy.arc_start_deg,
            band_deg: setting.policy.band_deg,
            tolerance_deg: setting.tolerance_deg,
            tolerance_high_deg: setting.tolerance_high_deg,
            seam_distance_deg: finite(setting.arc.seam_distance_deg),
            no_seam: setting.arc.no_seam,
            clear_of_keep_outs: setting.arc.clear_of_keep_outs,
            within_stops: setting.arc.within_stops,
            holds: setting.holds(),
            safe: setting.count(TargetState::Safe),
            standing: standing(setting),
            list_faults: list_faults(setting),
            total_time_s: setting.total_time_s(),
        }
    }
}
