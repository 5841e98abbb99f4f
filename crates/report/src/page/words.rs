//! Words and small marks that all parts of the page share.

use maud::{Markup, html};

use halfturn_engine::rig::{Named, Rule};
use halfturn_engine::summary::Rate;
use halfturn_engine::verdict::State;
use halfturn_engine::wording::{degrees, duration, grouped, percent};

/// Keeps a number and its unit on one line.
pub(super) fn whole(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

/// Keeps every number of a sentence and its unit on one line.
pub(super) fn whole_units(text: &str) -> String {
    text.replace(" deg", "\u{a0}deg").replace(" %", "\u{a0}%")
}

pub(super) fn angle(angle_deg: f64) -> String {
    whole(&format!("{} deg", degrees(angle_deg)))
}

/// A sum of turning: whole degrees where it is long.
pub(super) fn turned(angle_deg: f64) -> String {
    if angle_deg < 99.5 {
        angle(angle_deg)
    } else {
        whole(&format!("{} deg", grouped(angle_deg.round() as u64)))
    }
}

pub(super) fn share(share: f64) -> String {
    whole(&percent(share))
}

pub(super) fn time(time_s: f64) -> String {
    whole(&duration(time_s))
}

/// A displacement on the sensor, without its unit.
pub(super) fn pixels(px: f64) -> String {
    whole(&halfturn_engine::wording::pixels(px))
}

pub(super) fn number(n: usize) -> String {
    whole(&grouped(n as u64))
}

/// A share that somebody chose, with no more digits than that.
pub(super) fn limit(share: f64) -> String {
    whole(&halfturn_engine::wording::limit(share))
}

/// A figure that there may be too few runs for.
pub(super) fn maybe(value: Option<f64>, text: impl Fn(f64) -> String) -> String {
    value.map_or_else(|| "–".to_owned(), text)
}

pub(super) fn rule(rule: Rule) -> String {
    rule.name().replace('-', " ")
}

/// A rate with its interval below it.
pub(super) fn rate(rate: &Rate) -> Markup {
    html! {
        (share(rate.rate))
        (range(&share(rate.low), &share(rate.high)))
    }
}

/// An interval, below the number that it belongs to.
pub(super) fn range(low: &str, high: &str) -> Markup {
    html! { span.range { (low) " to " (high) } }
}

/// The shape that stands for a state; the sheet `palette.css` has a colour for each class.
pub(super) fn shape(state: State) -> (&'static str, &'static str) {
    match state {
        State::TurnsThroughKeepOut => ("keep-out", "⊘"),
        State::WindsTooFar => ("winding", "◎"),
        State::OutOfReach => ("out-of-reach", "✕"),
        State::Hunts => ("hunts", "◆"),
        State::DoesNotSettle => ("does-not-settle", "■"),
        State::NoSolution => ("no-solution", "◇"),
        State::AtRisk => ("at-risk", "▲"),
        State::Safe => ("safe", "●"),
    }
}

/// The state by shape and word.
pub(super) fn mark(state: State) -> Markup {
    let (class, shape) = shape(state);
    html! {
        span.verdict.(class) {
            span.shape aria-hidden="true" { (shape) }
            (state)
        }
    }
}
