//! `halfturn advise`: the main job.

use super::args::{AdviseArgs, Common};
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use crate::advise::{Limits, Request, advise as find_advice, runs};
use crate::report::page::Made;
use crate::report::{advice_json, advice_text, write_report};
use crate::sample::Batch;

/// The files of the report, all that there may be.
const REPORT_FILES: [&str; 15] = [
    "report.html",
    "summary.json",
    "targets.csv",
    "dial.svg",
    "dial.png",
    "loop-before.svg",
    "loop-before.png",
    "loop-after.svg",
    "loop-after.png",
    "settle-time.svg",
    "settle-time.png",
    "seam-distance.svg",
    "seam-distance.png",
    "before-after.svg",
    "before-after.png",
];

pub(super) fn advise(common: &Common, args: &AdviseArgs, watch: &Watch) -> Result<Reply, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?;
    let targets = inputs::targets(args.targets.as_deref())?;
    let request = Request {
        batch: Batch {
            trials: args.trials,
            seed: common.seed,
        },
        limits: Limits {
            max_hunting: args.max_ping_pong,
        },
    };
    let outputs = Outputs {
        folder: Some(("--out", &args.out, &REPORT_FILES)),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref(), args.targets.as_deref()])?;
    watch.expect(runs(targets.value.len(), &request));
    let advice = find_advice(&rig.value, &targets.value, request, watch)?;
    watch.finish();

    let made = Made {
        command: command_line(args, common),
        trace_command: trace_command(args, common),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        rig_file: rig.name,
        targets_file: targets.name.clone(),
    };
    write_report(&advice, &made, &args.out)?;
    let mut reply = Reply::done(format!(
        "{}\nreport: {}\n",
        advice_text(&advice),
        args.out.join("report.html").display()
    ));
    reply.warnings = inputs::warnings(&rig.value, common);
    if args.rig.is_some() && args.targets.is_none() && !common.quiet {
        reply.warnings.push(format!(
            "no targets file was given: these are the targets of {}",
            targets.name
        ));
    }
    if !advice.after.all_safe() {
        reply.exit = Exit::BadNews;
    }
    if common.json.is_some() {
        reply.json(common, &advice_json(&advice))?;
    }
    Ok(reply)
}

/// The command that makes the same report again, for a POSIX shell.
fn command_line(args: &AdviseArgs, common: &Common) -> String {
    let mut words = vec!["halfturn".to_owned(), "advise".to_owned()];
    let files = [&args.rig, &args.targets];
    words.extend(files.into_iter().flatten().map(|p| p.display().to_string()));
    for given in &common.set {
        words.extend(["--set".to_owned(), given.clone()]);
    }
    words.extend(["--trials".to_owned(), args.trials.to_string()]);
    words.extend(["--seed".to_owned(), common.seed.to_string()]);
    words.extend(["--max-ping-pong".to_owned(), args.max_ping_pong.to_string()]);
    joined(&words)
}

/// The start of the command that shows one of the runs, for a POSIX shell.
fn trace_command(args: &AdviseArgs, common: &Common) -> String {
    let mut words = vec!["halfturn".to_owned(), "trace".to_owned()];
    words.extend(args.rig.iter().map(|p| p.display().to_string()));
    for given in &common.set {
        words.extend(["--set".to_owned(), given.clone()]);
    }
    words.extend(["--seed".to_owned(), common.seed.to_string()]);
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
