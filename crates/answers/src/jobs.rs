//! Long work, as the page asks for it.

use serde::Deserialize;
use serde_json::Value;

use crate::files::check_shown;
use crate::night::NightAsked;
use crate::wire::{WireTarget, check_targets, read_rig};
use crate::work::{Advise, Work};
use crate::{Refusal, asked};
use halfturn_engine::advise::{AdviceRequest, AllowedChanges, Criteria, runs};
use halfturn_engine::exact::Precision;
use halfturn_engine::method::Method;
use halfturn_engine::rig::Rule;
use halfturn_engine::sample::Batch;
use halfturn_engine::scenario::with_flips;
use halfturn_engine::sweep::{Axis, Grid, SweepRequest};
use halfturn_engine::verdict::Limits;
use halfturn_report::Provenance;

/// Most rows of a map: one for each rule in each cell.
const MOST_ROWS: u64 = 10_000;

/// Most runs of a job in total.
const MOST_JOB_RUNS: u64 = 4_000_000_000;

#[derive(Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
enum JobRequest {
    Sweep {
        rig: Value,
        /// As for `--vary`.
        vary: Vec<String>,
        target_deg: Option<f64>,
        rules: Vec<String>,
        method: String,
        trials: u64,
        seed: u64,
    },
    Advise {
        rig: Value,
        targets: Vec<WireTarget>,
        trials: u64,
        seed: u64,
        #[serde(default)]
        flips: bool,
        /// The text of the rig file, whose comments a report with its engine keeps.
        #[serde(default)]
        rig_text: String,
    },
    Night(NightAsked),
}

/// `POST /api/jobs`: work that was checked.
pub(crate) fn work(body: &[u8]) -> Result<Work, Refusal> {
    match asked(body)? {
        JobRequest::Sweep {
            rig,
            vary,
            target_deg,
            rules,
            method,
            trials,
            seed,
        } => {
            let rig = read_rig(&rig)?;
            let rules = rules
                .iter()
                .map(|name| name.parse().ok())
                .collect::<Option<Vec<Rule>>>()
                .filter(|rules| !rules.is_empty() && each_once(rules))
                .ok_or_else(|| {
                    Refusal::too_much("rules: give one to four wrap rules, each once")
                })?;
            let method = match method.as_str() {
                "auto" => Method::Auto(Precision::MAP),
                "exact" => Method::Exact(Precision::MAP),
                "monte-carlo" => Method::MonteCarlo,
                _ => {
                    return Err(Refusal::too_much(
                        "method: must be auto, exact or monte-carlo",
                    ));
                }
            };
            let axes = vary.iter().take(3).map(|given| Axis::read(given, &rig));
            let grid = Grid::new(axes.collect::<Result<_, _>>()?)?;
            let rows = grid.cells().saturating_mul(rules.len() as u64);
            if rows > MOST_ROWS {
                return Err(Refusal::too_much(format!(
                    "the map would have {rows} cells, counting every rule, but the page draws at most {MOST_ROWS}. Give fewer values or rules"
                )));
            }
            let batch = batch(trials, seed)?;
            check_runs(trials.saturating_mul(rows))?;
            let request = SweepRequest::new(rig, grid, rules, batch, method, target_deg)?;
            Ok(Work::Sweep(Box::new(request)))
        }
        JobRequest::Advise {
            rig,
            targets,
            trials,
            seed,
            flips,
            rig_text,
        } => {
            let rig = read_rig(&rig)?;
            check_shown(targets.len())?;
            let mut targets = check_targets(&targets)?;
            if flips {
                targets = with_flips(targets);
            }
            let request = AdviceRequest {
                batch: batch(trials, seed)?,
                limits: Limits::default(),
                criteria: Criteria::default(),
                change: AllowedChanges::default(),
            };
            check_runs(runs(targets.len(), &request))?;
            Ok(Work::Advise(Box::new(Advise {
                made: made(trials, seed, flips),
                rig_text,
                rig,
                targets,
                request,
            })))
        }
        JobRequest::Night(asked) => {
            let night = asked.work()?;
            check_runs(night.runs())?;
            Ok(Work::Night(Box::new(night)))
        }
    }
}

/// Checks that a job may have this number of runs.
fn check_runs(runs: u64) -> Result<(), Refusal> {
    if runs <= MOST_JOB_RUNS {
        return Ok(());
    }
    Err(Refusal::too_much(format!(
        "{runs} runs are too many for the page (at most {MOST_JOB_RUNS}). Lower the runs, or use the command line"
    )))
}

fn each_once(rules: &[Rule]) -> bool {
    (1..rules.len()).all(|i| !rules[..i].contains(&rules[i]))
}

pub(crate) fn batch(trials: u64, seed: u64) -> Result<Batch, Refusal> {
    if trials == 0 {
        return Err(Refusal::too_much("trials: must be at least 1"));
    }
    Ok(Batch { trials, seed })
}

/// The provenance of the same advice from the command line, with the files that the page saves.
fn made(trials: u64, seed: u64, flips: bool) -> Provenance {
    let flips = if flips { " --flips" } else { "" };
    Provenance {
        command: format!(
            "halfturn advise rig.toml targets.csv --trials {trials} --seed {seed}{flips}"
        ),
        trace_command: format!("halfturn trace rig.toml --seed {seed}"),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        rig_file: "rig.toml".to_owned(),
        targets_file: "targets.csv".to_owned(),
        one_file: None,
    }
}
