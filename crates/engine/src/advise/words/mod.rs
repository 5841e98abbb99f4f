//! The advice in words: the same sentences on the screen, in the JSON and on the page.

mod basis;
mod rules;

use super::{Advice, Outcome, Setting, TargetReport};
use crate::rig::{Approach, Difference};
use crate::verdict::State;
use crate::wording::{degrees, grouped, percent};

/// Targets that a sentence names one by one.
const NAMED: usize = 5;

pub(super) fn deg(angle_deg: f64) -> String {
    format!("{} deg", degrees(angle_deg))
}

pub(super) fn counted(n: usize, thing: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{} {thing}{plural}", grouped(n as u64))
}

/// "a, b and c".
fn joined(parts: &[String]) -> String {
    match parts {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        parts => parts.concat(),
    }
}

/// A sentence that begins with a capital letter.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

impl Setting {
    /// How the list stands, as a clause: "2 of 8 targets hunt, 1 is at risk".
    #[must_use]
    pub fn standing(&self) -> String {
        let n = self.targets.len();
        let found: Vec<State> = State::ALL
            .into_iter()
            .filter(|s| self.count(*s) > 0)
            .collect();
        if let [only] = found.as_slice() {
            return match n {
                1 => format!("the target {}", only.does()),
                2 => format!("both targets {}", only.do_()),
                n => format!("all {} targets {}", grouped(n as u64), only.do_()),
            };
        }
        let parts: Vec<String> = found
            .into_iter()
            .filter(|s| *s != State::Safe)
            .enumerate()
            .map(|(i, state)| {
                let count = self.count(state);
                let of = if i == 0 {
                    format!(" of {} targets", grouped(n as u64))
                } else {
                    String::new()
                };
                let does = if count == 1 {
                    state.does()
                } else {
                    state.do_()
                };
                format!("{}{of} {does}", grouped(count as u64))
            })
            .collect();
        parts.join(", ")
    }

    /// The limits of the whole list that are not met, a clause each.
    #[must_use]
    pub fn list_faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        if let Some(high_deg) = self.tolerance_high_deg.filter(|_| !self.keeps_frame()) {
            faults.push(format!(
                "the tolerance of {} is more than the {} that the frame bears",
                deg(self.tolerance_deg),
                deg(high_deg)
            ));
        }
        if !self.is_clear_enough() {
            faults.push("the arc overlaps a keep-out".to_owned());
        }
        faults
    }

    /// How the list stands, and the limits of the whole list that are not met.
    #[must_use]
    pub fn fares(&self) -> String {
        let mut parts = vec![self.standing()];
        parts.extend(self.list_faults());
        match (parts.as_slice(), self.all_safe()) {
            ([only], _) => only.clone(),
            ([first, rest @ ..], true) => format!("{first}, but {}", joined(rest)),
            (parts, _) => joined(parts),
        }
    }
}

impl Advice {
    /// The answer in one or two sentences: what to set, and how the list fares then.
    #[must_use]
    pub fn headline(&self) -> String {
        let now = self.before.fares();
        let changes = joined(&self.change_clauses());
        let answer = match self.outcome {
            Outcome::NotNeeded => format!("{}. Nothing needs to change.", capital(&now)),
            Outcome::Solves => format!("Set {changes}: then {}.", self.after.fares()),
            Outcome::Improves => {
                let then = match self.after.fares() {
                    then if then == now => format!("Then still {then}, but {}", self.gain()),
                    then => format!("Then {then}; now {now}"),
                };
                format!(
                    "No settings were found that meet every limit. The best: set {changes}. {then}."
                )
            }
            Outcome::NoImprovement => {
                format!("No better settings were found: {now}.")
            }
        };
        let doubt = if self.proof.bears_out() {
            String::new()
        } else {
            format!(" But {}", self.proof_sentence())
        };
        format!("{answer}{}{doubt}", self.wrong_angles())
    }

    /// What the advice gains although as many targets are in their states as before.
    fn gain(&self) -> String {
        let fewer: Vec<String> = State::ALL
            .into_iter()
            .filter_map(|state| {
                let (now, then) = (self.before.count_also(state), self.after.count_also(state));
                let does = state.short(then);
                (then < now).then(|| format!("{then} instead of {now} {does}"))
            })
            .collect();
        if fewer.is_empty() {
            let share = percent(self.after.excess() / self.before.excess());
            return format!("the shares above their limits fall to {share} of what they are");
        }
        joined(&fewer)
    }

