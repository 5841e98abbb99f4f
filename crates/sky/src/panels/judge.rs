//! The verdict on every panel of a mosaic.

use rayon::prelude::*;

use super::Panel;
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::Cancelled;
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::{Judge, Verdict};

/// A panel as a rig frames it.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedPanel {
    /// Drive angle of the first move \[deg\].
    pub drive_deg: f64,
    /// Distance of the drive angle from the seam \[deg\]; `None` without a seam.
    pub seam_distance_deg: Option<f64>,
    /// The verdict.
    pub verdict: Verdict,
}

/// Judges every panel under the rig's own rule, from the parking reading.
///
/// # Errors
/// [`Cancelled`] if the monitor stops it.
pub fn judge_panels(
    rig: &Rig,
    panels: &[Panel],
    judge: &Judge<'_>,
) -> Result<Vec<JudgedPanel>, Cancelled> {
    let policy = Policy::of(rig);
    panels
        .par_iter()
        .map(|panel| {
            let scenario = Scenario::new(rig, policy, panel.position_angle_deg);
            Ok(JudgedPanel {
                drive_deg: scenario.drive_angle_deg(),
                seam_distance_deg: scenario.seam_distance_deg(),
                verdict: judge.judge(&scenario, policy)?.verdict,
            })
        })
        .collect()
}
