//! The plan in words: the same sentences on the screen, in the JSON and on the page.

use super::band::BandAdvice;
use super::list::{Miss, RuleOnList, short_way_trap};
use super::{Advice, Repair, Term};
use crate::rig::Rig;
use crate::scenario::Policy;
use crate::wording::{degrees, duration, grouped, limit, percent, pixels};

/// Targets and terms that a sentence names one by one.
const NAMED: usize = 5;

fn deg(angle_deg: f64) -> String {
    format!("{} deg", degrees(angle_deg))
}

/// An angle that the user chooses, also as the displacement of the frame's corner.
fn chosen(rig: &Rig, angle_deg: f64) -> String {
    match rig.settings().framing {
        Some(framing) => format!(
            "{} ({} px at the frame's corner)",
            deg(angle_deg),
            pixels(framing.corner_shift_px(angle_deg))
        ),
        None => deg(angle_deg),
    }
}

/// "play 0.2, eccentricity 0.04".
fn listed(terms: &[Term]) -> String {
    let parts: Vec<String> = terms
        .iter()
        .map(|t| format!("{} {}", t.name, short(t.size_deg)))
        .collect();
    parts.join(", ")
}

/// An angle of a list: two decimals are enough from a hundredth of a degree on.
fn short(angle_deg: f64) -> String {
    if angle_deg >= 0.01 {
        degrees((100.0 * angle_deg).round() / 100.0)
    } else {
        degrees(angle_deg)
    }
}

fn counted(n: usize, thing: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{} {thing}{plural}", grouped(n as u64))
}

impl Advice {
    /// The bound on the residual after a swing and the margin that follows, part by part.
    #[must_use]
    pub fn bound_sentence(&self) -> String {
        let bound = &self.plan.bound;
        if bound.no_seam {
            return "A full circle of endless travel has no seam, so no correction swings."
                .to_owned();
        }
        if bound.capped {
            return format!(
                "A swing can leave any residual: the errors of this rig add up to half a period ({}) or more.",
                deg(bound.residual_deg)
            );
        }
        if bound.terms.is_empty() {
            return "Without errors a swing leaves no residual.".to_owned();
        }
        let first = match bound.first_move.as_slice() {
            [] => String::new(),
            terms => format!(
                " With {} a target should lie {} from the seam.",
                listed(terms),
                deg(bound.margin_deg)
            ),
        };
        format!(
            "A long swing leaves up to {} ({}), more with a probability of at most {}.{first}",
            deg(bound.residual_deg),
            listed(&bound.terms),
            limit(bound.tail)
        )
    }

    /// The window of tolerances, and where the present one lies.
    #[must_use]
    pub fn window_sentence(&self) -> String {
        let (window, wishes) = (&self.plan.window, &self.request.wishes);
        let settles = format!(
            "settles within {} with a probability of {}",
            counted(wishes.max_solves as usize, "solve"),
            limit(wishes.settle_chance)
        );
        let hardest = &self.before.targets[window.hardest].name;
        let Some(low_deg) = window.low_deg else {
            return format!("No tolerance serves: {hardest} never {settles}.");
        };
        let low = chosen(&self.rig, low_deg);
        let Some(high_deg) = window.high_deg else {
            let present = if window.present_deg < low_deg {
                format!(
                    " The present {} is too small: use {}.",
                    deg(window.present_deg),
                    chosen(&self.rig, window.advised_deg)
                )
            } else {
                format!(" The present {} is enough.", deg(window.present_deg))
            };
            return format!(
                "From a tolerance of {low} on every target {settles}.{present} What the frame bears is not known without [framing]."
            );
        };
        let high = chosen(&self.rig, high_deg);
        if window.empty() {
            let first = match window.improvements.first() {
                Some(best) => format!(
                    " Improve first: halving the {} brings the lower end to {}.",
                    best.what,
                    deg(best.low_deg)
                ),
                None => " Halving one error alone does not help.".to_owned(),
            };
            return format!(
                "No tolerance serves: {hardest} {settles} only from {low} on, and the frame bears no more than {high}.{first}"
            );
        }
        let present = if window.present_deg == window.advised_deg {
            format!(" The present {} lies inside.", deg(window.present_deg))
        } else {
            format!(
                " The present {} lies outside: use {}.",
                deg(window.present_deg),
                chosen(&self.rig, window.advised_deg)
            )
        };
        format!(
            "Tolerances from {low} to {high} serve: from there on every target {settles}, up to there the frame is kept.{present}"
        )
    }

