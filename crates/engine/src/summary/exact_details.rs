use serde::Serialize;

use super::rate::Rate;
use crate::exact::LongRun;

/// What only the exact method finds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares))]
pub struct ExactDetails {
    /// Runs that use up their good solves with at most one long swing.
    pub stuck: Rate,
    /// Runs that hunt, do not settle, turn through a keep-out, or wind the cable too far.
    pub ended_badly: Rate,
    /// Runs that turn through a keep-out.
    pub keep_out: Rate,
    /// Probability of every number of good solves, from 0.
    pub solves_shares: Vec<f64>,
    /// Probability of every number of long swings, from 0. The last of 65 stands for all higher ones too.
    #[cfg_attr(feature = "schema", schemars(length(max = 65)))]
    pub long_swings_shares: Vec<f64>,
    /// The loop without a limit of solves; `None` if nobody asked for it or the first command is refused.
    pub long_run: Option<LongRun>,
}
