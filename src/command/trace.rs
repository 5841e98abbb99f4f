//! `halfturn trace`: one loop, move by move.

use super::args::{Common, TraceArgs};
use super::inputs;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use crate::report::{PictureFormat, trace_json, trace_picture, trace_table, write_picture};
use crate::run::{Trace, Unobserved, run};
use crate::sample::stream;
use crate::scenario::{Policy, Scenario};
use crate::wording::{degrees, grouped};

/// Most runs that are searched for one that ping-pongs.
const MOST_RUNS: u64 = 1_000_000;

/// Most attempts to solve, in all these runs: they are what takes the time, a few seconds at most.
const MOST_ATTEMPTS: u64 = 20_000_000;

pub(super) fn trace(common: &Common, args: &TraceArgs) -> Result<Reply, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    // Before any work: a picture that nobody can write is wrong input.
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref()])?;
    let rule = args.rule.unwrap_or(rig.settings().wrap.rule);
    let policy = Policy::with_rule(&rig, rule);
    let scenario = Scenario::new(&rig, policy, args.target);
    let trial = if args.hunting {
        first_hunting(&scenario, common.seed).map_err(|searched| {
            Failure::Argument(format!(
                "none of the first {} runs ping-pongs at this target; the search ends at {} runs or {} solves",
                grouped(searched),
                grouped(MOST_RUNS),
                grouped(MOST_ATTEMPTS)
            ))
        })?
    } else {
        args.trial
    };
    let mut trace = Trace::default();
    let figures = run(
        &scenario,
        &mut scenario.controller(),
        &mut stream(common.seed, trial),
        &mut trace,
    );
    let rows = trace.rows();
    let mut reply = Reply::done(format!(
        "{}, {rule}, run {trial} of seed {}\n{}",
        rig.settings().name,
        common.seed,
        trace_table(&scenario, &figures, rows)
    ));
    reply.warnings = inputs::warnings(&rig, common);
    if let Some(path) = &args.plot {
        let title = format!("target {} deg, {rule}", degrees(args.target));
        write_picture(path, &trace_picture(&scenario, &figures, rows, &title)?)?;
    }
    if common.json.is_some() {
        let json = trace_json(
            &rig,
            policy,
            args.target,
            (common.seed, trial),
            &figures,
            rows,
        );
        reply.json(common, &json)?;
    }
    Ok(reply)
}

/// Number of the first run that ping-pongs, or how many runs were searched in vain.
fn first_hunting(scenario: &Scenario, seed: u64) -> Result<u64, u64> {
    let mut attempts = 0;
    for trial in 0..MOST_RUNS {
        if attempts >= MOST_ATTEMPTS {
            return Err(trial);
        }
        let figures = run(
            scenario,
            &mut scenario.controller(),
            &mut stream(seed, trial),
            &mut Unobserved,
        );
        if figures.ping_pong() {
            return Ok(trial);
        }
        attempts += u64::from(figures.solves) + u64::from(figures.failed_attempts);
    }
    Err(MOST_RUNS)
}
