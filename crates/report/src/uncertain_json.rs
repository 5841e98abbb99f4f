//! An advice tried on drawn rigs, as JSON. Its schema describes every key.

use serde::Serialize;

use super::advice::uncertain_sentences;
use super::fit::FitResult;
use halfturn_engine::advise::{Driver, FoundBy, TargetShare, Uncertain};
use halfturn_engine::rig::KeyDifference;
use halfturn_engine::summary::Rate;

/// An advice tried on rigs drawn from whatever a log leaves open.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct UncertainAdvice<'a> {
    /// Name of the log.
    log: &'a str,
    /// Number of drawn rigs.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    draws: u32,
    /// Share of the rigs for which every target should be safe.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    hold: f64,
    /// Whether the advice holds for this share of the rigs.
    holds: bool,
    /// How targets were judged.
    found_by: FoundBy,
    /// Share of the rigs for which every target is safe.
    all_safe: Rate,
    /// Every target, in the order of the list.
    targets: &'a [TargetShare],
    /// The target that is safe for the fewest rigs.
    worst: &'a str,
    /// Errors that differ when the advice fails, the most telling first.
    drivers: &'a [Driver],
    /// Settings that hold for more rigs; `None` if the advised ones hold for enough.
    firmer: Option<FirmerSettings<'a>>,
    /// Parameters that the log does not tell.
    not_told: Vec<&'static str>,
    /// The same in words.
    sentences: [String; 4],
    /// The estimates.
    fit: FitResult<'a>,
}

/// Settings that hold for more rigs.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FirmerSettings<'a> {
    /// Every key that changes.
    changes: &'a [KeyDifference],
    /// Share of as many new rigs for which every target is safe.
    all_safe: Rate,
    /// Whether they hold for the wanted share of the rigs.
    enough: bool,
}

impl<'a> UncertainAdvice<'a> {
    pub(crate) fn of(u: &'a Uncertain) -> Self {
        Self {
            log: &u.log,
            draws: u.robustness.draws,
            hold: u.robustness.hold,
            holds: u.holds(),
            found_by: u.found_by,
            all_safe: u.all_safe,
            targets: &u.targets,
            worst: &u.worst().name,
            drivers: &u.drivers,
            firmer: u.robust.as_ref().map(|f| FirmerSettings {
                changes: &f.changes,
                all_safe: f.holds,
                enough: f.enough,
            }),
            not_told: u.unconstrained().filter_map(|d| d.parameter).collect(),
            sentences: uncertain_sentences(u),
            fit: FitResult::of(&u.fit),
        }
    }
}
