//! Judges a whole list under one rig after another, and remembers what it has judged.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use super::arc::ArcFacts;
use super::criteria::Criteria;
use super::setting::{Setting, TargetReport};
use crate::rig::{Approach, Rig, Rule};
use crate::sample::{Batch, Cancelled, Unattended, run_batch};
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::{Distribution, PolicySummary};
use crate::verdict::{Fault, FaultShare, Judge, JudgedTarget, Standing, Verdict};

/// Good solves after which a loop that is run in a search has shown what it does.
const ENOUGH_SOLVES: u32 = 24;

/// The faults of a loop that does not end well although nothing stops it.
const OF_SETTLING: [Fault; 3] = [Fault::Hunting, Fault::Stuck, Fault::Late];

/// Runs of a glance.
const GLANCE_RUNS: u64 = 256;

/// So many times the share from which a fault is certain leave no doubt.
const BEYOND_DOUBT: f64 = 3.0;

/// What differs between two loops of a search: the settings that it may change, and the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Key {
    rule: Rule,
    approach: Approach,
    numbers: [u64; 7],
}

impl Key {
    fn of(rig: &Rig, policy: Policy, target: &Target) -> Self {
        let loop_ = &rig.settings().loop_;
        Self {
            rule: policy.rule,
            approach: loop_.approach,
            numbers: [
                policy.arc_start_deg.to_bits(),
                policy.band_deg.to_bits(),
                u64::from(policy.symmetry),
                loop_.tolerance_deg.to_bits(),
                loop_.overrun_deg.to_bits(),
                target.position_angle_deg.to_bits(),
                // No angle has the bits of the largest number, but 0 has those of 0.
                target.after_deg.map_or(u64::MAX, f64::to_bits),
            ],
        }
    }
}

/// Judges the targets of a list under one rig, with settings that change.
pub(super) struct ListJudge<'a> {
    pub(super) targets: &'a [Target],
    pub(super) criteria: &'a Criteria,
    pub(super) judge: Judge<'a>,
    /// Shorter runs are enough.
    pub(super) searching: bool,
    known: Mutex<HashMap<Key, Arc<JudgedTarget>>>,
    /// What was found safe, or not.
    safe: Mutex<HashMap<Key, bool>>,
    /// What was solved without a correction that leaves the arc holds for every arc that leaves these corrections alone.
    shared: Mutex<HashMap<SharedKey, Arc<JudgedTarget>>>,
}

/// What such a loop depends on: drive angle, reading at the start, period, tolerance, overrun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct SharedKey {
    approach: Approach,
    numbers: [u64; 5],
}

impl<'a> ListJudge<'a> {
    pub(super) fn new(targets: &'a [Target], criteria: &'a Criteria, judge: Judge<'a>) -> Self {
        Self {
            targets,
            criteria,
            judge,
            searching: false,
            known: Mutex::default(),
            safe: Mutex::default(),
            shared: Mutex::default(),
        }
    }

    /// A target under a rig. All rigs of one list judge differ in no more than arc, tolerance, band, rule and approach.
    pub(super) fn one(&self, rig: &Rig, target: &Target) -> Result<Arc<JudgedTarget>, Cancelled> {
        self.at(rig, Policy::of(rig), target)
    }

