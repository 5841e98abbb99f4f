//! The reasons for the verdicts, in a plain sentence each; what they claim has been tried out.

use std::collections::HashMap;

use super::Request;
use super::cause::{Cause, Seen, Trouble, find_cause};
use super::setting::{Setting, TargetReport};
use crate::angle::{fold_finite, sin_deg};
use crate::plant::Travel;
use crate::rig::{KeepOut, Rig, Rule};
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, batch};
use crate::scenario::{Policy, Scenario, Target};
use crate::verdict::{Fault, FaultShare, Standing};
use crate::wording::{degrees, grouped, limit, percent};

/// Distinct drive angles of a setting whose causes are looked for, the worst ones.
const MOST_EXPERIMENTS: usize = 20;

/// Runs that show which keep-out is in the way.
const KEEP_OUT_RUNS: u64 = 500;

/// A share of swings below this is none.
const LEAST_SWINGING: f64 = 1e-4;

/// A share above this is every run: an exact solution leaves out the far tails.
const EVERY_RUN: f64 = 1.0 - 3e-5;

/// How many sigma a correction is taken to reach in the words for a safe target.
const REACH_SIGMAS: f64 = 3.0;

/// Gives every target of a setting its reason.
pub(super) fn give_reasons(
    setting: &mut Setting,
    (rig, targets): (&Rig, &[Target]),
    request: &Request,
    monitor: &dyn Monitor,
) -> Result<(), Cancelled> {
    let worst_first: Vec<usize> = setting.worst_first().iter().map(|t| t.number).collect();
    // Targets at the same angle that begin at the same place share their runs, so they share their reason.
    let mut known: HashMap<(u64, Option<u64>), String> = HashMap::new();
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
                let writer = ReasonWriter {
                    rig,
                    scenario: target.scenario(rig, setting.policy),
                    target,
                    report,
                    seed: request.batch.seed,
                    may_try: experiments < MOST_EXPERIMENTS,
                    max_solves: request.limits.max_solves,
                    monitor,
                };
                let reason = writer.reason()?;
                experiments += usize::from(!report.verdict.is_safe());
                known.insert(key, reason.clone());
                reason
            }
        };
        setting.targets[i].reason = reason;
    }
    Ok(())
}

/// Writes the reason of one verdict.
struct ReasonWriter<'a> {
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

