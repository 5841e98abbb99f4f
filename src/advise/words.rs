//! The decision in words: the same sentences on the screen, in the JSON and on the page.

use super::{Advice, Decision, RuleReport, Setting, TargetReport, Verdict};
use crate::summary::Rate;
use crate::wording::{degrees, grouped, percent};

/// Verdicts, the worst first.
pub(crate) const VERDICTS: [Verdict; 4] = [
    Verdict::OutOfReach,
    Verdict::WillHunt,
    Verdict::AtRisk,
    Verdict::Safe,
];

/// Rounding that does not change an angle \[deg\].
const ROUNDING_DEG: f64 = 1e-9;

/// Targets that a sentence names one by one.
const NAMED: usize = 5;

impl Setting {
    /// How the list stands, as a clause: "2 of 8 targets will hunt, 1 is at risk".
    #[must_use]
    pub fn standing(&self) -> String {
        let n = self.targets.len();
        let all = match n {
            1 => "the target".to_owned(),
            2 => "both targets".to_owned(),
            n => format!("all {} targets", grouped(n as u64)),
        };
        let does = |v: Verdict, count: usize| match v {
            Verdict::WillHunt => "will hunt".to_owned(),
            v if count == 1 => format!("is {v}"),
            v => format!("are {v}"),
        };
        let found: Vec<Verdict> = VERDICTS
            .into_iter()
            .filter(|v| self.count(*v) > 0)
            .collect();
        if let [only] = found.as_slice() {
            return format!("{all} {}", does(*only, n));
        }
        let parts: Vec<String> = found
            .into_iter()
            .filter(|v| *v != Verdict::Safe)
            .enumerate()
            .map(|(i, v)| {
                let count = self.count(v);
                let of = if i == 0 {
                    format!(" of {} targets", grouped(n as u64))
                } else {
                    String::new()
                };
                format!("{}{of} {}", grouped(count as u64), does(v, count))
            })
            .collect();
        parts.join(", ")
    }

    /// The targets that are not safe, the worst first; equals in the order of the list.
    #[must_use]
    pub fn worst_first(&self) -> Vec<&TargetReport> {
        let severity = |t: &TargetReport| VERDICTS.iter().position(|v| *v == t.verdict);
        let mut targets: Vec<&TargetReport> = self.targets.iter().collect();
        targets.sort_by(|a, b| {
            severity(a)
                .cmp(&severity(b))
                .then(b.bad_share.total_cmp(&a.bad_share))
        });
        targets
    }
}

impl Advice {
    /// What to do with the start of the arc, in one or two sentences.
    #[must_use]
    pub fn sentence(&self) -> String {
        let deg = |angle_deg: f64| format!("{} deg", degrees(angle_deg));
        let choice = &self.choice;
        let now = deg(self.before.policy.arc_start_deg);
        let start = deg(choice.start_deg);
        let after = self.after.standing();
        let no_seam = "a full circle of endless travel has no seam";
        let wrong = self
            .before
            .targets
            .iter()
            .filter(|t| t.settles_wrong)
            .count();
        match self.decision {
            Decision::Fine | Decision::Spare if wrong > 0 => {
                let who = match (self.before.targets.len(), wrong) {
                    (1, _) => "the target settles on a wrong angle: its".to_owned(),
                    (n, 1) => format!(
                        "1 of {} targets settles on a wrong angle: its",
                        grouped(n as u64)
                    ),
                    (n, wrong) => format!(
                        "{} of {} targets settle on a wrong angle: their",
                        grouped(wrong as u64),
                        grouped(n as u64)
                    ),
                };
                let option = if self.decision == Decision::Spare {
                    format!(" If you like, start the arc at {start} instead of {now}.")
                } else {
                    String::new()
                };
                format!(
                    "The arc needs no change, but {who} mean true error is above the tolerance.{option}"
                )
            }
            Decision::Fine if choice.no_seam => format!("Nothing needs to change: {no_seam}."),
            Decision::Fine => {
                format!("Nothing needs to change: keep the start of the arc at {now}.")
            }
            Decision::Spare => {
                let gain = if choice.margin_deg > choice.present_margin_deg {
                    format!(
                        "the nearest target then lies {} from the seam instead of {}",
                        deg(choice.margin_deg),
                        deg(choice.present_margin_deg)
                    )
                } else if choice.present_clear_of_keep_outs {
                    "the arc then fits between the stops".to_owned()
                } else {
                    "the arc is then clear of every keep-out".to_owned()
                };
                format!(
                    "Nothing needs to change. If you like, start the arc at {start} instead of {now}: {gain}."
                )
            }
            Decision::Cures => {
                format!("Start the arc at {start} instead of {now}: then {after}.")
            }
            Decision::Helps => {
                let mean = |s: &Setting, share: fn(&TargetReport) -> f64| {
                    s.targets.iter().map(share).sum::<f64>() / s.targets.len().max(1) as f64
                };
                let both = |share| {
                    let (then, now) = (mean(&self.after, share), mean(&self.before, share));
                    (then.max(now) > 0.0)
                        .then(|| format!("{} instead of {}", percent(then), percent(now)))
                };
                let failed = both(TargetReport::failed_share)
                    .map(|s| format!("{s} of all runs then hunt, fail or are refused, "));
                let crossing =
                    both(|t| t.keep_out.rate).map(|s| format!("{s} turn through a keep-out, "));
                format!(
                    "Start the arc at {start} instead of {now}. That is better but no cure: {}{}and {after}.",
                    failed.unwrap_or_default(),
                    crossing.unwrap_or_default()
                )
            }
            Decision::NoOther if choice.no_seam => {
                format!("Moving the arc does not help: {no_seam}, so the cause lies elsewhere.")
            }
            Decision::NoOther | Decision::NoHelp if self.too_few_runs() => format!(
                "{} runs for every target are too few to call any target safe, and too few to show that another start than {now} is better.",
                grouped(self.request.batch.trials)
            ),
            Decision::NoOther => format!(
                "Moving the arc does not help: no start suits these targets better than the present {now}."
            ),
            Decision::NoHelp => {
                let tried = self.tried.as_ref();
                let room = match tried {
                    Some((other, _)) if other.margin_deg > choice.margin_deg => format!(
                        ", with the nearest target {} from the seam instead of {}",
                        deg(other.margin_deg),
                        deg(choice.margin_deg)
                    ),
                    _ => String::new(),
                };
                let (at, fares) = tried.map_or_else(Default::default, |(other, setting)| {
                    (deg(other.start_deg), setting.standing())
                });
                format!(
                    "Moving the arc does not help: started at {at}{room}, {fares}, and the runs end no better. Keep {now}."
                )
            }
        }
    }

