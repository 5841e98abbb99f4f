//! The defaults of the keys.

use super::format::NEWEST;
use super::settings::{
    Approach, DriveSettings, LoopSettings, RigSettings, Rule, Sense, SolveSettings, TravelKind,
    WrapSettings,
};

impl Default for RigSettings {
    fn default() -> Self {
        Self {
            format: NEWEST,
            name: "unnamed rig".to_owned(),
            drive: DriveSettings {
                step_deg: 0.02,
                speed_deg_per_s: 3.0,
                acceleration_deg_per_s2: 0.0,
                overhead_s: 1.0,
                backlash_deg: 0.20,
                repeatability_deg: 0.02,
                gain_error: 0.0,
                periodic: Vec::new(),
                sense: Sense::Same,
                zero_point_deg: 0.0,
                zero_point_sigma_deg: 0.5,
                park_deg: 90.0,
                winding_limit_deg: 0.0,
                travel: TravelKind::Endless,
                stop_from_deg: None,
                stop_to_deg: None,
            },
            solve: SolveSettings {
                noise_deg: 0.02,
                bias_deg: 0.0,
                outlier_rate: 0.0,
                outlier_deg: 2.0,
                failure_rate: 0.0,
                exposure_s: 4.0,
                solve_s: 3.0,
                failure_s: 20.0,
                max_failures: 5,
            },
            loop_: LoopSettings {
                tolerance_deg: 0.5,
                max_solves: 20,
                confirm: 1,
                correction: 1.0,
                believed_sense: Sense::Same,
                approach: Approach::Direct,
                overrun_deg: 1.0,
                field_rotation_deg_per_s: 0.0,
            },
            wrap: WrapSettings {
                rule: Rule::HalfCircle,
                arc_start_deg: 0.0,
                band_deg: 2.0,
                symmetry: None,
            },
            keep_out: Vec::new(),
            framing: None,
        }
    }
}

macro_rules! part_of_default {
    ($($type:ident => $part:ident),+ $(,)?) => {
        $(impl Default for $type {
            fn default() -> Self {
                RigSettings::default().$part
            }
        })+
    };
}
part_of_default!(
    DriveSettings => drive,
    SolveSettings => solve,
    LoopSettings => loop_,
    WrapSettings => wrap,
);
