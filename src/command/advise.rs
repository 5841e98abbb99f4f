//! `halfturn advise`: the main job.

use super::args::{AdviseArgs, Common};
use super::certificate::{check, check_new, new_rig_path, write_rig};
use super::exit::Exit;
use super::fitted::{self, Subject, subject};
use super::inputs::{self, Named};
use super::monitor::Watch;
use super::outputs::Outputs;
use super::page_start::{ONE_FILE, page_start};
use super::reply::{Failure, Reply, file};
use halfturn_answers::start;
use halfturn_engine::advise::{
    AdviceRequest, Certificate, CertificateOrigin, Changeable, Criteria, advise as find_advice,
    any_target as find_any_target, any_target_runs, runs, uncertain, uncertain_runs,
};
use halfturn_engine::sample::Batch;
use halfturn_engine::scenario::{DEMO_TARGETS_NAME, Target};
use halfturn_engine::verdict::Limits;
use halfturn_report::page::begun_with;
use halfturn_report::{
    Block, Document, FITTED_RIG_FILE, Line, Provenance, Span, about, advice_document, advice_json,
    any_target_document, any_target_json, probe_file, write_any_target, write_report,
};

/// All files that a report may have.
const REPORT_FILES: [&str; 11] = [
    "report.html",
    FITTED_RIG_FILE,
    "summary.json",
    "targets.csv",
    "advice.toml",
    "dial.svg",
    "loop-before.svg",
    "loop-after.svg",
    "settle-time.svg",
    "seam-distance.svg",
    "tolerance.svg",
];

/// All files of a report for any target.
const ANY_TARGET_FILES: [&str; 3] = ["any-target.html", "any-target.json", "any-target.svg"];

pub(super) fn advise(common: &Common, args: &AdviseArgs, watch: &Watch) -> Result<Reply, Failure> {
    if let Some(certificate) = &args.check {
        return check(certificate, common, args, watch);
    }
    if args.with_engine && args.rig.is_some() && args.targets.is_empty() {
        return Err(Failure::Argument(
            "--with-engine: give a targets file too, as in advise RIG TARGETS --with-engine"
                .to_owned(),
        ));
    }
    let request = AdviceRequest {
        batch: Batch {
            trials: args.trials,
            seed: common.seed(),
        },
        limits: args.limits.limits(),
        criteria: args.criteria(),
        change: args.changes(),
    };
    if args.of_any_target() {
        return any_target(common, args, request, watch);
    }
    let rig = subject(args, common)?;
    let targets = inputs::targets(&args.targets, args.flips)?;
    let one_file = args
        .with_engine
        .then(|| try_on(&rig, &targets, args, common));
    let one_file = one_file.transpose()?;
    let new_rig = new_rig_path(args);
    let outputs = Outputs {
        folder: Some(("--out", &args.out, &REPORT_FILES)),
        ..Outputs::default()
    };
    let read = args.rig.iter().chain(&args.targets).chain(&args.uncertain);
    let read: Vec<_> = read.map(|path| Some(path.as_path())).collect();
    outputs.check(common, &read)?;
    if let Some(path) = &new_rig {
        check_new(path)?;
        probe_file(path)?;
    }
    let count = targets.value.len();
    let doubts = rig
        .fitted
        .as_ref()
        .map_or(0, |_| uncertain_runs(count, &request, args.robustness()));
    watch.expect(runs(count, &request).saturating_add(doubts));
    let mut advice = find_advice(&rig.rig, &targets.value, request, watch)?;
    if let Some((fit, log)) = &rig.fitted {
        let found = uncertain(&advice, fit, log, &targets.value, args.robustness(), watch)?;
        advice.uncertain = Some(Box::new(found));
    }
    watch.finish();

    let made = Provenance {
        command: command_line(args, common),
        trace_command: trace_command(&rig, common),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        rig_file: rig.name.clone(),
        targets_file: targets.name.clone(),
        one_file,
    };
    let certificate = Certificate::of(
        &advice,
        &targets.value,
        &CertificateOrigin {
            version: &made.version,
            rig_file: &made.rig_file,
            targets_files: &list_files(args),
            flips: args.flips,
        },
    );
    write_report(&advice, &made, &certificate, &args.out)?;
    let title = format!("{}: {}", rig.rig.settings().name, about(&advice));
    let mut out = Document(vec![Block::Para(title.into())]);
    out.0.extend(advice_document(&advice, &made).0);
    let report = args.out.join("report.html").display().to_string();
    let report = Line::new("Report: ").with(Span::Code(report));
    out.para(match args.details {
        true => report,
        false => report.text(" (--details shows its tables here)"),
    });
    if let Some(path) = &new_rig {
        write_rig(path, &rig.text, &advice.advised_rig)?;
        out.add(file("Rig file with all changes: ", path));
    }
    let mut reply = Reply::done(out);
    reply.details = args.details;
    reply.warnings = inputs::warnings(&rig.rig, common);
    if !common.quiet {
        reply
            .warnings
            .extend(fitted::warnings(&rig, args.rig.as_deref()));
    }
    if args.rig.is_some() && args.targets.is_empty() && !common.quiet {
        reply.warnings.push(format!(
            "no targets file given: these are the targets of {}",
            targets.name
        ));
    }
    let holds = advice.uncertain.as_ref().is_none_or(|u| u.holds());
    if !advice.holds() || !holds {
        reply.exit = Exit::BadNews;
    }
    if common.json.is_some() {
        reply.json(common, &advice_json(&advice))?;
    }
    Ok(reply)
}

