//! `halfturn fit`: the rig's errors from a log, or the plan for a log.

use std::path::Path;

use super::args::{Common, FitArgs};
use super::gain;
use super::inputs::{self, Named};
use super::outputs::{Outputs, spare_inputs};
use super::reply::{Failure, Reply, Said};
use super::streams::is_standard_output;
use halfturn_engine::fit::{
    Diagnosis, DiagnosisKind, FitPlanError, Goal, Wanted, fit_harmonics, naive_sweep,
    plan as find_plan, rehearse,
};
use halfturn_engine::rig::Rig;
use halfturn_engine::run::stream;
use halfturn_report::{
    Block, Document, PictureFormat, fit_document, fit_json, fit_picture, fit_plan_csv,
    fit_plan_document, fit_plan_json, fitted_rig, log_csv, probe_file, write_file, write_picture,
};

/// Accuracy that a plan aims for, as a share of the tolerance.
const ACCURACY_SHARE: f64 = 0.1;

/// A longer plan gets a warning \[s\].
const LONG_S: f64 = 1800.0;

pub(super) fn fit(common: &Common, args: &FitArgs) -> Result<Reply, Failure> {
    let rig = inputs::believed_rig(args.rig.as_deref(), common)?;
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    let read = [args.rig.as_deref(), args.log.as_deref()];
    outputs.check(common, &read)?;
    for (option, path) in [("--out", &args.out), ("--rehearse", &args.rehearse)] {
        if let Some(path) = path {
            spare_inputs(option, path, &read)?;
            spare(path, args.force)?;
        }
    }
    match &args.log {
        Some(log) => from_log(common, args, &rig.value, inputs::log(log)?),
        None => planned(common, args, &rig.value),
    }
}

/// Refuses to replace an existing file without `--force`.
pub(super) fn spare(path: &Path, force: bool) -> Result<(), Failure> {
    if is_standard_output(path) {
        return Ok(());
    }
    if !force && (path.is_file() || path.is_symlink()) {
        return Err(Failure::Argument(format!(
            "{}: exists already. Name another file, or add --force",
            path.display()
        )));
    }
    Ok(probe_file(path)?)
}

fn from_log(
    common: &Common,
    args: &FitArgs,
    rig: &Rig,
    log: Named<halfturn_engine::fit::Log>,
) -> Result<Reply, Failure> {
    let found = fit_harmonics(&log.value, rig.settings(), args.harmonics.unwrap_or(0))
        .map_err(|e| Failure::Argument(format!("{}: {e}", log.name)))?;
    let mut document = fit_document(&log.name, &found);
    let rig_file = args.out.as_deref().or(args.rig.as_deref());
    for run in found.diagnoses.iter().filter(|d| d.last_row.is_some()) {
        replay(&mut document, run, rig_file);
    }
    if let Some(gain) = gain::of_backlash(rig, &found) {
        document.para(gain);
    }
    let mut said = Said::from(document);
    if let Some(path) = &args.out {
        let fitted = Rig::new(found.applied(rig.settings()))
            .map_err(|e| Failure::Argument(format!("the log gives no valid rig: {e}")))?;
        let file = fitted_rig(&fitted, &found, &log.name);
        if is_standard_output(path) {
            said = file.into();
        } else {
            write_file(path, file.as_bytes())?;
            said.wrote(path);
        }
    }
    if let Some(path) = &args.plot {
        write_picture(path, &fit_picture(&found, &log.name))?;
    }
    let mut reply = Reply::done(said);
    reply.json(common, &fit_json(&found))?;
    Ok(reply)
}

/// Names the commands that replay a run of the log.
fn replay(document: &mut Document, run: &Diagnosis, rig: Option<&Path>) {
    let (Some(rows), Some(target_deg), Some(rig)) = (run.rows(), run.target_deg, rig) else {
        return;
    };
    let trace = format!("halfturn trace {} --target {target_deg}", rig.display());
    document.para(format!("To replay {rows} on this rig:"));
    let hunts = if run.kind == DiagnosisKind::Hunting {
        " --hunting"
    } else {
        ""
    };
    let mut lines = format!("{trace}{hunts}\n");
    if let Some(start_deg) = run.arc_start_deg {
        lines.push_str(&format!("{trace} --set wrap.arc_start_deg={start_deg}\n"));
    }
    document.add(Block::Code(lines));
}

fn planned(common: &Common, args: &FitArgs, rig: &Rig) -> Result<Reply, Failure> {
    let tolerance_deg = rig.settings().loop_.tolerance_deg;
    let mut wanted = Wanted {
        accuracy_deg: args.accuracy.unwrap_or(ACCURACY_SHARE * tolerance_deg),
        from_deg: args.from,
        to_deg: args.to,
        goal: Goal::Errors,
    };
    let plan = find_plan(rig, wanted).or_else(|error| match error {
        // Errors that look alike over part of a turn cannot be told apart, but the angles there can be known.
        FitPlanError::OutOfReach { .. } => {
            wanted.goal = Goal::Angles;
            find_plan(rig, wanted)
        }
        other => Err(other),
    });
    let plan = plan.map_err(|e| Failure::Argument(e.to_string()))?;
    let naive = naive_sweep(rig, wanted).ok();
    let csv = fit_plan_csv(&plan, rig, wanted);
    let mut document = fit_plan_document(&plan, naive.as_ref(), wanted);
    let mut said = match &args.out {
        Some(path) if is_standard_output(path) => Said::Raw(csv),
        Some(path) => {
            write_file(path, csv.as_bytes())?;
            let mut said = Said::Document(document);
            said.wrote(path);
            said
        }
        None => {
            document.add(Block::Code(csv));
            document.into()
        }
    };
    if let Some(path) = &args.rehearse {
        let log = rehearse(rig, &plan.steps, &mut stream(common.seed(), 0));
        let note = format!(
            "simulated: the plan on the rig {:?}, seed {}",
            rig.settings().name,
            common.seed()
        );
        write_file(path, log_csv(&log, &[note]).as_bytes())?;
        said.wrote(path);
    }
    let mut reply = Reply::done(said);
    if plan.time_s > LONG_S && !common.quiet {
        reply.warnings.push(format!(
            "the plan takes {:.0} minutes. --accuracy {} makes it shorter",
            plan.time_s / 60.0,
            2.0 * wanted.accuracy_deg
        ));
    }
    reply.json(common, &fit_plan_json(&plan, naive.as_ref(), wanted))?;
    Ok(reply)
}
