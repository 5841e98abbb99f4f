//! A target without sampling: what runs are too few to tell.

use serde::Serialize;

use crate::exact::{NotHeld, Precision, solve_unless};
use crate::rig::Rig;
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::Rate;

/// Probabilities of one target under one rig, between the bounds of the exact method.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Exactly {
    /// Settles.
    pub settled: Rate,
    /// Two or more long swings, or out of solves.
    pub hunting: Rate,
    /// Hunting, not settled, or through a keep-out.
    pub ended_badly: Rate,
}

/// Solves one target under a rig's own rule and arc, unless `stopped` turns true.
///
/// # Errors
/// [`NotHeld`] where the exact method does not hold the rig at this target, or was stopped.
pub fn exactly(rig: &Rig, target: &Target, stopped: &dyn Fn() -> bool) -> Result<Exactly, NotHeld> {
    let scenario = Scenario::new(rig, Policy::of(rig), target.position_angle_deg);
    let solution = solve_unless(&scenario, Precision::FULL, stopped)?;
    Ok(Exactly {
        settled: Rate::bounded(solution.settled),
        hunting: Rate::bounded(solution.hunting),
        ended_badly: Rate::bounded(solution.ended_badly),
    })
}
