//! `halfturn trace`: one loop, move by move.

use super::args::{Common, TargetArg, TraceArgs};
use super::inputs;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use halfturn_engine::run::{MOST_ATTEMPTS, MOST_RUNS, first_hunting_run, traced};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::wording::grouped;
use halfturn_report::{PictureFormat, trace_document, trace_json, trace_picture, write_picture};

pub(super) fn trace(common: &Common, args: &TraceArgs) -> Result<Reply, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let (target, target_deg) = inputs::target(&args.target, args.rig.as_deref(), &args.targets)?;
    // Before any work: a picture that cannot be written is wrong input.
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
    let scenario = Scenario::new(&rig, policy, target_deg);
    let trial = if args.hunting {
        first_hunting_run(&scenario, common.seed(), || false).map_err(|searched| {
            Failure::Argument(format!(
                "none of the first {} runs hunts at this target. The search ends at {} runs or {} solves",
                grouped(searched),
                grouped(MOST_RUNS),
                grouped(MOST_ATTEMPTS)
            ))
        })?
    } else {
        args.trial
    };
    let (figures, trace) = traced(&scenario, common.seed(), trial);
    let rows = trace.rows();
    let named = match args.target {
        TargetArg::Angle(_) => String::new(),
        TargetArg::Name(_) => format!(", {target}"),
    };
    let about = format!(
        "{}{named}, {rule}, run {trial} of seed {}",
        rig.settings().name,
        common.seed()
    );
    let mut reply = Reply::done(trace_document(&about, &scenario, &figures, rows));
    reply.warnings = inputs::warnings(&rig, common);
    if let Some(path) = &args.plot {
        let title = format!("target {target}, {rule}");
        write_picture(path, &trace_picture(&scenario, &figures, rows, &title))?;
    }
    if common.json.is_some() {
        let json = trace_json(
            &rig,
            policy,
            target_deg,
            (common.seed(), trial),
            &figures,
            rows,
        );
        reply.json(common, &json)?;
    }
    Ok(reply)
}
