//! Band, rule and ways out in words: the same sentences on the screen, in the JSON and on the page.

use super::band::BandAdvice;
use super::list::{Miss, RuleOnList, short_way_trap};
use super::plan_words::{counted, deg};
use super::{Advice, Repair};
use crate::scenario::Policy;
use crate::wording::{duration, grouped, percent};

/// Targets that a sentence names one by one.
const NAMED: usize = 5;

impl Advice {
    /// The hysteresis band.
    #[must_use]
    pub fn band_sentence(&self) -> String {
        let BandAdvice {
            needed_deg,
            largest_safe_deg,
            advised_deg,
            left,
            cures,
            found_by: _,
        } = &self.plan.band;
        let room = match largest_safe_deg {
            Some(safe) => format!(
                "the arc from {} leaves room for {}",
                deg(self.banded_start_deg()),
                deg(*safe)
            ),
            None => "the arc itself overlaps a keep-out, a stop or the winding limit".to_owned(),
        };
        match (needed_deg, advised_deg) {
            (Some(needed), _) if *needed == 0.0 => {
                "A target on the seam does not hunt with these settings: no band is needed."
                    .to_owned()
            }
            (Some(needed), _) if *cures => format!(
                "A hysteresis band of {} ends the hunting even of a target on the seam; {room}.",
                deg(*needed)
            ),
            (needed, Some(advised)) => {
                let needs = needed.map_or_else(
                    || "No band ends the hunting of a target on the seam".to_owned(),
                    |n| format!("A target on the seam needs a band of {}", deg(n)),
                );
                let risk = left.map_or_else(String::new, |h| {
                    format!(
                        ": with that, {} of the runs of a target on the seam ping-pong",
                        percent(h.ping_pong.value)
                    )
                });
                format!(
                    "{needs}, but {room}. The largest safe band is {}{risk}.",
                    deg(*advised)
                )
            }
            (Some(needed), None) => format!(
                "A target on the seam needs a band of {}, but {room}, so no band is safe.",
                deg(*needed)
            ),
            (None, None) => {
                format!("No band ends the hunting of a target on the seam, and {room}.")
            }
        }
    }

    fn banded_start_deg(&self) -> f64 {
        let rules = &self.plan.rules;
        rules
            .iter()
            .find(|r| r.policy.rule == crate::rig::Rule::HysteresisBand)
            .map_or(self.choice.start_deg, |r| r.policy.arc_start_deg)
    }

    /// Which rule to use, and why.
    #[must_use]
    pub fn rule_sentence(&self) -> String {
        let plan = &self.plan;
        let present = self.rig.settings().wrap.rule;
        let Some(chosen) = plan.chosen else {
            let misses: Vec<String> = plan
                .rules
                .iter()
                .map(|r| format!("{}: {}", r.policy.rule, self.missed(r)))
                .collect();
            return format!("No rule meets every limit ({}).", misses.join("; "));
        };
        let rule = &plan.rules[chosen];
        let time = duration(rule.total_time_s);
        if rule.policy.rule == present {
            let cheaper = plan
                .rules
                .iter()
                .filter(|r| r.meets() && r.total_time_s < rule.total_time_s)
                .filter(|r| rule.choice.clear_of_keep_outs && !r.choice.clear_of_keep_outs)
                .min_by(|a, b| a.total_time_s.total_cmp(&b.total_time_s));
            let others = match cheaper {
                Some(r) => format!(
                    "{} would take {} but its arc overlaps a keep-out",
                    r.policy.rule,
                    duration(r.total_time_s)
                ),
                None => "no other rule that does saves worthwhile time".to_owned(),
            };
            return format!(
                "Keep the rule {present}: it meets every limit with {time} to frame every target once, and {others}."
            );
        }
        let why = plan
            .rules
            .iter()
            .find(|r| r.policy.rule == present)
            .map_or_else(String::new, |r| {
                if r.meets() {
                    format!(
                        "; {present} meets them too, but takes {}",
                        duration(r.total_time_s)
                    )
                } else {
                    format!("; {present} does not: {}", self.missed(r))
                }
            });
        format!(
            "Use the rule {}: it is the cheapest that meets every limit, with {time} to frame every target once{why}.",
            rule.policy.rule
        )
    }

