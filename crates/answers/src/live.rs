//! The answer to a moved handle: the dial, the rules side by side, and one loop.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::files::shown_angles;
use crate::view::view;
use crate::wire::{WireTarget, check_target_deg, read_rig};
use crate::{Answer, Refusal, asked};
use halfturn_engine::exact::Precision;
use halfturn_engine::method::{Detail, EvaluationRequest, Method, evaluate_rules};
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::run::{first_hunting_run, traced};
use halfturn_engine::sample::{Batch, Monitor};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::{Limits, Verdict, precision_for};
use halfturn_report::{solved_json, trace_json};

/// Most runs of each rule, if the rules cannot be solved.
const MOST_LIVE_TRIALS: u64 = 100_000;

/// While a handle moves, a loop that takes more than some milliseconds to solve is run this often instead.
const MOVING_WORK: u64 = 400_000;
const MOVING_TRIALS: u64 = 1000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Look {
    rig: Value,
    target_deg: f64,
    #[serde(default)]
    targets: Vec<WireTarget>,
    seed: u64,
    /// Runs of each rule that cannot be solved.
    trials: u64,
    /// Number of the run to trace, under the rig's own rule.
    trial: u64,
    /// Whether a handle moves. The answer may then be rough, but must be quick.
    #[serde(default)]
    moving: bool,
}

/// `POST /api/live`: the answer to a moved handle.
pub(crate) fn live(body: &[u8], monitor: &dyn Monitor) -> Answer {
    let look: Look = asked(body)?;
    let rig = read_rig(&look.rig)?;
    let target_deg = check_target_deg(look.target_deg)?;
    if !(1..=MOST_LIVE_TRIALS).contains(&look.trials) {
        return Err(Refusal::too_much(format!(
            "trials: must be from 1 to {MOST_LIVE_TRIALS}"
        )));
    }
    shown_angles(&look.targets)?;
    let (trials, most_work) = if look.moving {
        (look.trials.min(MOVING_TRIALS), MOVING_WORK)
    } else {
        (look.trials, u64::MAX)
    };
    let batch = Batch {
        trials,
        seed: look.seed,
    };
    // As the judge does it: the verdict on the rig's own rule is then that of the list.
    let limits = Limits::default();
    let fine = precision_for(&limits);
    let precision = Precision {
        most_work: fine.most_work.min(most_work),
        ..fine
    };
    let request = EvaluationRequest {
        batch,
        method: Method::Auto(precision),
        detail: Detail::Figures,
    };
    let found = evaluate_rules(&rig, Rule::ALL, target_deg, &request, monitor)
        .map_err(|(rule, why)| Refusal::broken(format!("{rule}: {why}")))?;
    let complete = found.len() == Rule::ALL.len();
    let compared = solved_json(&rig, batch, target_deg, &found, complete);
    let rough = look.moving && found.iter().any(|s| s.trials > 0);
    let own = found.iter().find(|s| s.rule == Policy::of(&rig).rule);
    let warnings: Vec<Value> = rig
        .warnings()
        .iter()
        .map(|w| json!({ "key": w.key, "text": w.text }))
        .collect();
    Ok(json!({
        "digest": rig.digest(),
        "warnings": warnings,
        "view": view(&rig, target_deg, &look.targets),
        "compared": compared,
        "rough": rough,
        "verdict": own.map(|s| Verdict::of(s, &limits)),
        "trace": one_loop(&rig, target_deg, look.seed, look.trial),
    }))
}

/// One loop under the rig's own rule.
fn one_loop(rig: &Rig, target_deg: f64, seed: u64, trial: u64) -> Value {
    let policy = Policy::of(rig);
    let scenario = Scenario::new(rig, policy, target_deg);
    let (figures, trace) = traced(&scenario, seed, trial);
    trace_json(
        rig,
        policy,
        target_deg,
        (seed, trial),
        &figures,
        trace.rows(),
    )
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Hunt {
    rig: Value,
    target_deg: f64,
    seed: u64,
}

/// `POST /api/hunting`: the number of the first run that hunts, if the search finds one.
pub(crate) fn hunting(body: &[u8], monitor: &dyn Monitor) -> Answer {
    let hunt: Hunt = asked(body)?;
    let rig = read_rig(&hunt.rig)?;
    let target_deg = check_target_deg(hunt.target_deg)?;
    let scenario = Scenario::new(&rig, Policy::of(&rig), target_deg);
    let found = first_hunting_run(&scenario, hunt.seed, || monitor.cancelled());
    Ok(match found {
        Ok(trial) => json!({ "trial": trial }),
        Err(searched) => json!({ "trial": null, "searched": searched }),
    })
}