/// The page with its engine, beginning with the rig and the list of the advice.
fn try_on(
    rig: &Subject,
    targets: &Named<Vec<Target>>,
    args: &AdviseArgs,
    common: &Common,
) -> Result<String, Failure> {
    let rig = (rig.rig.clone(), rig.text.clone(), rig.file.as_deref());
    let targets = (targets.clone(), &args.targets[..]);
    let begins = start(&page_start(common, rig, targets)?);
    Ok(begun_with(ONE_FILE, &begins))
}

/// Judges the rig at every target angle.
fn any_target(
    common: &Common,
    args: &AdviseArgs,
    request: AdviceRequest,
    watch: &Watch,
) -> Result<Reply, Failure> {
    let rig = subject(args, common)?;
    let outputs = Outputs {
        folder: Some(("--out", &args.out, &ANY_TARGET_FILES)),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref()])?;
    let new_rig = new_rig_path(args);
    if let Some(path) = &new_rig {
        check_new(path)?;
        probe_file(path)?;
    }
    watch.expect(any_target_runs(&request));
    let found = find_any_target(&rig.rig, request, watch)?;
    watch.finish();
    let made = Provenance {
        command: command_line(args, common),
        trace_command: trace_command(&rig, common),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        rig_file: rig.name.clone(),
        targets_file: String::new(),
        one_file: None,
    };
    write_any_target(&found, &made, &args.out)?;
    let mut out = any_target_document(&found, &made);
    let title = format!("{}: any target", rig.rig.settings().name);
    out.0.insert(0, Block::Para(title.into()));
    let page = args.out.join("any-target.html").display().to_string();
    out.para(Line::new("Report: ").with(Span::Code(page)));
    if let (Some(path), Some(advised)) = (&new_rig, &found.advised) {
        write_rig(path, &rig.text, advised)?;
        out.add(file("Rig file with all changes: ", path));
    }
    let mut reply = Reply::done(out);
    reply.details = args.details;
    reply.warnings = inputs::warnings(&rig.rig, common);
    if found.advised.is_none() {
        reply.exit = Exit::BadNews;
    }
    if common.json.is_some() {
        reply.json(common, &any_target_json(&found))?;
    }
    Ok(reply)
}

