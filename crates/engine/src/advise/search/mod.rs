//! The search for the rig that meets every limit on every target with the fewest changed keys, then in the least time
//! (docs/advice.md, section 3).

mod grounds;
mod score;
#[cfg(test)]
mod tests;
mod tolerance;

pub(super) use grounds::{CONDITIONS, Grounds};
pub(super) use tolerance::Tolerances;

use std::cmp::Ordering;

use rayon::prelude::*;

use super::arc::ArcFacts;
use super::band::{BandAdvice, find_band};
use super::bound::SwingBound;
use super::changes::Changeable;
use super::list::ListJudge;
use super::one_sided::one_sided;
use super::setting::Setting;
use super::{AdviceRequest, AdviseError};
use crate::rig::{Rig, Rule};
use crate::scenario::{Policy, Target};

/// Starts that are tried in all. The most promising come first: where so many have a target too near to the seam, the others
/// have one, too.
const MOST_TRIED: usize = 240;

/// Starts that are judged at every target where none makes all of them safe.
const MOST_FAILING: usize = 6;

/// Judged targets that this may cost.
const MOST_JUDGED: usize = 3_000;

/// Targets of a list that are looked at before any start is tried.
const MOST_SAMPLED: usize = 100;

/// A change that leaves as many targets unsafe is worth it if the shares fall to this part of what they are.
const WORTH_IT: f64 = 0.5;

/// Starts that are judged side by side, at most.
const WAVE: usize = 8;

/// The arc of a rig.
pub(super) fn present_arc(rig: &Rig, targets: &[Target]) -> ArcFacts {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    ground.facts(ground.policy.arc_start_deg, &drive_deg)
}

/// The most promising arc for some targets, of which there is one at least, before anything is run.
pub(super) fn widest_arc(rig: &Rig, targets: &[Target]) -> ArcFacts {
    let ground = Grounds::of(rig);
    let drive_deg = ground.drive_angles_deg(rig, targets);
    let start_deg = starts(rig, targets, 0.0).first().copied();
    ground.facts(start_deg.unwrap_or(ground.policy.arc_start_deg), &drive_deg)
}

/// The starts to try, the most promising first.
pub(super) fn starts(rig: &Rig, targets: &[Target], wanted_deg: f64) -> Vec<f64> {
    let ground = Grounds::of(rig);
    if ground.no_seam || targets.is_empty() {
        return Vec::new();
    }
    ground.candidates(&ground.drive_angles_deg(rig, targets), wanted_deg)
}

/// A rig that was judged.
#[derive(Debug, Clone)]
pub(super) struct JudgedRig {
    pub(super) rig: Rig,
    pub(super) setting: Setting,
    /// Keys that differ from the rig as given.
    pub(super) keys: usize,
}

impl JudgedRig {
    /// Less is better: keys, then an arc clear of keep-outs, then the rule and approach of the rig as given, then time.
    /// An arc is a number to type; a rule or an approach is something that a control program has or has not.
    fn cost(&self, given: &Rig) -> ((usize, bool, bool), f64) {
        let (now, then) = (given.settings(), self.rig.settings());
        let other_ways =
            now.wrap.rule != then.wrap.rule || now.loop_.approach != then.loop_.approach;
        let overlaps = !self.setting.arc.clear_of_keep_outs;
        (
            (self.keys, overlaps, other_ways),
            self.setting.total_time_s(),
        )
    }

    /// The rig is so much better than the rig as given that a change is worth it: fewer targets that fail, or much less of it.
    fn is_worth_it(&self, present: &Self) -> bool {
        let (then, now) = (self.setting.badness(), present.setting.badness());
        match then.compare_counts(&now) {
            Ordering::Equal => {
                let fewer = self.setting.certain_faults() < present.setting.certain_faults();
                fewer || then.excess <= WORTH_IT * now.excess
            }
            order => order.is_lt(),
        }
    }

    /// Less is better: how bad it is, then keys.
    fn compare(&self, other: &Self) -> Ordering {
        (self.setting.badness().compare(&other.setting.badness())).then(self.keys.cmp(&other.keys))
    }
}

/// All that a search finds.
pub(super) struct SearchOutcome {
    /// The rig to use: the rig as given where nothing is better.
    pub(super) best: JudgedRig,
    /// The best rig of every rule, with the tolerance and the approach of the first.
    pub(super) rules: Vec<JudgedRig>,
}

/// A search.
pub(super) struct RigSearch<'a> {
    pub(super) rig: &'a Rig,
    pub(super) request: &'a AdviceRequest,
    /// Judges with runs of its own where it has to run, and with fewer of them.
    pub(super) quick: ListJudge<'a>,
    /// Judges as everything else does.
    pub(super) sure: &'a ListJudge<'a>,
}

