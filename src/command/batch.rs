//! `halfturn batch`: the rules side by side at one target.

use super::args::{BatchArgs, Common, Method};
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use halfturn_engine::advise::{compare_rules, scan_runs, scan_seam};
use halfturn_engine::method::{Detail, EvaluationRequest, evaluate_rules};
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::sample::{Batch, Monitor as _, Until};
use halfturn_engine::summary::Rate;
use halfturn_engine::verdict::{Judge, Limits};
use halfturn_engine::wording::grouped;
use halfturn_report::{
    Line, Span, batch_document, batch_json, batch_pictures, picture_files, solved_document,
    solved_json, write_files,
};

/// Default runs of every rule.
const TRIALS: u64 = 100_000;

/// Most runs of every rule, if the user wants a precision.
const MOST_UNTIL: u64 = 100_000_000;

/// Most runs for a point of the scan around the seam, which is only for the picture.
const SCAN_TRIALS: u64 = 20_000;

const PICTURE_FILES: [&str; 2] = ["settle-time.svg", "seam-distance.svg"];

pub(super) fn batch(common: &Common, args: &BatchArgs, watch: &Watch) -> Result<Reply, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let target = inputs::target(&args.target, args.rig.as_deref(), &args.targets)?;
    let rules = inputs::rules(&args.rules);
    let most = if args.until.is_some() {
        MOST_UNTIL
    } else {
        TRIALS
    };
    let batch = Batch {
        trials: args.trials.unwrap_or(most),
        seed: common.seed(),
    };
    if args.method != Method::MonteCarlo {
        return solved(common, args, watch, (&rig, &target), &rules, batch);
    }
    let (target, target_deg) = target;
    let scan_plan = Batch {
        trials: batch.trials.min(SCAN_TRIALS),
        ..batch
    };
    let scanned = args.out.as_ref().map_or(0, |_| scan_runs(scan_plan.trials));
    let outputs = Outputs {
        folder: args
            .out
            .as_deref()
            .map(|dir| ("--out", dir, &PICTURE_FILES[..])),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref()])?;
    watch.expect((batch.trials + scanned).saturating_mul(rules.len() as u64));
    let until = args.until.map(|half_width| Until { half_width });
    let judge = Judge {
        limits: Limits::default(),
        batch,
        monitor: watch,
    };
    let compared = compare_rules(&rig, &rules, target_deg, &judge, until);
    let reports = &compared.rules;
    if let Some(dir) = &args.out {
        let scans = scan_seam(&rig, &rules, scan_plan, watch);
        // A picture of partial data would look like one of whole data.
        if !watch.cancelled() {
            let about = format!("{}, target {target}", rig.settings().name);
            write_files(dir, picture_files(batch_pictures(reports, &scans, &about)))?;
        }
    }
    watch.finish();

    let about = format!(
        "{}, target {target}, {} runs each, seed {}",
        rig.settings().name,
        grouped(reports.first().map_or(0, |r| r.tally.trials)),
        batch.seed
    );
    let replays = reports.iter().filter_map(|report| {
        let trial = report.summary.first_hunting_trial?;
        let (rule, seed) = (report.summary.rule, batch.seed);
        Some(Line::new("See it: ").with(Span::Code(format!(
            "halfturn trace … --target {target_deg} --rule {rule} --seed {seed} --trial {trial}"
        ))))
    });
    let mut reply = Reply::done(batch_document(&about, &compared, replays.collect()));
    reply.warnings = inputs::warnings(&rig, common);
    if let (Some(until), Some(known)) = (until, &compared.until) {
        let wide = |i: &&Rate| 0.5 * (i.high - i.low) > until.half_width;
        let missed = known.iter().filter(wide).count();
        if missed > 0 && !common.quiet {
            reply.warnings.push(format!(
                "--half-width {}: {} runs were too few for {missed} of {} rules. Raise --trials",
                until.half_width,
                grouped(batch.trials),
                rules.len()
            ));
        }
    }
    if watch.cancelled() {
        reply.exit = Exit::Interrupted;
        if args.out.is_some() {
            reply.warnings.push("stopped: no pictures".to_owned());
        }
        for report in reports {
            reply.warnings.push(format!(
                "stopped: {} has {} of {} runs",
                report.summary.rule, report.tally.trials, batch.trials
            ));
        }
    }
    if common.json.is_some() {
        let complete = !watch.cancelled();
        reply.json(
            common,
            &batch_json(&rig, batch, target_deg, &compared, complete),
        )?;
    }
    Ok(reply)
}

/// The rules side by side, solved where possible and run elsewhere.
fn solved(
    common: &Common,
    args: &BatchArgs,
    watch: &Watch,
    (rig, (target, target_deg)): (&Rig, &(String, f64)),
    rules: &[Rule],
    batch: Batch,
) -> Result<Reply, Failure> {
    for (given, name) in [
        (args.out.is_some(), "--out"),
        (args.until.is_some(), "--half-width"),
    ] {
        if given {
            return Err(Failure::Argument(format!(
                "{name}: needs --method monte-carlo"
            )));
        }
    }
    Outputs::default().check(common, &[args.rig.as_deref()])?;
    watch.expect(batch.trials.saturating_mul(rules.len() as u64));
    let request = EvaluationRequest {
        batch,
        method: args.method.with(args.precision),
        detail: Detail::LongRun,
    };
    let found = evaluate_rules(rig, rules, *target_deg, &request, watch).map_err(
        |(rule, unsupported)| {
            Failure::Argument(format!(
                "--method exact: can't solve {unsupported} (under {rule}). Use --method auto"
            ))
        },
    )?;
    watch.finish();
    let complete = found.len() == rules.len();
    let about = format!("{}, target {target}", rig.settings().name);
    let mut reply = Reply::done(solved_document(&about, &found, batch));
    reply.warnings = inputs::warnings(rig, common);
    if !complete {
        reply.exit = Exit::Interrupted;
        reply
            .warnings
            .push("stopped: some rules are missing".to_owned());
    }
    if common.json.is_some() {
        reply.json(
            common,
            &solved_json(rig, batch, *target_deg, &found, complete),
        )?;
    }
    Ok(reply)
}
