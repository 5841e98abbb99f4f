//! An advice as a document: the answer first, then its grounds.
//!
//! | file | subject |
//! |---|---|
//! | `words` | the answer in sentences |
//! | `reason` | why a target has its verdict |
//! | `answer` | the first screen |
//! | `anywhere` | a rig at every target angle |
//! | `targets` | every target, now and advised |
//! | `one_loop` | one loop, move by move |
//! | `tolerance` | the window of tolerances, the band, the residual after a swing |
//! | `rules` | the rules on the whole list and at one target |
//! | `uncertain` | the advice on rigs that fit a log |
//! | `flats` | the flats of the night |
//! | `computed` | how the figures were found, and what they leave out |
//! | `check` | a certificate proved again |
//! | `provenance` | how and from what a report was made |

mod answer;
mod anywhere;
mod check;
mod computed;
mod flats;
mod one_loop;
mod provenance;
mod reason;
mod rules;
mod targets;
#[cfg(test)]
mod tests;
mod tolerance;
mod uncertain;
mod words;

pub use anywhere::any_target_document;
pub(crate) use anywhere::{any_target_headline, rule_anywhere};
pub use check::check_document;
pub use provenance::Provenance;
pub(crate) use reason::reason;
pub(crate) use rules::{rule_sentence, why_not};
pub use tolerance::one_sided;
pub(crate) use tolerance::{band, bound, named_limits, repair, window};
pub(crate) use uncertain::sentences as uncertain_sentences;
pub(crate) use words::{headline, list_faults, proof, settings, standing, times};

use halfturn_engine::advise::Advice;

use crate::document::{Block, Document, Line};

/// Everything that an advice says.
#[must_use]
pub fn advice_document(advice: &Advice, made: &Provenance) -> Document {
    let mut out = Document::new();
    answer::add(advice, &mut out);
    let warnings = advice.rig.warnings();
    if !warnings.is_empty() {
        let lines = warnings
            .iter()
            .map(|w| {
                Line::default()
                    .with(crate::document::Span::Code(w.key.to_string()))
                    .text(format!(": {}.", w.text))
            })
            .collect();
        out.add(Block::open(
            "warnings",
            "Check the rig file",
            vec![Block::Items(lines)],
        ));
    }
    targets::add(advice, &mut out);
    one_loop::add(advice, made, &mut out);
    if let Some(u) = &advice.uncertain {
        uncertain::add(u, &mut out);
    }
    tolerance::add(advice, &mut out);
    rules::add(advice, &mut out);
    flats::add(advice, &mut out);
    computed::add(advice, made, &mut out);
    out
}

/// The rig and its list in one line: "travel refractor: 8 targets, half-circle, arc 0° to 180°, tolerance 0.3°".
#[must_use]
pub fn about(advice: &Advice) -> String {
    format!(
        "{}, {}",
        halfturn_engine::wording::counted(advice.before.targets.len(), "target"),
        words::settings(&advice.rig)
    )
}
