//! `halfturn judge`: a controller in another process against scenarios.

mod args;
mod kept;
mod process;
mod vectors;

pub(super) use args::{JudgeArgs, VectorsArgs};
pub(super) use process::end_program;
pub(super) use vectors::write as vectors;

use std::time::{Duration, Instant};

use super::args::Common;
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::outputs::Outputs;
use super::reply::{Failure, Reply, Said};
use super::streams::is_standard_output;
use halfturn_engine::judge::{
    Base, Case, EndMargin, FailingExample, Family, SuiteOutcome, cases, margin, play, run_session,
    shrink,
};
use halfturn_engine::rig::escape_controls;
use halfturn_engine::sample::{Monitor as _, Uncounted};
use halfturn_report::judge::{
    Verdict, judge_document, judge_json, junit, margin_sentence, read_cases, tap,
};
use halfturn_report::write_file;
use kept::Kept;
use process::Program;

/// The name of the graded set in reports.
const GRADED: &str = "graded set";

/// The scenarios to play, and their name in reports.
struct JudgePlan {
    base: Base,
    rig: String,
    cases: Vec<Case>,
    /// How many of them come from an earlier session.
    remembered: usize,
    /// All that failed in earlier sessions, those under other rules too.
    kept: Vec<Case>,
    notes: Vec<String>,
}

pub(super) fn judge(common: &Common, args: &JudgeArgs, watch: &Watch) -> Result<Reply, Failure> {
    let kept = Kept::new(&args.out);
    check(common, args, &kept)?;
    let plan = match &args.replay {
        Some(path) => {
            let (name, text) = inputs::whole(path)?;
            JudgePlan {
                base: Base::Graded,
                cases: read_cases(&text, &name)?,
                rig: name,
                remembered: 0,
                kept: Vec::new(),
                notes: Vec::new(),
            }
        }
        None => plan(common, args, &kept)?,
    };
    let command: Vec<String> = args
        .command
        .iter()
        .map(|word| escape_controls(&word.to_string_lossy()))
        .collect();
    let timeout = Duration::from_secs_f64(args.answer_timeout);
    let mut program = Program::start(&args.command, timeout, watch)
        .map_err(|e| Failure::Argument(format!("{}: does not start: {e}", command[0])))?;
    watch.expect(plan.cases.len() as u64);
    let begun = Instant::now();
    let session = run_session(&plan.cases, plan.remembered, &mut program, watch)
        .map_err(|(i, e)| Failure::Argument(format!("scenario {}: {e}", i + 1)))?;
    let elapsed_s = begun.elapsed().as_secs_f64();
    let margin = (args.margin && !session.stopped).then(|| {
        // The search has no known length, so it is watched for Ctrl-C alone.
        let tell = |end: &EndMargin| watch.say(&margin_sentence(end));
        let found = margin(&plan.base, args.rule, &mut program, &Uncounted(watch), tell);
        found.map_err(|e| e.to_string())
    });
    watch.finish();
    let simpler = args.replay.is_none() && !args.no_shrink;
    let examples = if session.stopped {
        Vec::new()
    } else {
        examples(&session, simpler, &mut program, watch)
    };
    let interrupted = watch.cancelled();
    let farewell = program.finish();
    let verdict = Verdict {
        command,
        rig: plan.rig,
        seed: common.seed(),
        session,
        examples,
        margin,
    };
    let mut reply = reply(common, args, &verdict, elapsed_s)?;
    if args.replay.is_none() && !verdict.session.passed() && !verdict.session.stopped {
        let note = kept.save(&verdict, &plan.kept)?;
        if let Said::Document(document) = &mut reply.said {
            note.lines().for_each(|line| document.para(line));
        }
    }
    if let Some(margin) = &verdict.margin {
        kept.save_margin(margin)?;
    }
    if interrupted {
        reply.exit = Exit::Interrupted;
    }
    if !common.quiet {
        reply.warnings.extend(plan.notes);
        reply.warnings.extend(verdict.session.warnings());
        reply.warnings.extend(farewell);
    }
    Ok(reply)
}

