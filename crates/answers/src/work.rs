//! The kinds of long work: a sweep or an advice.

use serde_json::{Value, json};

use crate::wire::rig_json;
use crate::{Refusal, jobs};
use halfturn_engine::advise::{AdviceRequest, advise, runs};
use halfturn_engine::rig::{InputError, Rig};
use halfturn_engine::sample::Monitor;
use halfturn_engine::scenario::Target;
use halfturn_engine::sweep::{SweepRequest, run_cells};
use halfturn_report::Provenance;
use halfturn_report::sweep::{Head, lines, sweep_rows};
use halfturn_report::{advice_json, advice_page};

/// Who watches over work.
pub trait Watch: Monitor {
    /// Takes more lines of the table of a sweep.
    fn take(&self, lines: &str);
}

/// What work comes to, besides the lines of a sweep.
#[derive(Debug, Default)]
pub struct Found {
    /// The result of an advice.
    pub result: Option<Value>,
    /// Its report.
    pub report: Option<String>,
}

/// Work with a checked request.
#[derive(Debug)]
pub enum Work {
    /// The rules over a grid.
    Sweep(Box<SweepRequest>),
    /// An advice.
    Advise(Box<Advise>),
}

/// The input of an advice.
#[derive(Debug)]
pub struct Advise {
    pub(crate) rig: Rig,
    pub(crate) targets: Vec<Target>,
    pub(crate) request: AdviceRequest,
    /// The provenance for the report.
    pub(crate) made: Provenance,
}

impl Work {
    /// The work that a page asks for.
    ///
    /// # Errors
    /// [`Refusal`].
    pub fn read(body: &[u8]) -> Result<Self, Refusal> {
        jobs::work(body)
    }

    /// Its name.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Sweep(_) => "sweep",
            Self::Advise(_) => "advise",
        }
    }

    /// Number of runs in total.
    #[must_use]
    pub fn runs(&self) -> u64 {
        match self {
            Self::Sweep(request) => request
                .batch()
                .trials
                .saturating_mul(request.rules().len() as u64)
                .saturating_mul(request.grid().cells()),
            Self::Advise(asked) => runs(asked.targets.len(), &asked.request),
        }
    }

    /// Does it; `None` if it was stopped.
    ///
    /// # Errors
    /// Why it cannot be done.
    pub fn run(&self, watch: &dyn Watch) -> Result<Option<Found>, String> {
        match self {
            Self::Sweep(request) => {
                let cells = 0..request.grid().cells();
                run_cells(request, cells, watch, |rows| {
                    watch.take(&lines(rows));
                    Ok::<(), InputError>(())
                })
                .map(|done| done.then(Found::default))
                .map_err(|e| e.to_string())
            }
            Self::Advise(asked) => {
                let found = advise(&asked.rig, &asked.targets, asked.request, watch);
                let advice = match found {
                    Ok(advice) => advice,
                    Err(_) if watch.cancelled() => return Ok(None),
                    Err(error) => return Err(error.to_string()),
                };
                let html = advice_page(&advice, &asked.made);
                let result = json!({
                    "summary": advice_json(&advice),
                    "advised_rig": rig_json(&advice.advised_rig),
                });
                Ok(Some(Found {
                    result: Some(result),
                    report: Some(html),
                }))
            }
        }
    }

    /// Lines of its table as the page takes them.
    #[must_use]
    pub fn rows(&self, lines: &[impl AsRef<str>]) -> Value {
        match self {
            Self::Sweep(request) if !lines.is_empty() => {
                json!(sweep_rows(&Head::of(request, None), lines))
            }
            _ => json!([]),
        }
    }
}
