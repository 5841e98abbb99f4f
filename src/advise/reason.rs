//! The reasons for the verdicts, in a plain sentence each; what they claim has been tried out.

use std::collections::HashMap;

use super::cause::{Cause, Seen, Trouble, find_cause};
use super::verdict::{Limits, TargetReport, Verdict};
use super::{Request, Setting};
use crate::angle::{fold_finite, sin_deg};
use crate::plant::Travel;
use crate::rig::{KeepOut, Rig, Rule};
use crate::sample::{Batch, Cancelled, Monitor, Uncounted, batch};
use crate::scenario::{Policy, Scenario};
use crate::wording::{degrees, grouped, percent};

/// Distinct drive angles of a setting whose causes are looked for, the worst ones.
const MOST_EXPERIMENTS: usize = 20;

/// Runs that show which keep-out is in the way.
const KEEP_OUT_RUNS: u64 = 500;

/// How many sigma a correction is taken to reach in the words for a safe target.
const REACH_SIGMAS: f64 = 3.0;

/// Gives every target of a setting its reason.
pub(super) fn give_reasons(
    setting: &mut Setting,
    rig: &Rig,
    request: Request,
    monitor: &dyn Monitor,
) -> Result<(), Cancelled> {
    let mut worst_first: Vec<usize> = (0..setting.targets.len()).collect();
    worst_first.sort_by(|&a, &b| {
        let bad = |i: usize| setting.targets[i].bad_share;
        bad(b).total_cmp(&bad(a))
    });
    // Targets at the same drive angle share their runs, so they share their reason.
    let mut known: HashMap<u64, String> = HashMap::new();
    let mut experiments = 0;
    for i in worst_first {
        let target = &setting.targets[i];
        let key = target.drive_deg.to_bits();
        let reason = match known.get(&key) {
            Some(reason) => reason.clone(),
            None => {
                let teller = Teller {
                    rig,
                    limits: &request.limits,
                    scenario: Scenario::new(rig, setting.policy, target.position_angle_deg),
                    target,
                    seed: request.batch.seed,
                    may_try: experiments < MOST_EXPERIMENTS,
                    monitor,
                };
                let reason = teller.reason()?;
                experiments += usize::from(target.verdict != Verdict::Safe);
                known.insert(key, reason.clone());
                reason
            }
        };
        setting.targets[i].reason = reason;
    }
    Ok(())
}

/// Tells the reason of one verdict.
struct Teller<'a> {
    rig: &'a Rig,
    limits: &'a Limits,
    scenario: Scenario,
    target: &'a TargetReport,
    seed: u64,
    may_try: bool,
    monitor: &'a dyn Monitor,
}

