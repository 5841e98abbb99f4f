//! What only the exact method finds.

use serde::Serialize;

use super::rate::Rate;
use crate::exact::LongRun;

/// What only the exact method finds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct ExactDetails {
    /// Out of solves without a second long swing.
    pub stuck: Rate,
    /// Hunting, not settled, or through a keep-out.
    pub ended_badly: Rate,
    /// Through a keep-out.
    pub keep_out: Rate,
    /// Probability of every number of good solves, from 0.
    pub solves_shares: Vec<f64>,
    /// Probability of every number of long swings, from 0; the last of 65 stands for more as well.
    #[cfg_attr(feature = "schema", schemars(length(max = 65)))]
    pub long_swings_shares: Vec<f64>,
    /// The loop without a limit of solves; `None` where it was not asked for or the first command is refused.
    pub long_run: Option<LongRun>,
}
