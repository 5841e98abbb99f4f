//! One rig judged at every target, by solving its loop where that is possible, else by running it.

use rayon::prelude::*;

use super::super::{AdviceRequest, AdviseError};
use super::draws::Drawn;
use crate::rig::Rig;
use crate::sample::{Cancelled, Monitor};
use crate::scenario::{Policy, Target};
use crate::verdict::{Fault, Judge, Standing};

/// A target under a drawn rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DrawResult {
    /// Its verdict is safe.
    pub(super) safe: bool,
    /// The target settles within the wished number of solves as often as wished.
    pub(super) in_time: bool,
    /// Share of the runs that hunt.
    pub(super) hunting_share: f64,
    /// Found without sampling.
    pub(super) solved: bool,
}

/// What is judged, and by what.
pub(super) struct Evaluator<'a> {
    pub(super) targets: &'a [Target],
    pub(super) request: AdviceRequest,
    pub(super) monitor: &'a dyn Monitor,
}

impl Evaluator<'_> {
    /// Every target under every drawn rig with the settings of `advised`: a list for each rig.
    pub(super) fn judge(&self, drawn: &[Drawn], advised: &Rig) -> Result<Lists, AdviseError> {
        drawn
            .par_iter()
            .map(|drawn| {
                let rig = drawn.with_settings_of(advised)?;
                let judged = self.targets.iter().map(|target| self.one(&rig, target));
                Ok(judged.collect::<Result<_, _>>()?)
            })
            .collect()
    }

    /// How many of the drawn rigs have a target that is not safe with the settings of `advised`.
    pub(super) fn failures(&self, drawn: &[&Drawn], advised: &Rig) -> Result<u64, AdviseError> {
        let failed = drawn.par_iter().map(|drawn| {
            let rig = drawn.with_settings_of(advised)?;
            for target in self.targets {
                if !self.one(&rig, target)?.safe {
                    return Ok(1);
                }
            }
            Ok(0)
        });
        failed.sum()
    }

    fn one(&self, rig: &Rig, target: &Target) -> Result<DrawResult, Cancelled> {
        let policy = Policy::of(rig);
        let judge = Judge {
            limits: self.request.limits,
            batch: self.request.batch,
            monitor: self.monitor,
        };
        let judged = judge.judge(&target.scenario(rig, policy), policy)?;
        let late = judged.verdict.fault(Fault::Late);
        Ok(DrawResult {
            safe: judged.verdict.is_safe(),
            in_time: late.is_some_and(|f| f.standing == Standing::Within),
            hunting_share: judged.summary.hunting.rate,
            solved: judged.summary.method == "exact",
        })
    }
}

/// A list of judged targets for each drawn rig.
pub(super) type Lists = Vec<Vec<DrawResult>>;
