//! The report page of `advise`: one HTML file that needs no network and no other file. Text, tables and pictures work
//! without script; a script adds the player.

mod player;
mod script;
#[cfg(test)]
mod tests;
mod try_on;

pub use player::{PLAYER_SCRIPT, PLAYER_STYLE};
pub(crate) use script::player;
pub use try_on::{begun_with, with_engine};

use maud::{DOCTYPE, PreEscaped, html};

use crate::advice::{Provenance, about, advice_document};
use crate::document::{Document, Pictures};
use halfturn_engine::advise::Advice;

/// Palette and type sizes, the layout, the colours of pictures in the dark, the player.
const STYLE: [&str; 4] = [
    include_str!("../../../../assets/page/palette.css"),
    include_str!("../../../../assets/page/report.css"),
    include_str!("../../../../assets/page/picture.css"),
    PLAYER_STYLE,
];

/// A page without script, with a line below its title: for a screen, and to print across.
pub(crate) fn to_print(
    title: &str,
    about: &str,
    document: &Document,
    pictures: &Pictures,
) -> String {
    const ACROSS: &str = "@media print { @page { size: landscape } table { font-size: 9pt } }";
    const POLICY: &str =
        "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                title { (title) }
                style {
                    (PreEscaped(STYLE[..2].concat()))
                    @if !pictures.is_empty() { (PreEscaped(STYLE[2])) }
                    (PreEscaped(ACROSS))
                }
            }
            body {
                div.page {
                    header { h1 { (title) } p.soft { (about) } }
                    main { (document.html(pictures)) }
                    footer { p { "Made by halfturn " (env!("CARGO_PKG_VERSION")) "." } }
                }
            }
        }
    }
    .into_string()
}

/// The content policy of a report inside the served page.
#[must_use]
pub fn policy_when_served() -> String {
    format!("{}; frame-ancestors 'self'", script::policy())
}

/// By what a policy knows the script of a report.
#[must_use]
pub fn script_hash() -> String {
    script::hash(&script::source())
}

/// The whole page.
#[must_use]
pub(crate) fn render(advice: &Advice, pictures: &Pictures, made: &Provenance) -> String {
    let head = Head {
        name: &advice.rig.settings().name,
        about: &about(advice),
        files: &format!("{} and {}", made.rig_file, made.targets_file),
    };
    page(&head, &advice_document(advice, made), pictures, made)
}

/// The head and foot of a page.
pub(crate) struct Head<'a> {
    /// The rig.
    pub(crate) name: &'a str,
    /// What the page is about.
    pub(crate) about: &'a str,
    /// The files that it was made from.
    pub(crate) files: &'a str,
}

/// A document as a whole page.
pub(crate) fn page(
    head: &Head<'_>,
    document: &Document,
    pictures: &Pictures,
    made: &Provenance,
) -> String {
    let report = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(script::policy());
                title { "Rotator advice: " (head.name) }
                style { (PreEscaped(STYLE.concat())) }
            }
            body {
                div.page {
                    header {
                        h1 { (head.name) }
                        p.soft { (head.about) span #made {} }
                    }
                    main { (document.html(pictures)) }
                    footer {
                        p { "Made by halfturn " (made.version) " from " (head.files) "." }
                    }
                }
                (script::element())
            }
        }
    }
    .into_string();
    match &made.one_file {
        Some(one_file) => with_engine(&report, one_file),
        None => report,
    }
}
