//! The search for the reason of a verdict: what is claimed has been tried out.

use std::collections::HashMap;

use super::AdviceRequest;
use super::cause::{BadEnding, Evidence, find_cause};
use super::reason::{Behind, FaultReason, Reason, Safety};
use super::setting::{Setting, TargetReport};
use crate::angle::{fold_finite, sin_deg};
use crate::plant::Travel;
use crate::rig::{KeepOut, Rig, Rule};
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, run_batch};
use crate::scenario::{Policy, Scenario, Target};
use crate::verdict::{Fault, FaultShare, Standing};

/// Distinct drive angles of a setting whose causes are looked for, the worst ones.
const MOST_EXPERIMENTS: usize = 20;

/// Runs that show which keep-out is in the way.
const KEEP_OUT_RUNS: u64 = 500;

/// A share of swings below this is none.
const LEAST_SWINGING: f64 = 1e-4;

/// How many sigma a correction is taken to reach in the reason for a safe target.
const REACH_SIGMAS: f64 = 3.0;

/// Gives every target of a setting its reason.
pub(super) fn give_reasons(
    setting: &mut Setting,
    rig: &Rig,
    targets: &[Target],
    request: &AdviceRequest,
    monitor: &dyn Monitor,
) -> Result<(), Cancelled> {
    let worst_first: Vec<usize> = setting.worst_first().iter().map(|t| t.number).collect();
    // Targets at the same angle that begin at the same place share their runs, so they share their reason.
    let mut known: HashMap<(u64, Option<u64>), Reason> = HashMap::new();
    let mut experiments = 0;
    for i in worst_first {
        let (report, target) = (&setting.targets[i], &targets[i]);
        let key = (
            report.drive_deg.to_bits(),
            target.after_deg.map(f64::to_bits),
        );
        let reason = match known.get(&key) {
            Some(reason) => reason.clone(),
            None => {
                let search = ReasonSearch {
                    rig,
                    scenario: target.scenario(rig, setting.policy),
                    target,
                    report,
                    seed: request.batch.seed,
                    may_try: experiments < MOST_EXPERIMENTS,
                    max_solves: request.limits.max_solves,
                    monitor,
                };
                let reason = search.reason()?;
                experiments += usize::from(!report.verdict.is_safe());
                known.insert(key, reason.clone());
                reason
            }
        };
        setting.targets[i].reason = reason;
    }
    Ok(())
}

/// Looks for the reason of one verdict.
struct ReasonSearch<'a> {
    rig: &'a Rig,
    scenario: Scenario,
    target: &'a Target,
    report: &'a TargetReport,
    seed: u64,
    may_try: bool,
    /// Good solves within which a target should settle.
    max_solves: u32,
    monitor: &'a dyn Monitor,
}

