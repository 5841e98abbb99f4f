//! An approach from one side, which takes up the backlash, and what it gains.

use serde::Serialize;

use super::criteria::Criteria;
use super::list::{ListJudge, Settling, amid};
use super::window::lowest_deg;
use crate::rig::{Approach, Rig, RigError};
use crate::sample::{Batch, Cancelled, Unattended};
use crate::scenario::{Policy, Target};
use crate::verdict::{Judge, Limits};

/// The rig with an approach from one side, where backlash is a reason for one.
pub(super) fn one_sided(rig: &Rig) -> Result<Option<Rig>, RigError> {
    let s = rig.settings();
    if s.drive.backlash_deg <= 0.0 || s.loop_.approach != Approach::Direct {
        return Ok(None);
    }
    /// What the overrun is more than backlash and step \[deg\].
    const ROOM_DEG: f64 = 0.1;
    let least_deg = s.drive.backlash_deg + 2.0 * s.drive.step_deg + ROOM_DEG;
    let overrun_deg = if s.loop_.overrun_deg >= least_deg {
        s.loop_.overrun_deg
    } else {
        (10.0 * least_deg).ceil() / 10.0
    };
    let one_sided = rig.with(|s| {
        s.loop_.approach = Approach::FromBelow;
        s.loop_.overrun_deg = overrun_deg;
    })?;
    Ok(Some(one_sided))
}

/// What an approach from one side does for the least tolerance of a rig, far from every seam.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OneSidedGain {
    /// The overrun that it needs \[deg\].
    pub overrun_deg: f64,
    /// The least tolerance as the rig is \[deg\].
    pub now_deg: f64,
    /// The least tolerance then \[deg\].
    pub then_deg: f64,
}

/// What an approach from one side gains; `None` where it gains nothing, or a least tolerance is not found.
#[must_use]
pub fn one_sided_gain(rig: &Rig) -> Option<OneSidedGain> {
    let other = one_sided(rig).ok()??;
    let now_deg = least_tolerance_deg(rig).ok()??;
    let then_deg = least_tolerance_deg(&other).ok()??;
    (then_deg < now_deg).then_some(OneSidedGain {
        overrun_deg: other.settings().loop_.overrun_deg,
        now_deg,
        then_deg,
    })
}

/// The least tolerance at some targets in the middle of an arc \[deg\].
fn least_tolerance_deg(rig: &Rig) -> Result<Option<f64>, Cancelled> {
    // Two drive angles of every rule.
    let targets = [17.0, 107.0].map(Target::at);
    let criteria = Criteria::default();
    let judge = Judge {
        limits: Limits::default(),
        batch: Batch {
            trials: super::SEARCH_RUNS,
            seed: super::SEARCH_STREAMS,
        },
        monitor: &Unattended,
    };
    let mut list = ListJudge::new(&targets, &criteria, judge);
    list.searching = true;
    let policy = Policy::of(rig);
    let mut serves = |rig: &Rig| {
        for target in &targets {
            let drive_deg = target.scenario(rig, policy).drive_angle_deg();
            let found = list.settles(rig, amid(rig, drive_deg), target)?;
            if !found.fine {
                return Ok(found);
            }
        }
        Ok(Settling::FINE)
    };
    let guess_deg = rig.settings().loop_.tolerance_deg;
    lowest_deg(rig, guess_deg, 0.5 * policy.period_deg(), &mut serves)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::{DEMO_RIG, read};

    /// Shows (fit): what an approach from one side gains. Source: by hand: with no other error a correction that turns back
    /// misses by the backlash, and one from below misses by nothing.
    #[test]
    fn an_approach_from_one_side_takes_the_backlash_out_of_the_least_tolerance() {
        let rig = |set: &[&str]| {
            let free = [
                "drive.backlash_deg=0.6",
                "drive.periodic=[]",
                "drive.step_deg=0.01",
                "solve.noise_deg=0.01",
                "drive.repeatability_deg=0.01",
            ];
            let all = free.iter().chain(set).map(|s| (*s).to_owned());
            read(DEMO_RIG, "demo", &all.collect::<Vec<_>>()).expect("a rig")
        };
        let gain = one_sided_gain(&rig(&[])).expect("a gain");
        assert!(gain.overrun_deg > 0.6, "{gain:?}");
        assert!(
            gain.then_deg < 0.1 && gain.now_deg > 2.0 * gain.then_deg,
            "{gain:?}"
        );
        assert_eq!(one_sided_gain(&rig(&["loop.approach=from-below"])), None);
        assert_eq!(one_sided_gain(&rig(&["drive.backlash_deg=0"])), None);
    }
}
