//! Which panels of a mosaic come near the seam of a rig, and hunt.

use super::Panel;
use crate::exact::Precision;
use crate::method::{Extent, Method, find_all};
use crate::rig::Rig;
use crate::sample::{Batch, Monitor};
use crate::scenario::{Policy, Scenario};

/// What a panel does to a rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PanelRisk {
    /// Drive angle of the first move \[deg\].
    pub drive_deg: f64,
    /// Distance from the seam \[deg\]; `None` where there is none.
    pub seam_distance_deg: Option<f64>,
    /// Share of loops with two long swings or more; `None` for a panel that was not looked at, because others are nearer to the seam.
    pub ping_pong: Option<f64>,
}

/// Panels that are looked at, those nearest to the seam.
const MOST_SOLVED: usize = 200;

/// Runs where a loop cannot be solved.
const TRIALS: u64 = 4000;

/// Every panel under the rig's own rule; `None` when the monitor stopped it.
#[must_use]
pub fn panel_risks(
    rig: &Rig,
    panels: &[Panel],
    seed: u64,
    monitor: &dyn Monitor,
) -> Option<Vec<PanelRisk>> {
    let policy = Policy::of(rig);
    let mut risks: Vec<PanelRisk> = panels
        .iter()
        .map(|panel| {
            let scenario = Scenario::new(rig, policy, panel.position_angle_deg);
            PanelRisk {
                drive_deg: scenario.drive_angle_deg(),
                seam_distance_deg: scenario.seam_distance_deg(),
                ping_pong: None,
            }
        })
        .collect();
    let mut nearest: Vec<usize> = (0..panels.len()).collect();
    let distance = |i: usize| risks[i].seam_distance_deg.unwrap_or(f64::INFINITY);
    nearest.sort_by(|a, b| distance(*a).total_cmp(&distance(*b)));
    nearest.truncate(MOST_SOLVED);
    for i in nearest {
        let plan = Batch {
            trials: TRIALS,
            seed,
        };
        let method = (Method::Auto(Precision::MAP), Extent::Figures);
        let target_deg = panels[i].position_angle_deg;
        let found = find_all(rig, &[policy.rule], target_deg, plan, method, monitor);
        let summary = found.ok().flatten()?.into_iter().next()?;
        risks[i].ping_pong = Some(summary.ping_pong.rate);
    }
    Some(risks)
}