impl RigSearch<'_> {
    /// The rig to use. `before` is the rig as given.
    pub(super) fn run(&self, before: &Setting) -> Result<SearchOutcome, AdviseError> {
        let tolerances = Tolerances {
            judge: &self.quick,
            may_change: self.may(Changeable::Tolerance),
        };
        let first = self.every_rule(&tolerances.with_needed(self.rig)?)?;
        let present = || JudgedRig {
            rig: self.rig.clone(),
            setting: before.clone(),
            keys: 0,
        };
        let mut all = vec![first];
        let holds = |all: &[Vec<JudgedRig>]| all.iter().flatten().any(|f| f.setting.holds());
        let same_tolerance = |found: &Vec<JudgedRig>| {
            let of = |rig: &Rig| rig.settings().loop_.tolerance_deg;
            found.iter().all(|f| of(&f.rig) == of(self.rig))
        };
        if before.holds() {
            // Nothing needs to change; the rules are there to be compared.
            return Ok(SearchOutcome {
                best: present(),
                rules: all.swap_remove(0),
            });
        }
        if (!holds(&all) || !same_tolerance(&all[0]))
            && self.may(Changeable::Approach)
            && let Some(one_sided) = one_sided(self.rig)?
        {
            all.push(self.every_rule(&tolerances.with_needed(&one_sided)?)?);
        }
        if !holds(&all) && self.may(Changeable::Tolerance) {
            let wider = all.iter().map(|rules| self.widened(rules));
            let wider: Vec<Vec<JudgedRig>> = wider.collect::<Result<_, _>>()?;
            all.extend(wider);
        }
        let choose = |better: &dyn Fn(&JudgedRig, &JudgedRig) -> Ordering| {
            let found = all.iter().enumerate();
            let found = found.flat_map(|(i, rules)| rules.iter().map(move |f| (i, f)));
            // The first of equals.
            found.min_by(|a, b| better(a.1, b.1))
        };
        let best = if holds(&all) {
            choose(&|a, b| {
                let failing = |f: &JudgedRig| !f.setting.holds();
                let (x, y) = (a.cost(self.rig), b.cost(self.rig));
                (failing(a).cmp(&failing(b)))
                    .then(x.0.cmp(&y.0))
                    .then(x.1.total_cmp(&y.1))
            })
        } else {
            choose(&JudgedRig::compare)
        };
        let present = present();
        let (place, best) = match best {
            Some((place, best)) if best.is_worth_it(&present) => (place, best.clone()),
            _ => (0, present),
        };
        Ok(SearchOutcome {
            rules: all.swap_remove(place),
            best,
        })
    }

    fn may(&self, change: Changeable) -> bool {
        self.request.change.may(change)
    }

    /// The best rig of every rule that may be taken; the present rule first.
    fn every_rule(&self, rig: &Rig) -> Result<Vec<JudgedRig>, AdviseError> {
        let present = self.rig.settings().wrap.rule;
        let mut rules = vec![present];
        if self.may(Changeable::Rule) {
            rules.extend(Rule::ALL.iter().copied().filter(|rule| *rule != present));
        }
        rules
            .into_iter()
            .map(|rule| self.with_rule(rig, rule))
            .collect()
    }

    /// The best rig with a rule: the present arc where that serves, else another.
    fn with_rule(&self, rig: &Rig, rule: Rule) -> Result<JudgedRig, AdviseError> {
        let mut rigs = vec![rig.with(|s| s.wrap.rule = rule)?];
        if rule == Rule::HysteresisBand && self.may(Changeable::Band) {
            let needed_deg = self.band(&rigs[0])?.advised_deg;
            if let Some(band_deg) = needed_deg.filter(|b| *b > rig.settings().wrap.band_deg) {
                rigs.push(rigs[0].with(|s| s.wrap.band_deg = band_deg)?);
            }
        }
        for rig in &rigs {
            if let Some(found) = self.confirmed(rig)? {
                return Ok(found);
            }
        }
        if self.may(Changeable::Arc) {
            for rig in &rigs {
                if let Some(found) = self.with_arc(rig)? {
                    return Ok(found);
                }
            }
        }
        self.best_failing(&rigs)
    }

    /// The band that the hysteresis rule needs around the arc of a rig.
    pub(super) fn band(&self, rig: &Rig) -> Result<BandAdvice, AdviseError> {
        let banded = rig.with(|s| {
            s.wrap.rule = Rule::HysteresisBand;
            s.wrap.band_deg = 0.0;
        })?;
        let arc = present_arc(&banded, self.quick.targets);
        let bound = SwingBound::of(&banded, Policy::of(&banded), self.request.criteria.tail);
        Ok(find_band(&self.quick, &banded, &arc, bound.residual_deg)?)
    }

    /// The starts to try for a rig, each with the targets that cannot be safe where it sends them; the most promising
    /// first.
    fn hopes(&self, rig: &Rig) -> Result<Vec<(usize, Rig)>, AdviseError> {
        let wanted_deg =
            SwingBound::of(rig, Policy::of(rig), self.request.criteria.tail).seam_distance_deg;
        let list = &self.quick;
        let mut hopes: Vec<(usize, Rig)> = starts(rig, list.targets, wanted_deg)
            .into_par_iter()
            .map(|start_deg| {
                let there = rig.with(|s| s.wrap.arc_start_deg = start_deg)?;
                let ground = Grounds::of(&there);
                let drive_deg = ground.drive_angles_deg(&there, list.targets);
                let mut lost = 0;
                // Of a long list some stand for their neighbours.
                let step = list.targets.len().div_ceil(MOST_SAMPLED);
                for (target, drive_deg) in list.targets.iter().zip(drive_deg).step_by(step) {
                    lost += usize::from(!list.safe_amid(rig, target, drive_deg)?);
                }
                Ok((lost, there))
            })
            .collect::<Result<_, AdviseError>>()?;
        hopes.sort_by_key(|(lost, _)| *lost);
        Ok(hopes)
    }

    /// The rig with the first start that makes every target safe.
    fn with_arc(&self, rig: &Rig) -> Result<Option<JudgedRig>, AdviseError> {
        let hopes = self.hopes(rig)?;
        let hopeful: Vec<&Rig> = hopes.iter().filter(|h| h.0 == 0).map(|h| &h.1).collect();
        let mut rest = &hopeful[..hopeful.len().min(MOST_TRIED)];
        // Often the first start serves; the longer it takes the more are tried at a time.
        let mut size = 1;
        while !rest.is_empty() {
            let (wave, later) = rest.split_at(size.min(rest.len()));
            rest = later;
            size = WAVE.min(2 * size);
            let serve: Vec<bool> = wave
                .par_iter()
                .map(|there| -> Result<bool, AdviseError> {
                    let permitted = !self.request.criteria.clear_of_keep_outs
                        || present_arc(there, self.quick.targets).clear_of_keep_outs;
                    Ok(permitted && self.quick.all_safe(there)?)
                })
                .collect::<Result<_, _>>()?;
            for (there, _) in wave.iter().zip(serve).filter(|(_, serves)| *serves) {
                if let Some(found) = self.confirmed(there)? {
                    return Ok(Some(found));
                }
            }
        }
        Ok(None)
    }

    /// A rig, judged as everything else is, if it meets every limit but that of the frame.
    fn confirmed(&self, rig: &Rig) -> Result<Option<JudgedRig>, AdviseError> {
        if !self.quick.all_safe(rig)? || !self.sure.all_safe(rig)? {
            return Ok(None);
        }
        let found = self.found(self.sure, rig)?;
        Ok(Some(found).filter(|f| f.setting.is_clear_enough()))
    }

    /// A rig as one of the judges sees it.
    fn found(&self, judge: &ListJudge<'_>, rig: &Rig) -> Result<JudgedRig, AdviseError> {
        let arc = present_arc(rig, judge.targets);
        Ok(JudgedRig {
            setting: judge.setting(rig, arc)?,
            keys: self.rig.differences(rig).len(),
            rig: rig.clone(),
        })
    }

    /// The best of rigs with a rule of which none makes every target safe.
    fn best_failing(&self, rigs: &[Rig]) -> Result<JudgedRig, AdviseError> {
        let rig = &rigs[rigs.len() - 1];
        let mut tried = rigs.to_vec();
        if self.may(Changeable::Arc) {
            let hopes = self.hopes(rig)?;
            let most = (MOST_JUDGED / self.quick.targets.len()).clamp(1, MOST_FAILING);
            tried.extend(hopes.into_iter().take(most).map(|(_, there)| there));
        }
        let judged = tried
            .iter()
            .map(|rig| self.found(&self.quick, rig))
            .collect::<Result<Vec<_>, AdviseError>>()?;
        let best = judged.iter().min_by(|a, b| a.compare(b));
        self.found(self.sure, best.map_or(rig, |best| &best.rig))
    }

    /// The rigs of all rules with the least tolerance that makes every target safe where they are, where there is one.
    fn widened(&self, rules: &[JudgedRig]) -> Result<Vec<JudgedRig>, AdviseError> {
        let widened = rules.iter().map(|found| {
            let wider = tolerance::widened(&self.quick, &found.rig)?;
            let wider = wider.map(|rig| self.confirmed(&rig)).transpose()?.flatten();
            Ok(wider.unwrap_or_else(|| found.clone()))
        });
        widened.collect()
    }
}
