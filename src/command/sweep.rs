//! `halfturn sweep`: the rules over a grid, row by row into a table.

use std::io::{ErrorKind, Write as _};
use std::path::Path;

use super::args::{Common, SweepArgs};
use super::exit::Exit;
use super::inputs;
use super::monitor::Watch;
use super::outputs::Outputs;
use super::reply::{Failure, Reply};
use halfturn_engine::method::Method;
use halfturn_engine::sample::Batch;
use halfturn_engine::sweep::{Axis, Grid, Shard, SweepRequest, run_cells};
use halfturn_engine::wording::{angle, grouped};
use halfturn_report::sweep::{
    Existing, Gathered, Head, SweepError, SweepFile, lines, sweep_document, sweep_json,
    sweep_picture,
};
use halfturn_report::{PictureFormat, write_picture};

pub(super) fn sweep(common: &Common, args: &SweepArgs, watch: &Watch) -> Result<Reply, Failure> {
    let streams = is_dash(&args.out);
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    if streams && common.json.as_deref().is_some_and(is_dash) {
        return Err(Failure::Argument(
            "--out - and --json -: standard output takes one of them. Give the other a file"
                .to_owned(),
        ));
    }
    if streams && args.resume {
        return Err(Failure::Argument(
            "--resume: can't go on with standard output. Name a file with --out".to_owned(),
        ));
    }
    let request = request(common, args)?;
    let outputs = Outputs {
        table: (!streams).then_some(args.out.as_path()),
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref()])?;
    let head = Head::of(&request, args.shard);
    let mut gathered = Gathered::new(&head, args.plot.is_some() || common.json.is_some())?;
    let mut out = if streams {
        Out::Screen
    } else {
        let existing = if args.force {
            Existing::Replace
        } else if args.resume {
            Existing::Resume
        } else {
            Existing::Refuse
        };
        Out::File(SweepFile::open(&args.out, &head, existing, &mut gathered)?)
    };

    let shard = args.shard.unwrap_or(Shard::WHOLE);
    let cells = request.grid().cells();
    let (own, mut done) = (shard.size(cells), out.done());
    let runs = args.trials.saturating_mul(request.rules().len() as u64);
    watch.expect(runs.saturating_mul(own - done));
    let mut work = || -> Result<bool, Failure> {
        if streams {
            out.append(&head.text())?;
        }
        run_cells(&request, shard.cells(cells, done), watch, |rows| {
            let text = lines(rows);
            out.append(&text)?;
            gathered.add(&text);
            done += 1;
            Ok::<(), Failure>(())
        })
    };
    let complete = match work() {
        // The reader has seen enough, as with `| head`. That is no error.
        Err(failure) if streams && is_broken_pipe(&failure) => {
            return Ok(Reply::done(String::new()));
        }
        other => other?,
    };
    watch.finish();
    if let Some(path) = args.plot.as_ref().filter(|_| complete) {
        write_picture(path, &sweep_picture(&head, &gathered)?)?;
    }
    let mut reply = Reply::done(String::new());
    if !streams {
        let about = about(&request, args, done);
        reply.said = sweep_document(&about, &head, &gathered).into();
        reply.said.wrote(&args.out);
    }
    reply.warnings = inputs::warnings(request.rig(), common);
    if !complete {
        reply.exit = Exit::Interrupted;
        reply.warnings.push(stopped(args, streams, done, own));
    }
    if common.json.is_some() {
        reply.json(common, &sweep_json(&head, done, &gathered))?;
    }
    Ok(reply)
}

/// The checked request.
fn request(common: &Common, args: &SweepArgs) -> Result<SweepRequest, Failure> {
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let axes = args
        .vary
        .iter()
        .map(|given| Axis::read(given, &rig))
        .collect::<Result<_, _>>()?;
    let rules = inputs::rules(&args.rules);
    let batch = Batch {
        trials: args.trials,
        seed: common.seed(),
    };
    Ok(SweepRequest::new(
        rig,
        Grid::new(axes)?,
        rules,
        batch,
        args.method.with(args.precision),
        args.target,
    )?)
}

fn about(request: &SweepRequest, args: &SweepArgs, done: u64) -> String {
    let target = request.target_deg();
    let target = target.map_or_else(String::new, |deg| format!(", target {}", angle(deg)));
    let shard = args.shard.map_or_else(String::new, |shard| {
        format!(
            ", shard {shard} of {} cells",
            grouped(request.grid().cells())
        )
    });
    format!(
        "{}{target}, {} cells{shard}, {}",
        request.rig().settings().name,
        grouped(done),
        how(request)
    )
}

/// How the figures were found, in words.
fn how(request: &SweepRequest) -> String {
    let batch = request.batch();
    let runs = format!("{} runs each, seed {}", grouped(batch.trials), batch.seed);
    match request.method() {
        Method::MonteCarlo => runs,
        Method::Exact(_) => "exact".to_owned(),
        Method::Auto(_) => format!("exact where possible, else {runs}"),
    }
}

fn stopped(args: &SweepArgs, streams: bool, done: u64, own: u64) -> String {
    if streams {
        format!("stopped: wrote {done} of {own} cells")
    } else {
        format!(
            "stopped: {} holds {done} of {own} cells. The same command with --resume goes on",
            args.out.display()
        )
    }
}

/// Where the rows go.
enum Out {
    File(SweepFile),
    Screen,
}

impl Out {
    fn done(&self) -> u64 {
        match self {
            Self::File(file) => file.done(),
            Self::Screen => 0,
        }
    }

    fn append(&mut self, text: &str) -> Result<(), SweepError> {
        match self {
            Self::File(file) => file.append(text),
            Self::Screen => {
                let mut out = std::io::stdout().lock();
                out.write_all(text.as_bytes())
                    .and_then(|()| out.flush())
                    .map_err(|source| SweepError::Write {
                        file: "standard output".to_owned(),
                        source,
                    })
            }
        }
    }
}

fn is_dash(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn is_broken_pipe(failure: &Failure) -> bool {
    use halfturn_report::ReportError::Sweep;
    matches!(failure, Failure::Report(Sweep(SweepError::Write { source, .. }))
        if source.kind() == ErrorKind::BrokenPipe)
}
