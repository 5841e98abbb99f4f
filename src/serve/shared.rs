use super::guard::Origins;
use super::jobs::Jobs;
use super::live::Live;
use halfturn_answers::PageStart;

/// What all requests share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) start: PageStart,
    pub(super) origins: Origins,
    pub(super) live: Live,
    pub(super) jobs: Jobs,
}
