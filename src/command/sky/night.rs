//! `halfturn sky night`: the targets of a night, one after another.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::super::args::{Common, LimitArgs, one_of, whole};
use super::super::exit::Exit;
use super::super::inputs;
use super::super::monitor::Watch;
use super::super::outputs::{Outputs, spare_inputs};
use super::super::reply::{Failure, Reply};
use super::values::{begin, share, start, within};
use halfturn_engine::rig::Rule;
use halfturn_engine::sample::Batch;
use halfturn_report::{
    NightHead, PictureFormat, night_document, night_json, night_picture, night_warnings,
    probe_file, run_sheet, sheet_csv, sheet_page, write_file, write_picture,
};
use halfturn_sky::night::{
    Clouds, Knowledge, Mount, Night, NightPlanError, NightRequest, Order, Setup, night_targets,
    plan_night,
};
use halfturn_sky::pointing::{DarkHours, Horizon, Site};
use halfturn_sky::time::{LocalTime, Moment};

/// Plan a night and run it many times: flips, cable, verdicts, lost time.
#[derive(Debug, Args)]
pub(super) struct NightArgs {
    /// Rig file [default: the built-in demo rig].
    rig: Option<PathBuf>,
    /// Targets files with coordinates (or object) and minutes [default: the built-in demo targets].
    targets: Vec<PathBuf>,
    /// Place of the telescope: degrees north, degrees east, metres above the sea.
    #[arg(long, value_name = "LAT,LON[,ELEVATION]", value_parser = Site::read, allow_hyphen_values = true)]
    site: Site,
    /// Name of the site.
    #[arg(
        long,
        value_name = "NAME",
        default_value = "",
        hide_default_value = true
    )]
    site_name: String,
    /// Date on which the night begins at the site.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = Moment::read_date)]
    date: Moment,
    /// Start in universal time, such as 19:40 [default: the end of astronomical dusk].
    #[arg(long, value_name = "TIME", value_parser = start)]
    start: Option<String>,
    /// Order of the targets: list, meridian (earliest crossing first), best (loses least time), or numbers such as 3,1,2.
    #[arg(long, value_name = "ORDER", default_value = "list", value_parser = Order::read)]
    order: Order,
    /// Lowest altitude in degrees at which you use a target.
    #[arg(long, value_name = "DEG", default_value_t = 0.0, value_parser = within(0.0, 89.0, ""), allow_negative_numbers = true)]
    least_altitude: f64,
    /// What hides the sky: a CSV file with azimuth_deg and altitude_deg.
    #[arg(long, value_name = "FILE")]
    horizon: Option<PathBuf>,
    /// Local time minus universal time, such as +02:00, to show beside it.
    #[arg(long, value_name = "OFFSET", value_parser = LocalTime::read, allow_hyphen_values = true)]
    local: Option<LocalTime>,
    /// Minutes for the mount to go to a target.
    #[arg(long, value_name = "MIN", default_value_t = 0.0, value_parser = within(0.0, 120.0, ""))]
    slew: f64,
    /// Minutes for the focuser, after every slew.
    #[arg(long, value_name = "MIN", default_value_t = 0.0, value_parser = within(0.0, 120.0, ""))]
    focus: f64,
    /// Minutes for a flip.
    #[arg(long, value_name = "MIN", default_value_t = 0.0, value_parser = within(0.0, 120.0, ""))]
    flip: f64,
    /// german flips at the meridian. fork follows through it. For alt-azimuth see sky field-rotation.
    #[arg(long, default_value = "german", value_parser = mount)]
    mount: MountKind,
    /// Minutes after the meridian at which a german mount flips.
    #[arg(long, value_name = "MIN", default_value_t = 0.0, value_parser = within(-120.0, 120.0, ""), allow_negative_numbers = true)]
    flip_after: f64,
    /// yes: keep the zero point that a target showed. no: begin every target with that of the rig file.
    #[arg(long, value_enum, default_value_t = Learn::Yes, hide_possible_values = true)]
    learn: Learn,
    /// Slips of the camera in its holder, per hour.
    #[arg(long, value_name = "RATE", default_value_t = 0.0, value_parser = within(0.0, 60.0, ""))]
    slips_per_hour: f64,
    /// Size of a slip in degrees, 1 sigma.
    #[arg(long, value_name = "DEG", default_value_t = 1.0, value_parser = within(0.0, 180.0, ""))]
    slip_deg: f64,
    /// Share of the night that is cloudy.
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = share)]
    clouds: f64,
    /// Mean length of a cloud in minutes.
    #[arg(long, value_name = "MIN", default_value_t = 10.0, value_parser = within(0.1, 1000.0, ""))]
    cloud_minutes: f64,
    /// Chance that a solve fails in clouds.
    #[arg(long, value_name = "SHARE", default_value_t = 1.0, value_parser = within(0.0, 1.0, ""))]
    cloud_failure: f64,
    /// Minutes after which a loop that gave up begins again, in the time of its target [default: it does not].
    #[arg(long, value_name = "MIN", value_parser = within(0.1, 1000.0, ""))]
    retry: Option<f64>,
    /// Wrap rules to compare, with commas between them [default: all four].
    #[arg(long, value_name = "A,B,C", value_delimiter = ',', value_parser = one_of(Rule::ALL))]
    rules: Vec<Rule>,
    /// Nights to run under every rule.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, 100_000_000), allow_negative_numbers = true)]
    trials: u64,
    /// What counts as safe.
    #[command(flatten)]
    limits: LimitArgs,
    /// UT1 minus UTC in seconds.
    #[arg(long, value_name = "S", default_value_t = 0.0, value_parser = within(-0.9, 0.9, ""), allow_negative_numbers = true)]
    dut1: f64,
    /// Write the run sheet under the rig's own rule: .csv to keep, .html to print. You may give it twice.
    #[arg(long, value_name = "FILE")]
    sheet: Vec<PathBuf>,
    /// Also draw the night over time, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
}

