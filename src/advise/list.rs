//! Judges a whole list under one rig after another, and remembers what it has judged.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use super::search::ArcFacts;
use super::setting::{Setting, TargetReport};
use super::wishes::Wishes;
use crate::rig::{Approach, Rig, Rule};
use crate::sample::Cancelled;
use crate::scenario::{Policy, Scenario, Target};
use crate::verdict::{Fault, Judge, Judged, Standing};

/// Good solves after which a loop that is run in a search has shown what it does.
const ENOUGH_SOLVES: u32 = 100;

/// What differs between two loops of a search: the settings that it may change, and the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Key {
    rule: Rule,
    approach: Approach,
    numbers: [u64; 7],
}

/// Judges the targets of a list under one rig, with settings that change.
pub(super) struct ListJudge<'a> {
    pub(super) targets: &'a [Target],
    pub(super) wishes: &'a Wishes,
    pub(super) judge: Judge<'a>,
    /// Shorter runs are enough.
    pub(super) searching: bool,
    known: Mutex<HashMap<Key, Arc<Judged>>>,
}

impl<'a> ListJudge<'a> {
    pub(super) fn new(targets: &'a [Target], wishes: &'a Wishes, judge: Judge<'a>) -> Self {
        Self {
            targets,
            wishes,
            judge,
            searching: false,
            known: Mutex::default(),
        }
    }

    /// A target under a rig. All rigs of one list judge differ in no more than arc, tolerance, band, rule and approach.
    pub(super) fn one(&self, rig: &Rig, target: &Target) -> Result<Arc<Judged>, Cancelled> {
        self.at(rig, Policy::of(rig), target)
    }

    /// The same under another policy.
    pub(super) fn at(
        &self,
        rig: &Rig,
        policy: Policy,
        target: &Target,
    ) -> Result<Arc<Judged>, Cancelled> {
        let loop_ = &rig.settings().loop_;
        let key = Key {
            rule: policy.rule,
            approach: loop_.approach,
            numbers: [
                policy.arc_start_deg.to_bits(),
                policy.band_deg.to_bits(),
                u64::from(policy.symmetry),
                loop_.tolerance_deg.to_bits(),
                loop_.overrun_deg.to_bits(),
                target.position_angle_deg.to_bits(),
                target.after_deg.map_or(0, f64::to_bits),
            ],
        };
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(judged) = known().get(&key) {
            return Ok(Arc::clone(judged));
        }
        let mut scenario = target.scenario(rig, policy);
        if self.searching {
            scenario = scenario.with_max_solves(ENOUGH_SOLVES);
        }
        let judged = Arc::new(self.judge.judge(&scenario, policy)?);
        known().insert(key, Arc::clone(&judged));
        Ok(judged)
    }

    /// Every target under a rig.
    pub(super) fn setting(&self, rig: &Rig, arc: ArcFacts) -> Result<Setting, Cancelled> {
        let policy = Policy::of(rig);
        let reports = self
            .targets
            .par_iter()
            .enumerate()
            .map(|(number, target)| {
                let scenario = target.scenario(rig, policy);
                let judged = self.one(rig, target)?;
                Ok(TargetReport::new(
                    number,
                    target,
                    &scenario,
                    (*judged).clone(),
                ))
            })
            .collect::<Result<_, Cancelled>>()?;
        Ok(Setting::new(
            rig,
            arc,
            (self.judge.limits, self.wishes),
            reports,
        ))
    }

    /// Every target is safe under a rig. Those near the end of the arc are tried first, as they are the likeliest to fail.
    pub(super) fn all_safe(&self, rig: &Rig) -> Result<bool, Cancelled> {
        let policy = Policy::of(rig);
        let near = |t: &&Target| {
            let scenario = Scenario::new(rig, policy, t.position_angle_deg);
            scenario.seam_distance_deg().unwrap_or(f64::INFINITY)
        };
        let mut order: Vec<(f64, &Target)> = self.targets.iter().map(|t| (near(&t), t)).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, target) in order {
            if !self.one(rig, target)?.verdict.is_safe() {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// A target neither hunts nor fails to settle in time under a policy.
    pub(super) fn settles(
        &self,
        rig: &Rig,
        policy: Policy,
        target: &Target,
    ) -> Result<(bool, bool), Cancelled> {
        let judged = self.at(rig, policy, target)?;
        let of_settling = [Fault::PingPong, Fault::Stuck, Fault::Late];
        let fine = judged
            .verdict
            .faults
            .iter()
            .filter(|f| of_settling.contains(&f.fault))
            .all(|f| f.standing == Standing::Within);
        Ok((fine, judged.summary.method == "exact"))
    }
}
