use super::guard::Origins;
use super::jobs::Jobs;
use super::live::Live;
use halfturn_engine::rig::Rig;
use halfturn_engine::scenario::Target;

pub(crate) const MOST_TARGETS: usize = 1000;

/// Largest seed of a page. A browser rounds larger whole numbers.
pub(crate) const MOST_SEED: u64 = (1 << 53) - 1;

/// The first data of the page.
#[derive(Debug, Clone)]
pub(crate) struct PageStart {
    /// The text of the rig file. A saved file keeps its comments.
    pub rig_text: String,
    /// The names of the rig file and the targets file; `None` for a built-in one.
    pub(crate) rig_file: Option<String>,
    pub(crate) targets_file: Option<String>,
    /// The rig of that text and of the overrides.
    pub rig: Rig,
    /// The targets, at most [`MOST_TARGETS`].
    pub targets: Vec<Target>,
    /// The seed, at most [`MOST_SEED`].
    pub seed: u64,
}

/// What all requests share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) start: PageStart,
    pub(super) origins: Origins,
    pub(super) live: Live,
    pub(super) jobs: Jobs,
}