/// What the telescope stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum MountKind {
    /// Equatorial; it goes to the other side of its pier after the meridian.
    German,
    /// Equatorial; it follows through the meridian.
    Fork,
}

/// Whether the zero point is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Learn {
    /// It is.
    Yes,
    /// Every target begins with the zero point of the rig file.
    No,
}

fn mount(text: &str) -> Result<MountKind, String> {
    match text {
        "german" => Ok(MountKind::German),
        "fork" => Ok(MountKind::Fork),
        _ => Err(
            "must be german or fork. For an alt-azimuth mount use halfturn sky field-rotation"
                .to_owned(),
        ),
    }
}

/// Whether a sheet is a page; else it is a table.
fn is_page(path: &Path) -> Result<bool, Failure> {
    let ending = path.extension().unwrap_or_default().to_ascii_lowercase();
    match ending.to_str() {
        Some("html") => Ok(true),
        Some("csv") => Ok(false),
        _ => Err(Failure::Argument(format!(
            "{}: the name of a run sheet must end in .csv or .html",
            path.display()
        ))),
    }
}

pub(super) fn night(common: &Common, args: &NightArgs, watch: &Watch) -> Result<Reply, Failure> {
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let targets = inputs::targets(&args.targets, false)?;
    let horizon = match &args.horizon {
        Some(path) => inputs::horizon(path)?,
        None => Horizon::default(),
    };
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    let read = args.rig.iter().chain(&args.targets).chain(&args.horizon);
    let read: Vec<_> = read.map(|path| Some(path.as_path())).collect();
    outputs.check(common, &read)?;
    for path in &args.sheet {
        is_page(path)?;
        spare_inputs("--sheet", path, &read)?;
        probe_file(path)?;
    }
    let site = args.site.with_dut1_s(args.dut1);
    let dark = DarkHours::of(&site, args.date);
    let request = NightRequest {
        night: Night {
            site,
            mount: match args.mount {
                MountKind::German => Mount::German {
                    flip_h: args.flip_after / 60.0,
                },
                MountKind::Fork => Mount::Fork,
            },
            start: begin(args.start.as_deref(), args.date, &dark)?,
            dark: dark.darkness(),
            least_altitude_deg: args.least_altitude,
            horizon,
            setup: Setup {
                slew_s: 60.0 * args.slew,
                flip_s: 60.0 * args.flip,
                focus_s: 60.0 * args.focus,
            },
        },
        order: args.order.clone(),
        knowledge: Knowledge {
            learn: args.learn == Learn::Yes,
            retry_s: args.retry.map(|min| 60.0 * min),
            slips_per_h: args.slips_per_hour,
            slip_deg: args.slip_deg,
        },
        clouds: Clouds {
            share: args.clouds,
            mean_s: 60.0 * args.cloud_minutes,
            failure_rate: args.cloud_failure,
        },
        rules: inputs::rules(&args.rules),
        batch: Batch {
            trials: args.trials,
            seed: common.seed(),
        },
        limits: args.limits.limits(),
    };
    let wanted = night_targets(&targets.value)
        .map_err(|e| Failure::Argument(format!("{}: {e}", targets.name)))?;
    watch.expect(args.trials.saturating_mul(request.rules.len() as u64));
    let plan = plan_night(&rig, wanted, &request, watch).map_err(|e| match e {
        NightPlanError::Cancelled(_) => Failure::Interrupted,
        other => Failure::Argument(other.to_string()),
    })?;
    watch.finish();
    let head = NightHead {
        site_name: &args.site_name,
        date: args.date,
        dark: &dark,
        request: &request,
        rig: &rig,
        local: args.local,
    };
    let mut reply = Reply::done(night_document(&head, &plan));
    reply.warnings = inputs::warnings(&rig, common);
    if !common.quiet {
        reply.warnings.extend(night_warnings(&head, &plan));
    }
    if !plan.holds() {
        reply.exit = Exit::BadNews;
    }
    if let Some(path) = &args.plot {
        write_picture(path, &night_picture(&head, &plan)?)?;
    }
    if let Some(sheet) = run_sheet(&head, &plan) {
        for path in &args.sheet {
            let text = match is_page(path)? {
                true => sheet_page(&head, &plan, &sheet),
                false => sheet_csv(&head, &sheet),
            };
            write_file(path, text.as_bytes())?;
            reply.said.wrote(path);
        }
    }
    reply.json(common, &night_json(&head, &plan))?;
    Ok(reply)
}
