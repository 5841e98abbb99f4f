//! The tolerance that a rig needs far from every seam, and a wider one where nothing else helps.

use crate::advise::AdviseError;
use crate::advise::list::{ListJudge, Settling, amid};
use crate::advise::window::{
    advised_deg, lowest_deg, rounded_down_deg, rounded_up_deg, tolerance_limits,
};
use crate::rig::Rig;
use crate::scenario::{Policy, Target};

/// Growth of the tolerance from one try to the next where nothing else helps.
const GROWTH: f64 = 1.25;

/// Most tries.
const MOST_TRIES: u32 = 24;

/// Finds the tolerance that a rig needs.
pub(in crate::advise) struct Tolerances<'a> {
    /// Judges the targets.
    pub(in crate::advise) judge: &'a ListJudge<'a>,
    /// The tolerance may be changed.
    pub(in crate::advise) may_change: bool,
}

impl Tolerances<'_> {
    /// A rig with the present tolerance, where that settles in the middle of an arc and keeps the frame, else with the
    /// nearest one that does.
    pub(in crate::advise) fn with_needed(&self, rig: &Rig) -> Result<Rig, AdviseError> {
        if !self.may_change {
            return Ok(rig.clone());
        }
        let judge = self.judge;
        let spread: Vec<&Target> = spread(judge.targets);
        let serves = |rig: &Rig| {
            for target in &spread {
                let scenario = target.scenario(rig, Policy::of(rig));
                let amid = amid(rig, scenario.drive_angle_deg());
                let found = judge.settles(rig, amid, target)?;
                if !found.fine {
                    return Ok(found);
                }
            }
            Ok(Settling::FINE)
        };
        let present_deg = rig.settings().loop_.tolerance_deg;
        let high_deg = frame_deg(judge, rig);
        let most_deg = 0.5 * Policy::of(rig).period_deg();
        // Where the present one loses the frame, the question is whether what the frame bears is enough.
        let wanted_deg =
            high_deg.map_or(present_deg, |high| present_deg.min(rounded_down_deg(high)));
        let there = rig.with(|s| s.loop_.tolerance_deg = wanted_deg)?;
        if serves(&there)?.fine {
            return Ok(there);
        }
        let low_deg = lowest_deg(rig, wanted_deg, most_deg, &mut |rig| serves(rig))?;
        let tolerance_deg = advised_deg(wanted_deg, low_deg, high_deg);
        Ok(rig.with(|s| s.loop_.tolerance_deg = tolerance_deg)?)
    }
}

/// The largest tolerance that keeps the frame \[deg\].
fn frame_deg(judge: &ListJudge<'_>, rig: &Rig) -> Option<f64> {
    let framing = rig.settings().framing;
    framing.map(|f| tolerance_limits(&f, judge.criteria).least_deg())
}

/// Targets that stand for all: they differ by no more than the errors at their angles.
fn spread(targets: &[Target]) -> Vec<&Target> {
    const MOST: usize = 12;
    let step = targets.len().div_ceil(MOST).max(1);
    targets.iter().step_by(step).collect()
}

/// The rig with the least wider tolerance that makes every target safe where the arc is, within what the frame bears.
pub(super) fn widened(judge: &ListJudge<'_>, rig: &Rig) -> Result<Option<Rig>, AdviseError> {
    let most_deg = 0.5 * Policy::of(rig).period_deg();
    let high_deg = frame_deg(judge, rig).unwrap_or(most_deg).min(most_deg);
    let mut tolerance_deg = rig.settings().loop_.tolerance_deg;
    for _ in 0..MOST_TRIES {
        tolerance_deg *= GROWTH;
        let rounded_deg = rounded_up_deg(tolerance_deg);
        if rounded_deg > high_deg {
            break;
        }
        let wider = rig.with(|s| s.loop_.tolerance_deg = rounded_deg)?;
        if judge.all_safe(&wider)? {
            return Ok(Some(wider));
        }
    }
    Ok(None)
}
