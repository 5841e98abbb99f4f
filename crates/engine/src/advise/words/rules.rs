//! Which rule, why not another one, and the ways out where no settings serve the list.

use super::{NAMED, counted, deg};
use crate::advise::{Advice, Repair, RuleOnList, short_way_trap};
use crate::scenario::Policy;
use crate::wording::{duration, grouped};

impl Advice {
    /// Which rule to use, and why none of the others.
    #[must_use]
    pub fn rule_sentence(&self) -> String {
        let rule = self.after.policy.rule;
        let time = duration(self.after.total_time_s());
        let others: Vec<String> = self
            .on_list
            .iter()
            .filter(|r| r.setting.policy.rule != rule)
            .map(|r| format!("{}: {}", r.setting.policy.rule, self.why_not(r)))
            .collect();
        let does = if rule == self.rig.settings().wrap.rule {
            "Keep"
        } else {
            "Use"
        };
        let others = if others.is_empty() {
            String::new()
        } else {
            format!(" Not taken: {}.", others.join("; "))
        };
        if self.after.holds() {
            format!(
                "{does} the rule {rule}: it meets every limit, and frames every target once in {time}.{others}"
            )
        } else {
            format!(
                "No rule meets every limit. {does} the rule {rule}: {}.{others}",
                self.after.fares()
            )
        }
    }

    /// Why a rule is not the advised one, as a clause.
    #[must_use]
    pub fn why_not(&self, other: &RuleOnList) -> String {
        if !other.setting.holds() {
            return other.setting.fares();
        }
        let changes = |n: usize| match n {
            0 => "no change".to_owned(),
            n => counted(n, "changed key"),
        };
        let (mine, theirs) = (self.changes.len(), other.changes.len());
        if theirs > mine {
            return format!("needs {} instead of {}", changes(theirs), changes(mine));
        }
        let (mine, theirs) = (&self.after, &other.setting);
        if mine.arc.clear_of_keep_outs && !theirs.arc.clear_of_keep_outs {
            return "its arc overlaps a keep-out".to_owned();
        }
        let times = [mine, theirs].map(|s| duration(s.total_time_s()));
        if theirs.total_time_s() < mine.total_time_s() {
            format!(
                "a change of the rule itself, though it takes {} instead of {}",
                times[1], times[0]
            )
        } else if times[0] == times[1] {
            "no faster".to_owned()
        } else {
            format!("takes {} instead of {}", times[1], times[0])
        }
    }

    /// What to do with the list where no settings serve it; empty where some do.
    #[must_use]
    pub fn repair_sentence(&self) -> String {
        let Some(Repair {
            wanted_deg,
            start_deg,
            moves,
            split,
        }) = &self.repair
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
                "No arc keeps every target {} from its ends: the errors of the rig are too large.{apart}",
                deg(*wanted_deg)
            );
        };
        if moves.is_empty() {
            return format!(
                "The arc is not the problem: started at {}, it keeps every target {} from its ends.",
                deg(*start_deg),
                deg(*wanted_deg)
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
            "Or start the arc at {} and turn {}: then every target is {} from the seam. Turn {}{more}.{apart}",
            deg(*start_deg),
            counted(moves.len(), "target"),
            deg(*wanted_deg),
            named.join(", ")
        )
    }

    /// The trap of a widened arc on endless travel; empty where there is none.
    #[must_use]
    pub fn trap_sentence(&self) -> String {
        let policy: Policy = self.after.policy;
        let Some(wide_deg) = short_way_trap(&self.advised_rig, policy) else {
            return String::new();
        };
        let outside = self.after.targets.iter();
        let outside = outside.filter_map(|t| t.summary.outside_arc_deg.mean);
        let outside_deg = outside.fold(0.0, f64::max);
        let seen = if outside_deg > 0.0 {
            format!(
                "; at one target the drive turns {} outside on average",
                deg(outside_deg)
            )
        } else {
            "; here no target does that".to_owned()
        };
        format!(
            "With its band the arc is {} wide. Between two points more than 180 deg apart the short way runs outside the arc{seen}.",
            deg(wide_deg)
        )
    }
}
