//! `halfturn trace`: one loop, move by move.

use super::args::{Common, TraceArgs};
use super::inputs;
use super::reply::{Failure, Reply};
use crate::report::{PictureFormat, trace_json, trace_picture, trace_table, write_picture};
use crate::run::{Trace, Unobserved, run};
use crate::sample::stream;
use crate::scenario::{Policy, Scenario};
use crate::wording::{degrees, grouped};

/// Runs that are searched for one that ping-pongs: a few seconds at most.
const SEARCHED: u64 = 1_000_000;

pub(super) fn trace(common: &Common, args: &TraceArgs) -> Result<Reply, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    // Before any work: a picture that nobody can write is wrong input.
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let rule = args.rule.unwrap_or(rig.settings().wrap.rule);
    let policy = Policy::with_rule(&rig, rule);
    let scenario = Scenario::new(&rig, policy, args.target);
    let trial = if args.hunting {
        first_hunting(&scenario, common.seed).ok_or_else(|| {
            Failure::Argument(format!(
                "none of {} runs ping-pongs at this target",
                grouped(SEARCHED)
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

/// Number of the first run that ping-pongs.
fn first_hunting(scenario: &Scenario, seed: u64) -> Option<u64> {
    (0..SEARCHED).find(|trial| {
        run(
            scenario,
            &mut scenario.controller(),
            &mut stream(seed, *trial),
            &mut Unobserved,
        )
        .ping_pong()
    })
}
