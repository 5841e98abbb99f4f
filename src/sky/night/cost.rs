//! What each rotation of a course is expected to cost, by solving the loop, or by runs where it cannot be solved.

use super::course::Course;
use crate::exact::Precision;
use crate::method::{Extent, Method, find_all};
use crate::rig::RigError;
use crate::sample::{Batch, Monitor};

/// The expected figures of one rotation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// Mean time until the loop ends, settled or not \[s\].
    pub time_s: f64,
    /// Share that settles.
    pub settled: f64,
    /// Share with two long swings or more.
    pub ping_pong: f64,
    /// How it was found: `exact` or `monte-carlo`.
    pub method: &'static str,
}

/// Runs where a loop cannot be solved.
const TRIALS: u64 = 4000;

/// The cost of every rotation of a course, in their order; `None` when the monitor stopped it.
///
/// # Errors
/// [`RigError`] where the uncertainty of a zero point makes no rig.
pub fn costs(
    course: &Course,
    seed: u64,
    monitor: &dyn Monitor,
) -> Result<Option<Vec<Cost>>, RigError> {
    let mut costs = Vec::new();
    for rotation in &course.rotations {
        let rig = rotation.rig.with(|s| {
            // What the rig file allows; a zero point this uncertain is unknown.
            s.drive.zero_point_sigma_deg = rotation.zero_sigma_deg.min(180.0);
        })?;
        let plan = Batch {
            trials: TRIALS,
            seed,
        };
        let target_deg = rotation.scenario.brief.target_deg;
        let method = (Method::Auto(Precision::MAP), Extent::Figures);
        let found = find_all(
            &rig,
            &[course.policy.rule],
            target_deg,
            plan,
            method,
            monitor,
        );
        // `Auto` runs where it cannot solve, so that there is no error.
        let Ok(Some(found)) = found else {
            return Ok(None);
        };
        costs.extend(found.iter().map(|summary| Cost {
            time_s: summary.elapsed_s.mean.unwrap_or(0.0),
            settled: summary.settled.rate,
            ping_pong: summary.ping_pong.rate,
            method: summary.method,
        }));
    }
    Ok(Some(costs))
}