impl ReasonWriter<'_> {
    /// A sentence for each fault that holds; for a target at risk one about the fault that decides.
    fn reason(&self) -> Result<String, Cancelled> {
        let verdict = &self.report.verdict;
        let Some(decides) = verdict.decides() else {
            return Ok(format!("{}{}", self.safe(), self.true_error()));
        };
        let certain: Vec<&FaultShare> = verdict
            .faults
            .iter()
            .filter(|f| f.standing == Standing::Exceeds)
            .collect();
        if certain.is_empty() {
            return self.risk(decides);
        }
        let mut sentences = Vec::new();
        for fault in &certain {
            // A run that hunts, is refused or finds no solution is late, too: that is no news.
            let follows = fault.fault == Fault::Late && certain.len() > 1;
            if !follows {
                sentences.push(self.fault(fault)?);
            }
        }
        Ok(sentences.join(" "))
    }

    fn fault(&self, fault: &FaultShare) -> Result<String, Cancelled> {
        match fault.fault {
            Fault::KeepOut => self.keep_out(),
            Fault::Winding => Ok(self.winding()),
            Fault::Refused => self.refused(),
            Fault::PingPong => self.hunting(),
            Fault::Stuck | Fault::Late => self.not_settling(fault),
            Fault::Unsolved => Ok(self.unsolved()),
        }
    }

    /// The fault that may be too frequent.
    fn risk(&self, fault: &FaultShare) -> Result<String, Cancelled> {
        if fault.rate.rate > fault.limit {
            return self.fault(fault);
        }
        let trials = self.report.summary.trials;
        let found = (fault.rate.rate * trials as f64).round() as u64;
        Ok(format!(
            "{} of {} runs {}. That is too few runs to be sure of less than {}: use more --trials.",
            if found == 0 {
                "None".to_owned()
            } else {
                grouped(found)
            },
            grouped(trials),
            match (fault.fault, found == 1) {
                (Fault::Late, true) => "is late",
                (Fault::Late, false) => "are late",
                (fault, true) => fault.state().does(),
                (fault, false) => fault.state().do_(),
            },
            limit(fault.limit)
        ))
    }

    fn cause(&self, trouble: Trouble, share: f64) -> Result<Option<Cause>, Cancelled> {
        if !self.may_try {
            return Ok(None);
        }
        let seen = Seen {
            trouble,
            share,
            solves: self.report.summary.solves.mean.unwrap_or(0.0),
        };
        find_cause(self.rig, self.target, seen, self.seed, self.monitor)
    }

    fn hunting(&self) -> Result<String, Cancelled> {
        let t = self.report;
        let share = t.summary.ping_pong.rate;
        let cause = self.cause(Trouble::Hunting, share)?;
        let what = format!("{} {}", share_of_runs(share), s(share, "hunt", "hunts"));
        // Corrections of more than the residual can swing half a turn where no seam makes them.
        let at = t.seam_distance_deg.map_or_else(
            || "it swings without a seam".to_owned(),
            |d| format!("it lies {} deg from the seam", degrees(d)),
        );
        Ok(match cause {
            Some(Cause { who, plural, proof }) => format!(
                "{what}: {at}, and {who} {} it swinging; {proof}.",
                if plural { "keep" } else { "keeps" }
            ),
            None => format!("{what}: {at}."),
        })
    }

    fn not_settling(&self, fault: &FaultShare) -> Result<String, Cancelled> {
        let share = fault.rate.rate;
        let most = self.rig.settings().loop_.max_solves;
        let within = match fault.fault {
            Fault::Late => self.max_solves.min(most),
            _ => most,
        };
        let what = format!(
            "{} {} not settled after {}",
            share_of_runs(share),
            s(share, "have", "has"),
            match within {
                1 => "1 solve".to_owned(),
                n => format!("{n} solves"),
            }
        );
        let tolerance = degrees(self.scenario.brief().tolerance_deg);
        Ok(match self.cause(Trouble::Late(within), share)? {
            Some(Cause { who, plural, proof }) => format!(
                "{what}: {who} {} it from settling within the tolerance of {tolerance} deg; {proof}.",
                if plural { "keep" } else { "keeps" }
            ),
            None => format!("{what}: the tolerance is {tolerance} deg."),
        })
    }

    fn winding(&self) -> String {
        let share = self.report.summary.overwound.rate;
        let drive = &self.rig.settings().drive;
        let by = self
            .report
            .summary
            .winding_deg
            .p99
            .map_or_else(String::new, |deg| format!(", up to {} deg", degrees(deg)));
        format!(
            "{} {} the cable farther than {} deg from the parking angle of {} deg{by}: its drive angle is {} deg.",
            share_of_runs(share),
            s(share, "wind", "winds"),
            degrees(drive.winding_limit_deg),
            degrees(drive.park_deg),
            degrees(self.scenario.first_reading_deg())
        )
    }

    fn refused(&self) -> Result<String, Cancelled> {
        let t = self.report;
        let share = t.summary.refused.rate;
        let Travel::Stops { lo_deg, hi_deg } = self.scenario.brief().travel else {
            return Ok(String::new()); // endless travel refuses nothing
        };
        let stops = format!("the stops ({} to {} deg)", degrees(lo_deg), degrees(hi_deg));
        let drive = degrees(t.drive_deg);
        if t.drive_deg < lo_deg || t.drive_deg > hi_deg {
            let width_deg = self.scenario.brief().arc_width_deg;
            let copy_deg = fold_finite(t.drive_deg, lo_deg, width_deg);
            let other = if copy_deg <= hi_deg {
                format!(
                    "an arc that leads it to {} deg would reach it",
                    degrees(copy_deg)
                )
            } else {
                "no equivalent angle lies between them".to_owned()
            };
            return Ok(format!(
                "Its drive angle of {drive} deg lies outside {stops}, so its first command is refused; {other}."
            ));
        }
        let what = format!(
            "{} {} on a refused command",
            share_of_runs(share),
            s(share, "end", "ends")
        );
        Ok(match self.cause(Trouble::Refused, share)? {
            Some(Cause { who, plural, proof }) => format!(
                "{what}: from its drive angle of {drive} deg {who} {} a correction outside {stops}; {proof}.",
                if plural { "bring" } else { "brings" }
            ),
            None => format!(
                "{what}: from its drive angle of {drive} deg a correction goes outside {stops}."
            ),
        })
    }

    fn unsolved(&self) -> String {
        let solve = &self.rig.settings().solve;
        let rate = self.report.summary.unsolved.rate;
        format!(
            "{} {} without a solution: each attempt to solve fails with a chance of {}, and after {} in a row the loop gives up.",
            share_of_runs(rate),
            s(rate, "end", "ends"),
            percent(solve.failure_rate),
            match solve.max_failures {
                1 => "1 failure".to_owned(),
                n => format!("{n} failures"),
            },
        )
    }

    /// Names the keep-out that most runs turn through.
    fn keep_out(&self) -> Result<String, Cancelled> {
        let t = self.report;
        let share = t.summary.keep_out.rate;
        let all = &self.rig.settings().keep_out;
        let crossings = |k: &KeepOut| {
            let alone = self.rig.with(|s| s.keep_out = vec![k.clone()]).ok()?;
            let scenario = self.target.scenario(&alone, Policy::of(&alone));
            let plan = Batch {
                trials: KEEP_OUT_RUNS,
                seed: self.seed,
            };
            Some(batch(&scenario, plan, &Uncounted(self.monitor)).keep_out)
        };
        let in_the_way = match all.as_slice() {
            [one] => Some(one),
            several if self.may_try => several.iter().max_by_key(|k| crossings(k).unwrap_or(0)),
            _ => None,
        };
        if self.monitor.cancelled() {
            return Err(Cancelled);
        }
        let which = in_the_way.map_or_else(
            || "a keep-out".to_owned(),
            |k| {
                let why = if k.why.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", k.why)
                };
                format!(
                    "the keep-out from {} to {} deg{why}",
                    degrees(k.from_deg),
                    degrees(k.to_deg)
                )
            },
        );
        let inside = t.summary.keep_out_deg.mean.unwrap_or(0.0);
        Ok(format!(
            "{} {} through {which}, by {} deg a run on average.",
            share_of_runs(share),
            s(share, "turn", "turns"),
            degrees(inside)
        ))
    }

    fn safe(&self) -> String {
        let t = self.report;
        let Some(distance_deg) = t.seam_distance_deg else {
            return "A full circle of endless travel has no seam.".to_owned();
        };
        let at = format!("It lies {} deg from the seam", degrees(distance_deg));
        let swinging = t.summary.swinging.rate;
        if swinging > LEAST_SWINGING {
            let who = if swinging > 1.0 - LEAST_SWINGING {
                "every run swings to the other end and settles".to_owned()
            } else {
                let share = percent(swinging);
                format!("{share} of the runs swing to the other end and settle")
            };
            return format!("{at}, and {who} there.");
        }
        let near = distance_deg <= reach_deg(self.rig, &self.scenario);
        match self.rig.settings().wrap.rule {
            Rule::FoldOnce if near => format!("{at}, but corrections never fold."),
            Rule::HysteresisBand if near => format!(
                "{at}, but the band of {} deg holds its corrections.",
                degrees(self.scenario.brief().band_deg)
            ),
            _ => format!("{at}: no correction reaches that far."),
        }
    }

    /// A loop can settle on a wrong angle.
    fn true_error(&self) -> String {
        let tolerance_deg = self.scenario.brief().tolerance_deg;
        match self.report.summary.true_error_deg.mean {
            Some(error_deg) if self.report.settles_wrong => {
                let bias_deg = self.rig.settings().solve.bias_deg;
                let why = if bias_deg.abs() >= 0.5 * error_deg {
                    format!(", because the solver is off by {} deg", degrees(bias_deg))
                } else {
                    String::new()
                };
                format!(
                    " But it settles on a wrong angle: the mean true error is {} deg, above the tolerance of {} deg{why}.",
                    degrees(error_deg),
                    degrees(tolerance_deg)
                )
            }
            _ => String::new(),
        }
    }
}

/// "28.3 % of the runs", as the start of a sentence or a part of it.
fn share_of_runs(rate: f64) -> String {
    if rate > EVERY_RUN {
        "Every run".to_owned()
    } else {
        format!("{} of the runs", percent(rate))
    }
}

/// The verb for [`share_of_runs`].
fn s<'a>(rate: f64, many: &'a str, one: &'a str) -> &'a str {
    if rate > EVERY_RUN { one } else { many }
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