    /// The hysteresis band.
    #[must_use]
    pub fn band_sentence(&self) -> String {
        let BandAdvice {
            needed_deg,
            largest_safe_deg,
            advised_deg,
            left,
            cures,
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

    /// What the plan changes beyond the start of the arc, or that no rule meets the limits, in a sentence; empty
    /// where there is nothing to say.
    #[must_use]
    pub fn plan_headline(&self) -> String {
        let plan = &self.plan;
        if plan.chosen.is_none() {
            return "No rule meets every limit on the whole list.".to_owned();
        }
        let mut parts = Vec::new();
        let (now, then) = (self.rig.settings(), plan.rig.settings());
        if now.loop_.tolerance_deg != then.loop_.tolerance_deg {
            parts.push(format!(
                "a tolerance of {} instead of {}",
                deg(then.loop_.tolerance_deg),
                deg(now.loop_.tolerance_deg)
            ));
        }
        if now.wrap.rule != then.wrap.rule {
            parts.push(format!(
                "the rule {} instead of {}",
                then.wrap.rule, now.wrap.rule
            ));
        }
        if now.wrap.band_deg != then.wrap.band_deg {
            parts.push(format!("a band of {}", deg(then.wrap.band_deg)));
        }
        match parts.as_slice() {
            [] if plan.window.empty() => {
                "No tolerance both settles in time and keeps the frame.".to_owned()
            }
            [] => String::new(),
            [one] => format!("To meet every limit take {one}."),
            [rest @ .., last] => {
                format!("To meet every limit take {} and {last}.", rest.join(", "))
            }
        }
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
            return format!(
                "Keep the rule {present}: it meets every limit, and no other rule that does saves worthwhile time ({time} to frame every target once)."
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

    /// The sets of flats.
    #[must_use]
    pub fn flats_sentence(&self) -> String {
        let flats = &self.plan.flats;
        let sets = counted(flats.sets.len(), "set");
        let angles = counted(flats.angles, "drive angle");
        format!(
            "{angles} in the night: {sets} of flats, each within {} of its targets.",
            deg(flats.within_deg)
        )
    }

    /// The keys that change, as lines "section.key = value (was ...)".
    #[must_use]
    pub fn plan_lines(&self) -> String {
        let mut out = String::new();
        let mut section = "";
        for change in &self.plan.changes {
            let (here, name) = change.key.split_once('.').unwrap_or(("", &change.key));
            if here != section {
                out.push_str(&format!("[{here}]\n"));
                section = here;
            }
            let text = |v: &Option<toml::Value>| match v {
                Some(toml::Value::Float(x)) => format!("{:?}", tidy(*x)),
                Some(value) => value.to_string(),
                None => "not set".to_owned(),
            };
            out.push_str(&format!(
                "{name} = {}    # was {}\n",
                text(&change.to),
                text(&change.from)
            ));
        }
        out
    }

    /// The plan changes more than the start of the arc.
    #[must_use]
    pub fn plan_goes_further(&self) -> bool {
        self.plan
            .changes
            .iter()
            .any(|c| c.key != "wrap.arc_start_deg")
            || self.plan.rig.settings().wrap.arc_start_deg != self.choice.start_deg
    }
}

/// Without rounding noise, but never another angle.
fn tidy(x: f64) -> f64 {
    let rounded = (x * 1e6).round() / 1e6;
    if (rounded - x).abs() <= 1e-9 {
        rounded
    } else {
        x
    }
}
