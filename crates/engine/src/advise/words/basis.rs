//! What the advice rests on, in words: the bound, the tolerances, the band, the flats.

use super::{counted, deg};
use crate::advise::{Advice, BandAdvice, Term};
use crate::rig::Rig;
use crate::wording::{degrees, limit, percent, pixels};

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

impl Advice {
    /// The bound on the residual after a swing and the margin that follows, part by part.
    #[must_use]
    pub fn bound_sentence(&self) -> String {
        let bound = &self.bound;
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
                " Keep targets {} from the seam: that, and {}.",
                deg(bound.margin_deg),
                listed(terms)
            ),
        };
        format!(
            "A long swing leaves an error of up to {} ({}), more after at most {} of the solves.{first}",
            deg(bound.residual_deg),
            listed(&bound.terms),
            limit(bound.tail)
        )
    }

    /// The window of tolerances, and where the present one lies.
    #[must_use]
    pub fn window_sentence(&self) -> String {
        let window = &self.window;
        let hardest = &self.before.targets[window.hardest].name;
        let Some(low_deg) = window.low_deg else {
            return format!("No tolerance serves: with none does {hardest} settle in time.");
        };
        let low = chosen(&self.rig, low_deg);
        let found = window.low_by.words();
        let Some(high_deg) = window.high_deg else {
            return format!(
                "With a tolerance of {low} or more the loop settles in time at every target{}. This was found {found}. How much the frame bears is not known: the rig file has no [framing].",
                self.present_tolerance()
            );
        };
        let high = chosen(&self.rig, high_deg);
        if window.empty() {
            let first = match window.improvements.first() {
                Some(best) => format!(
                    " Improve first: half of the {} brings the lower end to {}.",
                    best.what,
                    deg(best.low_deg)
                ),
                None => " To halve one error alone does not help.".to_owned(),
            };
            return format!(
                "No tolerance serves: {hardest} needs {low} to settle in time, and the frame bears no more than {high}.{first}"
            );
        }
        format!(
            "Below {low} the loop hunts or does not settle in time at {hardest}; above {high} the frame is lost{}. The lower end was found {found}.",
            self.present_tolerance()
        )
    }

    /// What is to be said of the present tolerance.
    fn present_tolerance(&self) -> String {
        let window = &self.window;
        if window.holds(window.present_deg) {
            format!("; the present {} serves", deg(window.present_deg))
        } else if window.present_deg == window.advised_deg {
            format!("; the present {} does not serve", deg(window.present_deg))
        } else {
            format!(
                "; use {} instead of {}",
                chosen(&self.rig, window.advised_deg),
                deg(window.present_deg)
            )
        }
    }

    /// The hysteresis band around the advised arc.
    #[must_use]
    pub fn band_sentence(&self) -> String {
        let BandAdvice {
            needed_deg,
            largest_safe_deg,
            advised_deg,
            left,
            cures,
            found_by: _,
        } = &self.band;
        let start = deg(self.after.arc.start_deg);
        let room = match largest_safe_deg {
            Some(safe) => format!("the arc from {start} leaves room for {}", deg(*safe)),
            None => format!("the arc from {start} overlaps a keep-out, a stop or the cable limit"),
        };
        match (needed_deg, advised_deg) {
            (Some(needed), _) if *needed == 0.0 => {
                format!(
                    "Around the arc from {start} not even a target on the seam hunts. No band is needed."
                )
            }
            (Some(needed), _) if *cures => format!(
                "With a hysteresis band of {} not even a target on the seam hunts; {room}.",
                deg(*needed)
            ),
            (needed, Some(advised)) => {
                let needs = needed.map_or_else(
                    || "With no band does a target on the seam stop hunting".to_owned(),
                    |n| format!("A target on the seam needs a band of {}", deg(n)),
                );
                let risk = left.map_or_else(String::new, |left| {
                    format!(
                        ": with it {} of the runs of a target on the seam ping-pong",
                        percent(left.rate)
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
                format!("With no band does a target on the seam stop hunting, and {room}.")
            }
        }
    }

    /// The sets of flats.
    #[must_use]
    pub fn flats_sentence(&self) -> String {
        format!(
            "The night has {}. {} of flats cover them, each within {} of its targets.",
            counted(self.flats.angles, "drive angle"),
            counted(self.flats.sets.len(), "set"),
            deg(self.flats.within_deg)
        )
    }
}
