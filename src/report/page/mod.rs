//! The report page of `advise`: one HTML file that needs nothing else, neither network nor script.

mod cautions;
mod change;
mod credibility;
mod flats;
mod oscillation;
mod proof;
mod rules;
mod settings;
mod targets;
#[cfg(test)]
mod tests;
mod uncertain;
mod verdict;
mod words;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::advise::Advice;
use crate::rig::TravelKind;

/// Palette and type scale, then the layout.
const STYLE: &str = concat!(
    include_str!("../../../assets/page/palette.css"),
    include_str!("../../../assets/page/report.css")
);

/// Nothing is fetched and nothing is run.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// The pictures of the page as SVG markup; without one its figure is left out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Pictures {
    /// Targets, arc, seam and keep-outs on the circle of drive angles.
    pub dial: Option<String>,
    /// The example loop under the present settings.
    pub loop_before: Option<String>,
    /// The same run under the advised arc.
    pub loop_after: Option<String>,
    /// Settle time of the rules.
    pub settle_time: Option<String>,
    /// Hunting against the distance from the seam.
    pub seam_distance: Option<String>,
    /// Every target before and after.
    pub before_after: Option<String>,
}

/// How and from what the report was made.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Made {
    /// The command line that makes it again.
    pub command: String,
    /// The start of the command line that shows one of the runs, up to its target and number.
    pub trace_command: String,
    /// Version of the program.
    pub version: String,
    /// Name of the rig file.
    pub rig_file: String,
    /// Name of the targets file.
    pub targets_file: String,
}

/// The whole page.
#[must_use]
pub fn render(advice: &Advice, pictures: &Pictures, made: &Made) -> String {
    let name = &advice.rig.settings().name;
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                title { "Rotator advice: " (name) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                div.page {
                    header {
                        p.kind { "Rotator advice for" }
                        h1 { (name) }
                    }
                    main {
                        (verdict::section(advice))
                        (contents())
                        (warnings(advice))
                        (change::section(advice, made))
                        (cautions::section())
                        (dial(advice, pictures))
                        (settings::section(advice))
                        (oscillation::section(advice, pictures, made))
                        (targets::section(advice, pictures))
                        (uncertain::section(advice))
                        (flats::section(advice))
                        (rules::section(advice, pictures))
                        (proof::computed(advice, made))
                        (credibility::section(advice))
                        (proof::neglected(advice))
                    }
                    footer {
                        p { "Made by halfturn " (made.version) " from " (made.rig_file) " and " (made.targets_file) "." }
                    }
                }
            }
        }
    }
    .into_string()
}

fn contents() -> Markup {
    let parts = [
        ("change", "What to change"),
        ("cautions", "Cautions"),
        ("settings", "Tolerance, band and rule"),
        ("loop", "The oscillation"),
        ("targets", "Targets"),
        ("flats", "Flats"),
        ("rules", "Rules side by side"),
        ("computed", "How it was computed"),
        ("credibility", "What the numbers are good for"),
        ("neglected", "What is neglected"),
    ];
    html! {
        nav.contents aria-label="Contents" {
            ul {
                @for (id, title) in parts {
                    li { a href={ "#" (id) } { (title) } }
                }
            }
        }
    }
}

/// What the rig file itself says that is probably not meant.
fn warnings(advice: &Advice) -> Markup {
    let warnings = advice.rig.warnings();
    html! {
        @if !warnings.is_empty() {
            section.warnings {
                h2 { "Check the rig file first" }
                ul {
                    @for warning in warnings {
                        li { code { (warning.key) } ": " (warning.text) "." }
                    }
                }
            }
        }
    }
}

fn dial(advice: &Advice, pictures: &Pictures) -> Markup {
    let has_keep_out = !advice.rig.settings().keep_out.is_empty();
    let between_stops = advice.rig.settings().drive.travel == TravelKind::Stops;
    html! {
        @if pictures.dial.is_some() {
            section {
                h2 { @if between_stops { "The drive angles between the stops" } @else { "The circle of drive angles" } }
                (figure(pictures.dial.as_deref(), &html! {
                    "Each mark is the drive angle that one target is sent to first. The allowed arc ends at the seam: "
                    "a target beside it is the one that can be thrown to the other end."
                    @if has_keep_out {
                        " Keep-outs are the sectors that the rig file says not to turn through."
                    }
                }))
            }
        }
    }
}

/// Width of a picture that does not say how wide it is \[px\].
const WIDE_PX: f64 = 960.0;

/// A picture with its caption.
fn figure(svg: Option<&str>, caption: &Markup) -> Markup {
    html! {
        @if let Some(svg) = svg {
            figure {
                div.picture style={ "--wide: " (wide_px(svg)) "px" } { (PreEscaped(embedded(svg))) }
                figcaption { (caption) }
            }
        }
    }
}

/// The SVG element without what may stand before it in a file of its own.
fn embedded(svg: &str) -> &str {
    svg.find("<svg").map_or(svg, |start| &svg[start..])
}

/// The natural width of a picture: the third number of its `viewBox`.
fn wide_px(svg: &str) -> f64 {
    svg.split_once("viewBox=\"")
        .and_then(|(_, rest)| rest.split_once('"'))
        .and_then(|(numbers, _)| numbers.split_whitespace().nth(2)?.parse().ok())
        .filter(|wide: &f64| wide.is_finite() && *wide > 0.0)
        .unwrap_or(WIDE_PX)
}
