//! `halfturn batch`: the rules side by side at one target.

use super::args::{BatchArgs, Common, Method};
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::reply::{Failure, Reply};
use crate::advise::{compare_rules, scan_runs, scan_seam};
use crate::report::{batch_json, batch_pictures, batch_table, picture_files, write_files};
use crate::sample::{Batch, Monitor as _};
use crate::wording::{degrees, grouped};

/// Most runs for a point of the scan around the seam, which is only drawn.
const SCAN_TRIALS: u64 = 20_000;

pub(super) fn batch(common: &Common, args: &BatchArgs, watch: &Watch) -> Result<Reply, Failure> {
    let Method::MonteCarlo = args.method;
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let rules = inputs::rules(&args.rules);
    let plan = Batch {
        trials: args.trials,
        seed: common.seed,
    };
    let scan_plan = Batch {
        trials: plan.trials.min(SCAN_TRIALS),
        ..plan
    };
    let scanned = args.out.as_ref().map_or(0, |_| scan_runs(scan_plan.trials));
    watch.expect((plan.trials + scanned).saturating_mul(rules.len() as u64));
    let reports = compare_rules(&rig, &rules, args.target, plan, watch);
    if let Some(dir) = &args.out {
        let scans = scan_seam(&rig, &rules, scan_plan, watch);
        write_files(dir, picture_files(batch_pictures(&reports, &scans)?))?;
    }
    watch.finish();

    let mut text = format!(
        "{}, target {} deg, {} runs each, seed {}\n\n{}",
        rig.settings().name,
        degrees(args.target),
        grouped(plan.trials),
        plan.seed,
        batch_table(&reports)
    );
    for report in &reports {
        if let Some(trial) = report.summary.first_ping_pong_trial {
            text.push_str(&format!(
                "see it: halfturn trace … --target {} --rule {} --seed {} --trial {trial}\n",
                args.target, report.summary.rule, plan.seed
            ));
        }
    }
    let mut reply = Reply::done(text);
    reply.warnings = inputs::warnings(&rig, common);
    if watch.cancelled() {
        reply.exit = Exit::Interrupted;
        for report in &reports {
            reply.warnings.push(format!(
                "stopped: {} has {} of {} runs",
                report.summary.rule, report.tally.trials, plan.trials
            ));
        }
    }
    if common.json.is_some() {
        reply.json(common, &batch_json(&rig, plan, args.target, &reports))?;
    }
    Ok(reply)
}
