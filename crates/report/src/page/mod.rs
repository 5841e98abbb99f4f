//! The report page of `advise`: one HTML file that needs no network and no other file. All text, tables and pictures
//! are there without script; a script adds the player.

mod cautions;
mod change;
mod credibility;
mod flats;
#[cfg(test)]
mod form_tests;
mod list_rules;
mod night;
mod oscillation;
mod picture;
mod player;
mod proof;
mod rules;
mod script;
mod settings;
mod targets;
#[cfg(test)]
mod tests;
mod uncertain;
mod verdict;
mod words;

pub use picture::{Drawn, Pictures};
pub use player::{PLAYER_SCRIPT, PLAYER_STYLE};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use halfturn_engine::advise::Advice;

/// Palette and type scale, the layout, the colours of the pictures in the dark, the player.
const STYLE: [&str; 4] = [
    include_str!("../../../../assets/page/palette.css"),
    include_str!("../../../../assets/page/report.css"),
    include_str!("../../../../assets/page/picture.css"),
    PLAYER_STYLE,
];

/// What the page may do where it is shown inside the served one.
#[must_use]
pub fn policy_when_served() -> String {
    format!("{}; frame-ancestors 'self'", script::policy())
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
                meta http-equiv="Content-Security-Policy" content=(script::policy());
                title { "Rotator advice: " (name) }
                style { (PreEscaped(STYLE.concat())) }
            }
            body {
                div.page {
                    header {
                        p.kind { "Rotator advice for" }
                        h1 { (name) }
                    }
                    main {
                        (verdict::section(advice))
                        (contents(advice.uncertain.is_some()))
                        (warnings(advice))
                        (change::section(advice, made))
                        (night::section(advice, pictures))
                        (oscillation::section(advice, pictures, made))
                        (targets::section(advice, pictures))
                        (uncertain::section(advice))
                        (rules::section(advice, pictures))
                        (settings::section(advice, pictures))
                        (flats::section(advice))
                        (proof::computed(advice, made))
                        (credibility::section(advice))
                        (proof::neglected(advice))
                    }
                    footer {
                        p { "Made by halfturn " (made.version) " from " (made.rig_file) " and " (made.targets_file) "." }
                    }
                }
                (script::element())
            }
        }
    }
    .into_string()
}

/// Links to the sections; `uncertain` where there are drawn rigs.
fn contents(uncertain: bool) -> Markup {
    let parts = [
        ("change", "What to change"),
        ("cautions", "Cautions"),
        ("dial", "The night's targets"),
        ("loop", "One run, before and after"),
        ("targets", "Targets"),
        ("uncertain", "If the rig is not quite as fitted"),
        ("rules", "Rule by rule"),
        ("settings", "Tolerance window"),
        ("flats", "Flats"),
        ("computed", "How this was computed"),
        ("credibility", "Limits"),
        ("neglected", "Not modelled"),
    ];
    html! {
        nav.contents aria-label="Contents" {
            ul {
                @for (id, title) in parts.into_iter().filter(|(id, _)| uncertain || *id != "uncertain") {
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
