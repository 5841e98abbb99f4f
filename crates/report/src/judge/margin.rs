//! How far a controller is from hunting, for a reader and as JSON.

use serde::Serialize;

use super::table::run_document;
use crate::document::{Block, Document};
use halfturn_engine::judge::{Case, EndMargin};
use halfturn_engine::run::TraceRow;
use halfturn_engine::wording::{angle, grouped};

/// The margin at both ends of the arc, or why there is none.
pub type Margin = Result<[EndMargin; 2], String>;

/// The names of both ends of the arc.
pub const END_NAMES: [&str; 2] = ["lower", "upper"];

/// The name of an end of the arc.
#[must_use]
pub fn end_name(end: &EndMargin) -> &'static str {
    END_NAMES[usize::from(end.upper)]
}

/// What is known of one end, in a sentence.
#[must_use]
pub fn margin_sentence(end: &EndMargin) -> String {
    let name = end_name(end);
    // Neither bound may say more than was found.
    let digits = |deg: f64| match deg {
        _ if deg < 1.0 => 1000.0,
        _ if deg < 10.0 => 100.0,
        _ => 10.0,
    };
    let rounded = |deg: f64, to: fn(f64) -> f64| to(deg * digits(deg)) / digits(deg);
    let safe = format!("{}°", rounded(end.safe_deg, f64::floor));
    let known = match end.hunts_deg {
        Some(hunts_deg) => format!("with {}° it can", rounded(hunts_deg, f64::ceil)),
        None => "none was found that makes it hunt".to_owned(),
    };
    let stopped = if end.complete { "" } else { ", stopped early" };
    format!(
        "{name} end: cannot be made to hunt for ever with {safe} of swing error; {known} (grid {}, {} runs{stopped})",
        angle(end.grid_deg),
        grouped(end.questions as u64),
    )
}

/// Both ends, each with the cycle that keeps the controller hunting.
pub(super) fn margin_document(margin: &Margin) -> Document {
    let mut out = Document::new();
    out.add(Block::Heading("", "How far from hunting".to_owned()));
    match margin {
        Err(why) => out.para(format!("No margin: {why}")),
        Ok(ends) => {
            for end in ends {
                out.para(margin_sentence(end));
                if let Some((case, played)) = &end.cycle {
                    out.0.extend(run_document(case, played).0);
                }
            }
        }
    }
    out
}

/// How far a controller is from hunting.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(super) struct MarginResult<'a> {
    /// Why there is no margin; `None` if there is one.
    refused: Option<&'a str>,
    /// The lower end of the arc and the upper one; empty without a margin.
    ends: Vec<EndResult<'a>>,
}

/// What is known of one end of the arc.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct EndResult<'a> {
    /// `lower` or `upper`.
    end: &'static str,
    /// With this swing error the controller cannot be made to hunt for ever \[deg\].
    safe_deg: f64,
    /// The smallest swing error found that makes it \[deg\]; `None` if none was found.
    hunts_deg: Option<f64>,
    /// One cell of the grid \[deg\].
    grid_deg: f64,
    /// Runs that were played.
    runs: usize,
    /// `false` if the search was stopped.
    complete: bool,
    /// The scenario with the cycle.
    case: Option<&'a Case>,
    /// Moves and solves of two rounds of the cycle.
    rows: &'a [TraceRow],
}

impl<'a> MarginResult<'a> {
    pub(super) fn of(margin: &'a Margin) -> Self {
        let ends = margin.as_ref().map_or(&[][..], |ends| &ends[..]);
        Self {
            refused: margin.as_ref().err().map(String::as_str),
            ends: ends.iter().map(EndResult::of).collect(),
        }
    }
}

impl<'a> EndResult<'a> {
    fn of(end: &'a EndMargin) -> Self {
        let cycle = end.cycle.as_ref();
        Self {
            end: end_name(end),
            safe_deg: end.safe_deg,
            hunts_deg: end.hunts_deg,
            grid_deg: end.grid_deg,
            runs: end.questions,
            complete: end.complete,
            case: cycle.map(|c| &c.0),
            rows: cycle.map_or(&[], |c| c.1.trace.rows()),
        }
    }
}