    /// A target judged under another policy than the rig's own.
    pub(super) fn at(
        &self,
        rig: &Rig,
        policy: Policy,
        target: &Target,
    ) -> Result<Arc<JudgedTarget>, Cancelled> {
        let key = Key::of(rig, policy, target);
        let loop_ = &rig.settings().loop_;
        if let Some(judged) = locked(&self.known).get(&key) {
            return Ok(Arc::clone(judged));
        }
        let mut scenario = target.scenario(rig, policy);
        if self.searching {
            scenario = scenario.with_max_solves(ENOUGH_SOLVES);
        }
        let shared_key = SharedKey {
            approach: loop_.approach,
            numbers: [
                scenario.drive_angle_deg(),
                scenario.brief().reading_deg,
                scenario.period_deg(),
                loop_.tolerance_deg,
                loop_.overrun_deg,
            ]
            .map(f64::to_bits),
        };
        let alone = target.after_deg.is_none();
        let like = locked(&self.shared)
            .get(&shared_key)
            .filter(|_| alone)
            .cloned();
        let judged = match like.and_then(|like| adopted(&like, &scenario, policy)) {
            Some(judged) => judged,
            None => {
                let judged = self.judge.judge(&scenario, policy)?;
                // In the form that others adopt, so that it does not matter which was first.
                let judged = adopted(&judged, &scenario, policy).unwrap_or(Arc::new(judged));
                if judged.summary.wanted.is_some() {
                    locked(&self.shared).insert(shared_key, Arc::clone(&judged));
                }
                judged
            }
        };
        locked(&self.known).insert(key, Arc::clone(&judged));
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
            self.judge.limits,
            self.criteria,
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
            if !self.is_safe(rig, policy, target)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// A target is safe under a policy.
    fn is_safe(&self, rig: &Rig, policy: Policy, target: &Target) -> Result<bool, Cancelled> {
        let key = Key::of(rig, policy, target);
        if let Some(safe) = locked(&self.safe).get(&key) {
            return Ok(*safe);
        }
        let fails = self.fails_at_a_glance(rig, policy, target, Fault::ALL);
        let safe = !fails && self.at(rig, policy, target)?.verdict.is_safe();
        locked(&self.safe).insert(key, safe);
        Ok(safe)
    }

    /// In a search: a few runs leave no doubt that one of these faults exceeds its limit.
    fn fails_at_a_glance(
        &self,
        rig: &Rig,
        policy: Policy,
        target: &Target,
        faults: &[Fault],
    ) -> bool {
        if !self.searching {
            return false;
        }
        let scenario = target.scenario(rig, policy).with_max_solves(ENOUGH_SOLVES);
        let few = Batch {
            trials: GLANCE_RUNS.min(self.judge.batch.trials),
            ..self.judge.batch
        };
        let tally = run_batch(&scenario, few, &Unattended);
        let verdict = Verdict::of(&PolicySummary::of(policy, &tally), &self.judge.limits);
        let found = verdict.faults.iter().filter(|f| faults.contains(&f.fault));
        let certain = |f: &FaultShare| BEYOND_DOUBT * f.fault.certain_from(&self.judge.limits);
        found.into_iter().any(|f| f.rate.low > certain(f))
    }

    /// A target is safe in the middle of an arc, so that no correction leaves it: no arc that sends it to the same drive
    /// angle can do better. True where that cannot be said, after a flip.
    pub(super) fn safe_amid(
        &self,
        rig: &Rig,
        target: &Target,
        drive_deg: f64,
    ) -> Result<bool, Cancelled> {
        if target.after_deg.is_some() {
            return Ok(true);
        }
        self.is_safe(rig, amid(rig, drive_deg), target)
    }

    /// Whether a target neither hunts nor fails to settle in time under a policy.
    pub(super) fn settles(
        &self,
        rig: &Rig,
        policy: Policy,
        target: &Target,
    ) -> Result<Settling, Cancelled> {
        if self.fails_at_a_glance(rig, policy, target, &OF_SETTLING) {
            return Ok(Settling::FAILED);
        }
        let judged = self.at(rig, policy, target)?;
        let faults = judged.verdict.faults.iter();
        let mut faults = faults.filter(|f| OF_SETTLING.contains(&f.fault));
        let strains = faults.clone().map(|f| libm::log(f.rate.high / f.limit));
        Ok(Settling {
            fine: faults.all(|f| f.standing == Standing::Within),
            strain: strains.reduce(f64::max).filter(|strain| strain.is_finite()),
            solved: Some(judged.summary.method == "exact"),
        })
    }
}

/// Whether a target settles.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settling {
    pub(super) fine: bool,
    /// Logarithm of the greatest of the shares, each over its limit; `None` where it is not known.
    pub(super) strain: Option<f64>,
    /// Found by the exact method; `None` where a few runs were enough.
    pub(super) solved: Option<bool>,
}

impl Settling {
    pub(super) const FINE: Self = Self {
        fine: true,
        strain: None,
        solved: None,
    };

    pub(super) const FAILED: Self = Self {
        fine: false,
        ..Self::FINE
    };
}

/// An arc with a drive angle in its middle \[deg\].
pub(super) fn amid(rig: &Rig, drive_deg: f64) -> Policy {
    let own = Policy::of(rig);
    Policy {
        rule: Rule::FoldOnce,
        band_deg: 0.0,
        arc_start_deg: drive_deg - 0.5 * own.period_deg(),
        ..own
    }
}

fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A loop that differs in its arc alone, if that leaves the corrections of the other alone.
fn adopted(like: &JudgedTarget, scenario: &Scenario, policy: Policy) -> Option<Arc<JudgedTarget>> {
    let wanted = like.summary.wanted?;
    scenario.leaves_alone(wanted).then(|| {
        let mut judged = like.clone();
        judged.summary = judged.summary.under(policy);
        judged.summary.outside_arc_deg = Distribution::certain_mean(scenario.first_outside_deg());
        Arc::new(judged)
    })
}