/// Refuses outputs that cannot be written and options that contradict each other, before anything starts.
fn check(common: &Common, args: &JudgeArgs, kept: &Kept) -> Result<(), Failure> {
    let to_screen = common.json.as_deref().is_some_and(is_standard_output);
    if args.tap && to_screen {
        return Err(Failure::Argument(
            "--tap and --json -: standard output takes one of them. Give --json a file".to_owned(),
        ));
    }
    if args.rig.is_none() && !common.set.is_empty() {
        return Err(Failure::Argument(
            "--set: needs --rig, because the graded set of rigs has its own keys".to_owned(),
        ));
    }
    let outputs = Outputs {
        junit: args.junit.as_deref(),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref(), args.replay.as_deref()])?;
    if args.replay.is_none() {
        kept.probe()?;
    }
    Ok(())
}

fn plan(common: &Common, args: &JudgeArgs, kept: &Kept) -> Result<JudgePlan, Failure> {
    let (base, name, mut notes) = match &args.rig {
        None => (Base::Graded, GRADED.to_owned(), Vec::new()),
        Some(path) => {
            let rig = inputs::rig(Some(path), common)?;
            let (base, notes) = Base::rig(&rig.value)
                .map_err(|e| Failure::Argument(format!("{}: {e}", rig.name)))?;
            (base, rig.name, notes)
        }
    };
    let families = if args.families.is_empty() {
        Family::ALL
    } else {
        &args.families[..]
    };
    let kept = kept.regressions()?;
    // The rule belongs to the question of a scenario.
    let of_rule = kept.iter().filter(|case| case.rule == args.rule);
    let remembered: Vec<Case> = of_rule.cloned().collect();
    let made = cases(
        &base,
        families,
        args.rule,
        common.seed(),
        args.scenarios as usize,
    );
    if made.is_empty() {
        return Err(Failure::Argument(format!(
            "{name}: no scenario of {} fits this rig",
            families
                .iter()
                .map(Family::to_string)
                .collect::<Vec<_>>()
                .join(", ")
        )));
    }
    if made.len() < args.scenarios as usize {
        notes.push(format!("only {} scenarios fit this rig", made.len()));
    }
    let count = remembered.len();
    Ok(JudgePlan {
        base,
        rig: name,
        cases: remembered.into_iter().chain(made).collect(),
        remembered: count,
        kept,
        notes,
    })
}

/// For every property that failed, its first scenario, made simpler if the user wants it.
fn examples(
    session: &SuiteOutcome,
    simpler: bool,
    program: &mut Program<'_>,
    watch: &Watch,
) -> Vec<FailingExample> {
    let mut out = Vec::new();
    for (property, (_, number)) in session.by_property() {
        let case = &session.judged[number].case;
        let example = if simpler {
            shrink(case, number, property, program, watch)
        } else {
            play(case, program).ok().map(|played| FailingExample {
                property,
                number,
                case: case.clone(),
                reproduced: played.fails(property),
                played,
                tries: 1,
            })
        };
        out.extend(example);
    }
    out
}

fn reply(
    common: &Common,
    args: &JudgeArgs,
    verdict: &Verdict,
    elapsed_s: f64,
) -> Result<Reply, Failure> {
    let said = if args.tap {
        Said::Raw(tap(verdict))
    } else {
        judge_document(verdict, elapsed_s).into()
    };
    let mut reply = Reply::done(said);
    if verdict.session.stopped {
        reply.exit = Exit::Interrupted;
        reply.warnings.push(format!(
            "stopped: {} scenarios left",
            verdict.session.left_out
        ));
    } else if !verdict.session.passed() {
        reply.exit = Exit::BadNews;
    }
    if let Some(path) = &args.junit {
        let xml = junit(verdict);
        write_file(path, xml.as_bytes())?;
    }
    if common.json.is_some() {
        reply.json(common, &judge_json(verdict))?;
    }
    Ok(reply)
}
