//! Where a run stands.

use super::transition::{Added, crosses};

/// Where a run stands after a command.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DrivePlace {
    /// \[deg\]
    pub(super) reading_deg: f64,
    /// Output side of the backlash \[deg\].
    pub(super) output_deg: f64,
    /// A real move has brought the run here, so that it has a repeatability error.
    pub(super) seated: bool,
}

/// Where every run stands after the first command, which knows nothing of the zero point.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChainStart {
    pub(super) place: DrivePlace,
    /// What the first command adds.
    pub(super) added: Added,
    /// The first command winds the cable too far.
    pub(super) overwinds: bool,
}

impl ChainStart {
    /// The first command turns through a keep-out.
    pub(super) fn crosses(&self) -> bool {
        crosses(self.added.keep_out_deg)
    }
}