impl Teller<'_> {
    fn reason(&self) -> Result<String, Cancelled> {
        let limit = self.limits.max_hunting;
        let t = self.target;
        if t.verdict == Verdict::Safe {
            return Ok(format!("{}{}", self.safe(), self.true_error()));
        }
        let mut reason = if t.verdict == Verdict::OutOfReach {
            self.refused()?
        } else if t.verdict == Verdict::WillHunt || t.hunting.low > limit {
            self.hunting()?
        } else if t.summary.unsolved.low > limit {
            self.unsolved()
        } else if t.keep_out.low > limit {
            return self.keep_out();
        } else if t.hunting.rate > limit {
            self.hunting()?
        } else if t.refused.rate > limit {
            self.refused()?
        } else {
            self.too_few()
        };
        if t.keep_out.low > limit {
            reason.push(' ');
            reason.push_str(&self.keep_out()?);
        }
        Ok(reason)
    }

    fn cause(&self, trouble: Trouble, share: f64) -> Result<Option<Cause>, Cancelled> {
        if !self.may_try {
            return Ok(None);
        }
        let target_deg = self.target.position_angle_deg;
        let seen = Seen {
            trouble,
            share,
            solves: self.target.summary.solves.mean.unwrap_or(0.0),
        };
        find_cause(self.rig, target_deg, seen, self.seed, self.monitor)
    }

    fn hunting(&self) -> Result<String, Cancelled> {
        let t = self.target;
        let share = share_of_runs(t.hunting.rate);
        let cause = self.cause(Trouble::Hunting, t.hunting.rate)?;
        // Swings, or solves used up without them.
        if t.summary.ping_pong.rate < 0.5 * t.hunting.rate {
            let what = format!(
                "{share} {} up the {} of a run",
                s(t.hunting.rate, "use", "uses"),
                match self.rig.settings().loop_.max_solves {
                    1 => "only solve".to_owned(),
                    n => format!("{n} solves"),
                }
            );
            let tolerance = degrees(self.scenario.brief().tolerance_deg);
            return Ok(match cause {
                Some(Cause { who, plural, proof }) => format!(
                    "{what}: {who} {} it from settling within the tolerance of {tolerance} deg; {proof}.",
                    if plural { "keep" } else { "keeps" }
                ),
                None => format!("{what} without settling within the tolerance of {tolerance} deg."),
            });
        }
        let what = format!("{share} {}", s(t.hunting.rate, "hunt", "hunts"));
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

    fn refused(&self) -> Result<String, Cancelled> {
        let t = self.target;
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
            share_of_runs(t.refused.rate),
            s(t.refused.rate, "end", "ends")
        );
        Ok(match self.cause(Trouble::Refused, t.refused.rate)? {
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
        let rate = self.target.summary.unsolved.rate;
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
        let t = self.target;
        let all = &self.rig.settings().keep_out;
        let crossings = |k: &KeepOut| {
            let alone = self.rig.with(|s| s.keep_out = vec![k.clone()]).ok()?;
            let scenario = Scenario::new(&alone, Policy::of(&alone), t.position_angle_deg);
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
            share_of_runs(t.keep_out.rate),
            s(t.keep_out.rate, "turn", "turns"),
            degrees(inside)
        ))
    }

    fn too_few(&self) -> String {
        let t = self.target;
        let bad = (t.bad_share * t.summary.trials as f64).round() as u64;
        format!(
            "{} of {} runs {} badly, but so few runs cannot promise less than {} %; use more --trials.",
            if bad == 0 {
                "None".to_owned()
            } else {
                grouped(bad)
            },
            grouped(t.summary.trials),
            if bad <= 1 { "ends" } else { "end" },
            degrees(100.0 * self.limits.max_hunting)
        )
    }

    fn safe(&self) -> String {
        let t = self.target;
        let Some(distance_deg) = t.seam_distance_deg else {
            return "A full circle of endless travel has no seam.".to_owned();
        };
        let distance = degrees(distance_deg);
        let runs = grouped(t.summary.trials);
        if t.swinging.rate > 0.0 {
            let who = if t.swinging.rate >= 1.0 {
                "every run swings to the other end, but settles".to_owned()
            } else {
                let share = percent(t.swinging.rate);
                format!("{share} of the runs swing to the other end, but settle")
            };
            return format!("It lies {distance} deg from the seam, and {who} there.");
        }
        let near = distance_deg <= reach_deg(self.rig, &self.scenario);
        match self.rig.settings().wrap.rule {
            Rule::FoldOnce if near => {
                format!("It lies {distance} deg from the seam, but corrections never fold.")
            }
            Rule::HysteresisBand if near => format!(
                "It lies {distance} deg from the seam, but the band of {} deg holds its corrections: none of {runs} runs swings.",
                degrees(self.scenario.brief().band_deg)
            ),
            _ => format!(
                "It lies {distance} deg from the seam, and none of {runs} runs swings across it."
            ),
        }
    }

    /// A loop can settle on a wrong angle.
    fn true_error(&self) -> String {
        let tolerance_deg = self.scenario.brief().tolerance_deg;
        match self.target.summary.true_error_deg.mean {
            Some(error_deg) if self.target.settles_wrong => {
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
    if rate >= 1.0 {
        "Every run".to_owned()
    } else {
        format!("{} of the runs", percent(rate))
    }
}

/// The verb for [`share_of_runs`].
fn s<'a>(rate: f64, many: &'a str, one: &'a str) -> &'a str {
    if rate >= 1.0 { one } else { many }
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
