//! The loop while the field turns at the rate of the sky.

use halfturn_engine::rig::{Rig, RigError, Rule};
use halfturn_engine::sample::{Batch, Monitor, run_batch};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::summary::PolicySummary;

/// The same loop with the field at rest and with the field turning.
#[derive(Debug, Clone, PartialEq)]
pub struct SettleWhileTurning {
    /// Rate of the field, in position angle \[deg/s\].
    pub rate_deg_per_s: f64,
    /// The loop with the field at rest.
    pub at_rest: PolicySummary,
    /// The loop with the field turning.
    pub turning: PolicySummary,
}

/// Largest rate that a rig file may have \[deg/s\].
const MOST_DEG_PER_S: f64 = 1.0;

/// Runs the loop of a rotator on an altazimuth mount at the moment when the zenith has the position angle
/// `zenith_deg` and the field turns at `rate_deg_per_h`. `None` if the monitor stopped it. A rate beyond the range of
/// a rig file is cut to that range.
///
/// # Errors
/// [`RigError`], which does not happen with a rate in range.
pub fn settle_while_turning(
    rig: &Rig,
    rule: Rule,
    position_angle_deg: f64,
    zenith_deg: f64,
    rate_deg_per_h: f64,
    batch: Batch,
    monitor: &dyn Monitor,
) -> Result<Option<SettleWhileTurning>, RigError> {
    let rate_deg_per_s = (rate_deg_per_h / 3600.0).clamp(-MOST_DEG_PER_S, MOST_DEG_PER_S);
    let summary = |rate: f64| -> Result<Option<PolicySummary>, RigError> {
        let rig = rig.with(|s| s.loop_.field_rotation_deg_per_s = rate)?;
        let policy = Policy::with_rule(&rig, rule);
        let scenario = Scenario::new(&rig, policy, position_angle_deg - zenith_deg);
        let tally = run_batch(&scenario, batch, monitor);
        Ok((tally.trials == batch.trials).then(|| PolicySummary::of(policy, &tally)))
    };
    let (Some(at_rest), Some(turning)) = (summary(0.0)?, summary(rate_deg_per_s)?) else {
        return Ok(None);
    };
    Ok(Some(SettleWhileTurning {
        rate_deg_per_s,
        at_rest,
        turning,
    }))
}