/// The command that makes the report again, for a POSIX shell.
fn command_line(args: &AdviseArgs, common: &Common) -> String {
    let mut words = vec!["halfturn".to_owned(), "advise".to_owned()];
    let files = args.rig.iter().chain(&args.targets);
    words.extend(files.map(|p| p.display().to_string()));
    for given in &common.set {
        words.extend(["--set".to_owned(), given.clone()]);
    }
    if let Some(log) = &args.uncertain {
        words.extend(["--uncertain".to_owned(), log.display().to_string()]);
        words.extend(["--draws".to_owned(), args.draws.to_string()]);
        words.extend(["--min-share".to_owned(), args.hold.to_string()]);
    }
    words.extend(["--trials".to_owned(), args.trials.to_string()]);
    words.extend(["--seed".to_owned(), common.seed().to_string()]);
    words.extend([
        "--max-fault".to_owned(),
        args.limits.limits().max_fault.to_string(),
    ]);
    words.extend(wished(args));
    joined(&words)
}

/// The names of the lists.
fn list_files(args: &AdviseArgs) -> Vec<String> {
    if args.targets.is_empty() {
        return vec![DEMO_TARGETS_NAME.to_owned()];
    }
    let names = args.targets.iter();
    names.map(|p| p.display().to_string()).collect()
}

/// The wishes that differ from the defaults.
fn wished(args: &AdviseArgs) -> Vec<String> {
    let (mine, usual) = (args.criteria(), Criteria::default());
    let (limits, usual_limits) = (args.limits.limits(), Limits::default());
    let corner = |px: Option<f64>| px.map_or_else(String::new, |px| px.to_string());
    let numbers = [
        (
            "--max-solves",
            limits.max_solves.to_string(),
            usual_limits.max_solves.to_string(),
        ),
        (
            "--settle-chance",
            limits.settle_chance.to_string(),
            usual_limits.settle_chance.to_string(),
        ),
        (
            "--tail-probability",
            mine.tail.to_string(),
            usual.tail.to_string(),
        ),
        (
            "--max-lost-area",
            mine.max_lost_area.to_string(),
            usual.max_lost_area.to_string(),
        ),
        (
            "--min-overlap",
            mine.mosaic_keep.to_string(),
            usual.mosaic_keep.to_string(),
        ),
        (
            "--max-corner-px",
            corner(mine.max_corner_px),
            corner(usual.max_corner_px),
        ),
        (
            "--flats-within",
            mine.flats_within_deg.to_string(),
            usual.flats_within_deg.to_string(),
        ),
    ];
    let mut words: Vec<String> = numbers
        .into_iter()
        .filter(|(_, mine, usual)| mine != usual)
        .flat_map(|(option, mine, _)| [option.to_owned(), mine])
        .collect();
    for (option, given) in [
        ("--clear-of-keep-outs", args.clear_of_keep_outs),
        ("--flips", args.flips),
        ("--with-engine", args.with_engine),
        ("--any-target", args.any_target),
    ] {
        if given {
            words.push(option.to_owned());
        }
    }
    if !args.changes().all() {
        let may = |change: &Changeable| args.changes().may(*change);
        let names = Changeable::ALL.iter().filter(|change| may(change));
        let names: Vec<String> = names.map(Changeable::to_string).collect();
        words.extend(["--change".to_owned(), names.join(",")]);
    }
    words
}

/// The start of the command that shows one run, for a POSIX shell.
fn trace_command(rig: &Subject, common: &Common) -> String {
    let mut words = vec!["halfturn".to_owned(), "trace".to_owned()];
    words.extend(rig.file.iter().map(|p| p.display().to_string()));
    // The file of a fitted rig has the overrides already.
    let given = common.set.iter().filter(|_| rig.fitted.is_none());
    for given in given {
        words.extend(["--set".to_owned(), given.clone()]);
    }
    words.extend(["--seed".to_owned(), common.seed().to_string()]);
    joined(&words)
}

fn joined(words: &[String]) -> String {
    let quoted: Vec<_> = words.iter().map(|w| quoted(w)).collect();
    quoted.join(" ")
}

pub(super) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./=:,+".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn words_survive_a_shell() {
        assert_eq!(quoted("my-rig/rig.toml"), "my-rig/rig.toml");
        assert_eq!(quoted("loop.tolerance_deg=0.3"), "loop.tolerance_deg=0.3");
        assert_eq!(quoted("my rig.toml"), "'my rig.toml'");
        assert_eq!(quoted("name=the pier's"), "'name=the pier'\\''s'");
    }
}
