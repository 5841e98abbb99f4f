//! The trial on drawn rigs in words: the same sentences on the screen, in the JSON and on the page.

use super::super::words::{counted, deg};
use super::{Driver, RobustSettings, Uncertain};
use crate::summary::Rate;
use crate::wording::{degrees, limit, percent};

impl Uncertain {
    /// For how many of the rigs the advice holds.
    #[must_use]
    pub fn sentence(&self) -> String {
        let draws = self.doubt.draws as usize;
        let wanted = limit(self.doubt.hold);
        let shares = format!(
            "Of {} that fit {} as well, {} keep every target safe with the advised settings",
            counted(draws, "rig"),
            self.log,
            share(&self.all_safe)
        );
        if !self.holds() {
            format!("{shares}: fewer than the {wanted} asked for.")
        } else if self.all_safe.low < self.doubt.hold {
            format!(
                "{shares}: enough for the {wanted} asked for, though so few rigs do not prove it."
            )
        } else {
            format!("{shares}: enough for the {wanted} asked for.")
        }
    }

    /// Which target is the weakest; empty where all are safe on every rig.
    #[must_use]
    pub fn weakest_sentence(&self) -> String {
        let worst = self.worst();
        if worst.safe.rate >= 1.0 {
            return String::new();
        }
        format!(
            "The weakest target is {}: safe for {}, and {} of its runs hunt on the rig that suits it least.",
            worst.name,
            percent(worst.safe.rate),
            percent(worst.hunting_most)
        )
    }

    /// Which errors differ where the advice fails.
    #[must_use]
    pub fn driver_sentence(&self) -> String {
        if self.all_safe.rate >= 1.0 {
            return String::new();
        }
        match self.drivers.as_slice() {
            [] if self.all_safe.rate == 0.0 => {
                "No rig is left to compare the failing ones with.".to_owned()
            }
            [] => "The failing rigs differ from the others in no single error beyond chance."
                .to_owned(),
            [first, rest @ ..] => {
                let also = match rest {
                    [] => String::new(),
                    rest => {
                        let names: Vec<&str> = rest.iter().map(|d| d.what).collect();
                        format!(" They also differ in: {}.", names.join(", "))
                    }
                };
                format!(
                    "What decides is the {}.{also} To know it better, make a longer log; halfturn fit --plan says which moves and solves.",
                    first.sentence()
                )
            }
        }
    }

    /// What to do where the advice holds for too few rigs; empty where it holds.
    #[must_use]
    pub fn firmer_sentence(&self) -> String {
        if self.holds() {
            return String::new();
        }
        match &self.firmer {
            Some(firmer) => firmer.sentence(self.doubt.hold),
            None => "No other tolerance that the frame bears, rule or band was found that holds for more rigs: know the errors better, or mend them.".to_owned(),
        }
    }

    /// What the log does not tell, and what is done about it, a sentence each.
    #[must_use]
    pub fn untold_sentences(&self) -> Vec<String> {
        let mut said: Vec<String> = Vec::new();
        for parameter in self.untold().filter_map(|d| d.parameter) {
            let (what, done) = match parameter {
                "repeatability_deg" | "noise_deg" => (
                    "seating from solve noise",
                    "only their sum is known, and every rig draws its own part of each",
                ),
                "sense" => ("the sense", "the one that fits better is taken"),
                "step_deg" => ("the step", "it is kept as it was believed"),
                "outlier_rate" => (
                    "the share of outliers",
                    "it is taken as the few solves have it",
                ),
                "zero_point_deg" => ("the zero point", LEANS),
                "gain_error" => ("the gain error", LEANS),
                "backlash_deg" => ("the play", LEANS),
                "periodic.0.amplitude_deg" => ("the periodic error once a turn", LEANS),
                "periodic.1.amplitude_deg" => ("the periodic error twice a turn", LEANS),
                other => (other, LEANS),
            };
            let sentence = format!("The log does not tell {what}: {done}.");
            if !said.contains(&sentence) {
                said.push(sentence);
            }
        }
        said
    }
}

/// What is done about an error of the mechanics.
const LEANS: &str = "it is drawn so that it goes with the others and stays near what was believed";

impl Driver {
    /// The error with its medians: "play: 0.3 deg in the middle where the advice fails, 0.2 deg where it holds".
    #[must_use]
    pub fn sentence(&self) -> String {
        let with_unit = |x: f64| {
            if self.unit == "deg" { deg(x) } else { short(x) }
        };
        let (off, what) = if self.by_distance {
            ("off by ", format!("{}, to either side", self.what))
        } else {
            ("", self.what.to_owned())
        };
        format!(
            "{what}: {off}{} in the middle where the advice fails, {} where it holds",
            with_unit(self.failing),
            with_unit(self.holding)
        )
    }
}

impl RobustSettings {
    /// What to change, and for how many rigs it holds then.
    fn sentence(&self, hold: f64) -> String {
        let changes: Vec<String> = self
            .changes
            .iter()
            .filter_map(|c| {
                let value = match c.to.as_ref()? {
                    toml::Value::Float(x) => degrees(*x),
                    toml::Value::String(s) => s.clone(),
                    other => other.to_string(),
                };
                Some(format!("{} = {value}", c.key))
            })
            .collect();
        let changes = changes.join(", ");
        let holds = share(&self.holds);
        if self.enough {
            format!("Take {changes}: of as many new rigs, {holds} keep every target safe with it.")
        } else {
            format!(
                "No setting was found that holds for {}. The best is {changes}: of as many new rigs, {holds} keep every target safe with it.",
                limit(hold)
            )
        }
    }
}

/// "93.5 % [89.2 %, 96.2 %]".
fn share(rate: &Rate) -> String {
    format!(
        "{} [{}, {}]",
        percent(rate.rate),
        percent(rate.low),
        percent(rate.high)
    )
}

/// A fraction, with the digits that count.
fn short(x: f64) -> String {
    let text = format!("{x:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
