//! An advice as a document: the answer first, then what it rests on.
//!
//! | file | subject |
//! |---|---|
//! | `words` | the answer in sentences |
//! | `reason` | why a target has its verdict |
//! | `answer` | the first screen |
//! | `targets` | every target, now and advised |
//! | `one_loop` | one loop, move by move |
//! | `tolerance` | the window of tolerances, the band, what a swing leaves |
//! | `rules` | the rules on the whole list and at one target |
//! | `uncertain` | the advice on rigs that fit a log |
//! | `flats` | the flats of the night |
//! | `computed` | how the figures were found, and what they leave out |
//! | `check` | a certificate proved again |

mod answer;
mod check;
mod computed;
mod flats;
mod one_loop;
mod reason;
mod rules;
mod targets;
#[cfg(test)]
mod tests;
mod tolerance;
mod uncertain;
mod words;

pub use check::check_document;
pub(crate) use reason::reason;
pub(crate) use rules::{rule_sentence, why_not};
pub(crate) use tolerance::{band, bound, named_limits, repair, window};
pub(crate) use uncertain::sentences as uncertain_sentences;
pub(crate) use words::{counted, headline, list_faults, proof, standing};

use halfturn_engine::advise::Advice;

use crate::document::{Block, Document, Fold, Line};

/// How and from what a report is made.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Provenance {
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

/// All that an advice has to say.
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
        out.add(open(
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
        counted(advice.before.targets.len(), "target"),
        words::settings(&advice.rig)
    )
}

/// A part that a page shows at once.
fn open(id: &'static str, title: impl Into<String>, blocks: Vec<Block>) -> Block {
    fold(id, title, blocks, true)
}

/// A part that a reader opens.
fn folded(id: &'static str, title: impl Into<String>, blocks: Vec<Block>) -> Block {
    fold(id, title, blocks, false)
}

fn fold(id: &'static str, title: impl Into<String>, blocks: Vec<Block>, open: bool) -> Block {
    Block::Folded(Fold {
        id,
        title: title.into(),
        open,
        blocks,
    })
}
