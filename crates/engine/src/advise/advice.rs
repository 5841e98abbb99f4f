//! All that an advice says.

use super::band::BandAdvice;
use super::bound::SwingBound;
use super::flats::Flats;
use super::proof::Proof;
use super::repair::Repair;
use super::request::AdviceRequest;
use super::rules::{RuleReport, SeamScan};
use super::setting::{Setting, TargetReport};
use super::uncertain::Uncertain;
use super::window::Window;
use crate::rig::{KeyDifference, Rig};
use crate::run::{Figures, Trace};
use crate::scenario::Scenario;

/// All that `advise` finds.
#[derive(Debug, Clone)]
pub struct Advice {
    /// The rig as given.
    pub rig: Rig,
    /// The rig that is advised; the rig as given where nothing better was found.
    pub advised_rig: Rig,
    /// How it was computed.
    pub request: AdviceRequest,
    /// The targets under the rig as given.
    pub before: Setting,
    /// The targets under the advised rig.
    pub after: Setting,
    /// What the search came to.
    pub outcome: AdviceOutcome,
    /// The keys that change.
    pub changes: Vec<KeyDifference>,
    /// The advised rig run under fresh random numbers.
    pub proof: Proof,
    /// Every rule with the best settings for it.
    pub on_list: Vec<RuleOnList>,
    /// How large a residual a swing can leave, with the advised rig.
    pub bound: SwingBound,
    /// The tolerances that serve the advised rig.
    pub window: Window,
    /// Ways out where no settings serve the list.
    pub repair: Option<Repair>,
    /// The band that the hysteresis rule needs around the advised arc.
    pub band: BandAdvice,
    /// The flats of the night.
    pub flats: Flats,
    /// Place in the list of the target that [`Self::shown`] gives.
    pub(super) shown: usize,
    /// That target's loop under the rig as given: the first run that hunts, if one does.
    pub example_before: TraceExample,
    /// The same run under the advised rig.
    pub example_after: TraceExample,
    /// Every rule at that target, with the present arc.
    pub rules: Vec<RuleReport>,
    /// Every rule around the seam, with the present arc.
    pub seam_scan: Vec<SeamScan>,
    /// How the advice fares on rigs that fit a log as well as the rig does, where that was asked for.
    pub uncertain: Option<Box<Uncertain>>,
}

impl Advice {
    /// The target that the examples show: the worst under the rig as given.
    #[must_use]
    pub fn shown(&self) -> &TargetReport {
        &self.before.targets[self.shown]
    }

    /// The advised rig meets every limit, and its runs bear that out.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.after.holds() && self.proof.bears_out()
    }
}

/// What the search came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum AdviceOutcome {
    /// Every limit is met already.
    NotNeeded,
    /// The changes meet every limit.
    Solves,
    /// The changes make it better, but some limit is not met.
    Improves,
    /// No better settings were found.
    NoImprovement,
}

/// A rule with the best settings for it.
#[derive(Debug, Clone)]
pub struct RuleOnList {
    /// The list under it.
    pub setting: Setting,
    /// The keys that change.
    pub changes: Vec<KeyDifference>,
    /// The rule is the advised one.
    pub advised: bool,
}

/// One loop written down, as an example.
#[derive(Debug, Clone)]
pub struct TraceExample {
    /// What was run.
    pub scenario: Scenario,
    /// Number of the run under the seed.
    pub trial: u64,
    /// Its moves and solves.
    pub trace: Trace,
    /// Its figures.
    pub figures: Figures,
}