    /// The limits that a rule does not meet.
    #[must_use]
    pub fn missed(&self, rule: &RuleOnList) -> String {
        let n = self.before.targets.len();
        let words = |miss: &Miss| match miss {
            Miss::Unsafe if rule.safe == 0 && n == 1 => "the target is not safe".to_owned(),
            Miss::Unsafe => format!(
                "{} of {} not safe",
                grouped((n - rule.safe) as u64),
                counted(n, "target")
            ),
            Miss::Slow => format!(
                "only {} of the runs at {} settle within {}",
                percent(rule.worst_in_time.rate),
                self.before.targets[rule.slowest].name,
                counted(self.request.wishes.max_solves as usize, "solve")
            ),
            Miss::KeepOut => "its arc overlaps a keep-out".to_owned(),
            Miss::Winding => format!(
                "{} of the runs wind the cable too far",
                percent(rule.overwound.rate)
            ),
        };
        let all: Vec<String> = rule.misses.iter().map(words).collect();
        all.join(", ")
    }

    /// What to do with the list where no arc serves it; empty where one does.
    #[must_use]
    pub fn repair_sentence(&self) -> String {
        let Some(Repair {
            wanted_deg,
            start_deg,
            moves,
            split,
        }) = &self.plan.repair
        else {
            return String::new();
        };
        let apart = match split {
            Some([one, other]) => format!(
                " Or split the night: {} with the arc from {}, and {} with the arc from {}.",
                counted(one.targets.len(), "target"),
                deg(one.start_deg),
                counted(other.targets.len(), "target"),
                deg(other.start_deg)
            ),
            None => String::new(),
        };
        let Some(start_deg) = start_deg else {
            return format!(
                "No seam can lie {} from a target, as the bound asks for: the errors of the rig are too large for an arc.{apart}",
                deg(*wanted_deg)
            );
        };
        if moves.is_empty() {
            return format!(
                "Every target can lie {} from the seam with the arc from {}, so it is not the seam that keeps the list from being safe.",
                deg(*wanted_deg),
                deg(*start_deg)
            );
        }
        let named: Vec<String> = moves
            .iter()
            .take(NAMED)
            .map(|m| {
                let sign = if m.by_deg < 0.0 { "-" } else { "+" };
                format!("{} by {sign}{}", m.name, deg(m.by_deg.abs()))
            })
            .collect();
        let more = if moves.len() > NAMED {
            format!(" and {} more", grouped((moves.len() - NAMED) as u64))
        } else {
            String::new()
        };
        format!(
            "With the arc from {}, turning {} would keep the whole list {} from the seam: {}{more}.{apart}",
            deg(*start_deg),
            counted(moves.len(), "target"),
            deg(*wanted_deg),
            named.join(", ")
        )
    }

    /// The trap of a widened arc on endless travel; empty where there is none.
    #[must_use]
    pub fn trap_sentence(&self) -> String {
        let proof = self.plan.proof();
        let policy: Policy = proof.policy;
        let Some(wide_deg) = short_way_trap(&self.plan.rig, policy) else {
            return String::new();
        };
        let outside_deg = proof.summary.outside_arc_deg.mean.unwrap_or(0.0);
        let seen = if outside_deg > 0.0 {
            format!("; the runs turn {} outside on average", deg(outside_deg))
        } else {
            "; no run of the list did so".to_owned()
        };
        format!(
            "With its band the arc is {} wide: between two of its points that are more than 180 deg apart the drive's short way runs outside the arc{seen}.",
            deg(wide_deg)
        )
    }
}
