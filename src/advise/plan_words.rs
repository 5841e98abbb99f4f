//! Bound, tolerance and changes in words: the same sentences on the screen, in the JSON and on the page.

use super::{Advice, Term};
use crate::rig::Rig;
use crate::wording::{degrees, grouped, limit, pixels};

pub(super) fn deg(angle_deg: f64) -> String {
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

pub(super) fn counted(n: usize, thing: &str) -> String {
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
        let sentence = self.window_found();
        match self.plan.window.low_deg {
            Some(_) => format!(
                "{sentence} The lower end was found {}.",
                self.plan.window.low_by.words()
            ),
            None => sentence,
        }
    }

    fn window_found(&self) -> String {
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