    /// Not even runs without trouble would prove a target safe.
    #[must_use]
    pub fn too_few_runs(&self) -> bool {
        Rate::of(0, self.request.batch.trials).high > self.request.limits.max_hunting
    }

    /// The lines for the rig file. Without rounding noise, but never another angle.
    #[must_use]
    pub fn rig_lines(&self) -> String {
        let tidy = |start_deg: f64| {
            let rounded = (start_deg * 1e6).round() / 1e6;
            let close = (rounded - start_deg).abs() <= ROUNDING_DEG;
            if close { rounded } else { start_deg }
        };
        format!(
            "[wrap]\narc_start_deg = {:?}    # was {:?}\n",
            tidy(self.choice.start_deg),
            tidy(self.before.policy.arc_start_deg)
        )
    }

    /// The targets that stay unsafe, as a sentence; empty where there is none.
    #[must_use]
    pub fn still_unsafe(&self) -> String {
        let names: Vec<&str> = self
            .after
            .worst_first()
            .into_iter()
            .filter(|t| t.verdict != Verdict::Safe)
            .map(|t| t.name.as_str())
            .collect();
        match names.len() {
            0 => String::new(),
            n if n > NAMED => format!(
                "Not safe: {} and {} more.",
                names[..NAMED].join(", "),
                grouped((n - NAMED) as u64)
            ),
            _ => format!("Not safe: {}.", names.join(", ")),
        }
    }

    /// The other rules under which the shown target is safe, with the present arc.
    #[must_use]
    pub fn rule_cures(&self) -> Vec<&RuleReport> {
        let present = self.before.policy.rule;
        self.rules
            .iter()
            .filter(|r| r.summary.rule != present)
            .filter(|r| r.verdict(&self.request.limits) == Verdict::Safe)
            .collect()
    }

    /// What cures the shown target, as a sentence.
    #[must_use]
    pub fn other_rules(&self) -> String {
        let name = &self.before.targets[self.shown].name;
        let rules: Vec<String> = self
            .rule_cures()
            .iter()
            .map(|r| r.summary.rule.to_string())
            .collect();
        match rules.as_slice() {
            [] if self.too_few_runs() => "With so few runs no rule can be called safe.".to_owned(),
            [] => format!("At {name}, the worst of the list, no other rule is safe either."),
            [one] => format!(
                "At {name}, the worst of the list, the rule {one} is safe; that was tried at this target only."
            ),
            [rest @ .., last] => format!(
                "At {name}, the worst of the list, the rules {} and {last} are safe; that was tried at this target only.",
                rest.join(", ")
            ),
        }
    }
}
