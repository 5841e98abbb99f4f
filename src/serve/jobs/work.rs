//! The kinds of long work: a sweep or an advice.

use std::sync::Mutex;

use serde_json::json;

use super::outcome::JobOutcome;
use crate::serve::lock;
use crate::serve::wire::rig_json;
use halfturn_engine::advise::{AdviceRequest, advise, runs};
use halfturn_engine::rig::{InputError, Rig};
use halfturn_engine::sample::Monitor;
use halfturn_engine::scenario::Target;
use halfturn_engine::sweep::{SweepRequest, run_cells};
use halfturn_report::Provenance;
use halfturn_report::sweep::lines;
use halfturn_report::{advice_json, advice_page};

/// Work with a checked request.
#[derive(Debug)]
pub(in crate::serve) enum Work {
    /// The rules over a grid.
    Sweep(Box<SweepRequest>),
    /// An advice.
    Advise(Box<Advise>),
}

/// The input of an advice.
#[derive(Debug)]
pub(in crate::serve) struct Advise {
    pub(in crate::serve) rig: Rig,
    pub(in crate::serve) targets: Vec<Target>,
    pub(in crate::serve) request: AdviceRequest,
    /// The provenance for the report.
    pub(in crate::serve) made: Provenance,
}

impl Work {
    pub(super) fn kind(&self) -> &'static str {
        match self {
            Self::Sweep(_) => "sweep",
            Self::Advise(_) => "advise",
        }
    }

    /// Number of runs in total.
    pub(in crate::serve) fn runs(&self) -> u64 {
        match self {
            Self::Sweep(request) => request
                .batch()
                .trials
                .saturating_mul(request.rules().len() as u64)
                .saturating_mul(request.grid().cells()),
            Self::Advise(asked) => runs(asked.targets.len(), &asked.request),
        }
    }

    /// Does the work. False if it was stopped.
    pub(super) fn run(
        &self,
        monitor: &dyn Monitor,
        outcome: &Mutex<JobOutcome>,
    ) -> Result<bool, String> {
        match self {
            Self::Sweep(request) => {
                let cells = 0..request.grid().cells();
                run_cells(request, cells, monitor, |rows| {
                    let text = lines(rows);
                    lock(outcome).lines.extend(text.lines().map(Box::from));
                    Ok::<(), InputError>(())
                })
                .map_err(|e| e.to_string())
            }
            Self::Advise(asked) => {
                let found = advise(&asked.rig, &asked.targets, asked.request, monitor);
                let advice = match found {
                    Ok(advice) => advice,
                    Err(_) if monitor.cancelled() => return Ok(false),
                    Err(error) => return Err(error.to_string()),
                };
                let html = advice_page(&advice, &asked.made).map_err(|e| e.to_string())?;
                let result = json!({
                    "summary": advice_json(&advice),
                    "advised_rig": rig_json(&advice.advised_rig),
                });
                let mut outcome = lock(outcome);
                outcome.result = Some(result.to_string().into());
                outcome.report = Some(html);
                Ok(true)
            }
        }
    }
}
