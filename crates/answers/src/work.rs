//! The kinds of long work: a sweep, an advice or a night.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::night::NightWork;
use crate::wire::rig_json;
use crate::{Answer, PageStart, Refusal, asked, jobs, start};
use halfturn_engine::advise::{AdviceRequest, advise, runs};
use halfturn_engine::rig::{InputError, Rig};
use halfturn_engine::sample::Monitor;
use halfturn_engine::scenario::Target;
use halfturn_engine::sweep::{SweepRequest, run_cells};
use halfturn_report::Provenance;
use halfturn_report::page::{begun_with, with_engine};
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
    /// The result of an advice or a night.
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
    /// A night.
    Night(Box<NightWork>),
}

/// The input of an advice.
#[derive(Debug)]
pub struct Advise {
    pub(crate) rig: Rig,
    pub(crate) targets: Vec<Target>,
    pub(crate) request: AdviceRequest,
    /// The provenance for the report.
    pub(crate) made: Provenance,
    /// The text of the rig file, for its comments.
    pub(crate) rig_text: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Reported {
    /// What was asked for.
    asked: Value,
    /// The report that came of it.
    report: String,
    /// The page with its engine, as one file.
    one_file: String,
}

/// A report with the page and its engine in it.
///
/// # Errors
/// [`Refusal`].
pub fn report_with_engine(body: &[u8]) -> Answer {
    let Reported {
        asked,
        report,
        one_file,
    } = asked(body)?;
    let work = Work::read(asked.to_string().as_bytes())?;
    Ok(work.with_engine(&report, &one_file).into())
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
            Self::Night(_) => "night",
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
            Self::Night(night) => night.runs(),
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
            Self::Night(night) => night.run(watch),
        }
    }

    /// Its report with the page in it, which begins with the rig and list of an advice.
    #[must_use]
    pub fn with_engine(&self, report: &str, one_file: &str) -> String {
        let Self::Advise(asked) = self else {
            return report.to_owned();
        };
        let begins = start(&PageStart {
            rig_text: asked.rig_text.clone(),
            rig_file: Some(asked.made.rig_file.clone()),
            targets_file: Some(asked.made.targets_file.clone()),
            rig: asked.rig.clone(),
            targets: asked.targets.clone(),
            seed: asked.request.batch.seed,
        });
        with_engine(report, &begun_with(one_file, &begins))
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