impl ReasonSearch<'_> {
    /// Of the faults that are certain all; for a target at risk the one that decides.
    fn reason(&self) -> Result<Reason, Cancelled> {
        let verdict = &self.report.verdict;
        let Some(decides) = verdict.decides() else {
            return Ok(Reason::Safe(self.safe()));
        };
        let mut faults: Vec<FaultShare> = verdict
            .faults
            .iter()
            .filter(|f| f.standing == Standing::Exceeds)
            .copied()
            .collect();
        if faults.is_empty() {
            if decides.rate.rate <= decides.limit {
                return Ok(Reason::TooFewRuns(*decides));
            }
            faults.push(*decides);
        }
        if faults.len() > 1 {
            // A run that hunts, is refused or finds no solution is late, too: that is no news.
            faults.retain(|f| f.fault != Fault::Late);
        }
        let found = faults.into_iter().map(|fault| {
            let behind = self.behind(&fault)?;
            Ok(FaultReason { fault, behind })
        });
        Ok(Reason::Faults(found.collect::<Result<_, Cancelled>>()?))
    }

    fn behind(&self, fault: &FaultShare) -> Result<Behind, Cancelled> {
        let most = self.rig.settings().loop_.max_solves;
        let ending = match fault.fault {
            Fault::KeepOut => return self.keep_out(),
            Fault::Winding => return Ok(Behind::FirstReading(self.scenario.first_reading_deg())),
            Fault::Unsolved => return Ok(Behind::Nothing),
            Fault::Refused => match self.outside_stops() {
                Some(outside) => return Ok(outside),
                None => BadEnding::Refused,
            },
            Fault::Hunting => BadEnding::Hunting,
            Fault::Stuck => BadEnding::Late(most),
            Fault::Late => BadEnding::Late(self.max_solves.min(most)),
        };
        if !self.may_try {
            return Ok(Behind::Nothing);
        }
        let seen = Evidence {
            ending,
            share: fault.rate.rate,
            solves: self.report.summary.solves.mean.unwrap_or(0.0),
        };
        let cause = find_cause(self.rig, self.target, seen, self.seed, self.monitor)?;
        Ok(cause.map_or(Behind::Nothing, Behind::Errors))
    }

    /// What is behind it where the first command is outside the stops.
    fn outside_stops(&self) -> Option<Behind> {
        let drive_deg = self.report.drive_deg;
        let brief = self.scenario.brief();
        match brief.travel {
            Travel::Stops { lo_deg, hi_deg } if drive_deg < lo_deg || drive_deg > hi_deg => {
                let copy_deg = fold_finite(drive_deg, lo_deg, brief.arc_width_deg);
                let between = (copy_deg <= hi_deg).then_some(copy_deg);
                Some(Behind::OutsideStops(between))
            }
            _ => None,
        }
    }

    fn keep_out(&self) -> Result<Behind, Cancelled> {
        let all = &self.rig.settings().keep_out;
        let crossings = |k: &KeepOut| {
            let alone = self.rig.with(|s| s.keep_out = vec![k.clone()]).ok()?;
            let scenario = self.target.scenario(&alone, Policy::of(&alone));
            let few = Batch {
                trials: KEEP_OUT_RUNS,
                seed: self.seed,
            };
            Some(run_batch(&scenario, few, &Uncounted(self.monitor)).keep_out)
        };
        let in_the_way = match all.as_slice() {
            [one] => Some(one),
            several if self.may_try => several.iter().max_by_key(|k| crossings(k).unwrap_or(0)),
            _ => None,
        };
        if self.monitor.cancelled() {
            return Err(Cancelled);
        }
        Ok(in_the_way.map_or(Behind::Nothing, |k| Behind::KeepOut(k.clone())))
    }

    fn safe(&self) -> Safety {
        let t = self.report;
        let Some(distance_deg) = t.seam_distance_deg else {
            return Safety::NoSeam;
        };
        if t.summary.swinging.rate > LEAST_SWINGING {
            return Safety::SettlesThere;
        }
        let near = distance_deg <= reach_deg(self.rig, &self.scenario);
        match self.rig.settings().wrap.rule {
            Rule::FoldOnce | Rule::HysteresisBand if near => Safety::RuleHolds,
            _ => Safety::FarFromSeam,
        }
    }
}

/// How far the first correction reaches, for the choice of words only \[deg\].
fn reach_deg(rig: &Rig, scenario: &Scenario) -> f64 {
    let s = rig.settings();
    let y = scenario.drive_angle_deg();
    let periodic: f64 = s
        .drive
        .periodic
        .iter()
        .map(|p| p.amplitude_deg * sin_deg(p.cycles * y + p.phase_deg))
        .sum();
    let random = libm::hypot(
        libm::hypot(s.solve.noise_deg, s.drive.repeatability_deg),
        s.drive.zero_point_sigma_deg,
    );
    REACH_SIGMAS * random
        + (s.drive.gain_error * y + periodic).abs()
        + 0.5 * s.drive.backlash_deg
        + s.solve.bias_deg.abs()
}