    /// Targets that settle on a wrong angle, as a sentence; empty where none does.
    fn wrong_angles(&self) -> String {
        let all = self.after.targets.len();
        let wrong = self
            .after
            .targets
            .iter()
            .filter(|t| t.settles_wrong)
            .count();
        let who = match (all, wrong) {
            (_, 0) => return String::new(),
            (1, _) => "the target settles on a wrong angle: its".to_owned(),
            (n, 1) => format!(
                "1 of {} settles on a wrong angle: its",
                counted(n, "target")
            ),
            (n, wrong) => format!(
                "{} of {} settle on a wrong angle: their",
                grouped(wrong as u64),
                counted(n, "target")
            ),
        };
        format!(" But {who} mean true error is above the tolerance.")
    }

    /// The changes, a clause each: "the arc to start at 277 deg (now 0)".
    fn change_clauses(&self) -> Vec<String> {
        let (now, then) = (self.rig.settings(), self.advised_rig.settings());
        let mut clauses = Vec::new();
        if now.wrap.rule != then.wrap.rule {
            clauses.push(format!(
                "the rule to {} (now {})",
                then.wrap.rule, now.wrap.rule
            ));
        }
        for (what, now, then) in [
            (
                "the start of the arc",
                now.wrap.arc_start_deg,
                then.wrap.arc_start_deg,
            ),
            ("the band", now.wrap.band_deg, then.wrap.band_deg),
            (
                "the tolerance",
                now.loop_.tolerance_deg,
                then.loop_.tolerance_deg,
            ),
        ] {
            if now != then {
                clauses.push(format!("{what} to {} (now {})", deg(then), degrees(now)));
            }
        }
        if now.loop_.approach != then.loop_.approach && then.loop_.approach != Approach::Direct {
            clauses.push(format!(
                "the approach to {} with an overrun of {}",
                then.loop_.approach,
                deg(then.loop_.overrun_deg)
            ));
        }
        clauses
    }

    /// The keys that change, as lines for the rig file.
    #[must_use]
    pub fn change_lines(&self) -> String {
        change_lines(&self.changes)
    }

    /// Not even runs without a fault would prove a target safe, and some had to be run.
    #[must_use]
    pub fn too_few_runs(&self) -> bool {
        let high = crate::summary::Rate::of(0, self.request.batch.trials).high;
        let run = self.before.targets.iter().any(|t| t.summary.trials > 0);
        run && high > self.request.limits.max_ping_pong
    }

    /// The targets that stay unsafe, as a sentence; empty where there is none.
    #[must_use]
    pub fn still_unsafe(&self) -> String {
        let unsafe_ = |t: &&TargetReport| !t.verdict.is_safe();
        let worst = self.after.worst_first().into_iter().filter(unsafe_);
        let names: Vec<String> = worst.map(|t| t.name.clone()).collect();
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

    /// What the runs of the proof say, as a sentence.
    #[must_use]
    pub fn proof_sentence(&self) -> String {
        let proof = &self.proof;
        let runs = grouped(proof.trials);
        if let Some(first) = proof.contradicted.first() {
            let name = &self.after.targets[*first].name;
            return format!(
                "{runs} fresh runs at each target contradict the verdict at {}, first at {name}.",
                counted(proof.contradicted.len(), "target")
            );
        }
        format!(
            "{runs} fresh runs at each target bear this out. At the worst target {} ping-pong, and {} settle within {}.",
            percent(proof.ping_pong.rate),
            percent(proof.in_time.rate),
            counted(self.request.limits.max_solves as usize, "solve")
        )
    }
}

/// Keys that change, as lines "key = value    # was value" below their sections.
fn change_lines(changes: &[Difference]) -> String {
    let mut out = String::new();
    let mut section = "";
    for change in changes {
        let (here, name) = change.key.split_once('.').unwrap_or(("", &change.key));
        if here != section {
            out.push_str(&format!("[{here}]\n"));
            section = here;
        }
        let text = |v: &Option<toml::Value>| {
            v.as_ref()
                .map_or_else(|| "not set".to_owned(), ToString::to_string)
        };
        out.push_str(&format!(
            "{name} = {}    # was {}\n",
            text(&change.to),
            text(&change.from)
        ));
    }
    out
}
