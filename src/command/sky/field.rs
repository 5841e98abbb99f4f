//! `halfturn sky field-rotation`: how the field turns, and how a rotator follows it.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::super::Exit;
use super::super::args::{Common, one_of, whole};
use super::super::inputs;
use super::super::monitor::Watch;
use super::super::outputs::Outputs;
use super::super::reply::{Failure, Reply};
use super::values::{begin, center, pair, place, start, within};
use halfturn_engine::rig::Rule;
use halfturn_engine::sample::Batch;
use halfturn_engine::scenario::Policy;
use halfturn_report::{
    FieldReport, PictureFormat, field_document, field_json, field_picture, write_picture,
};
use halfturn_sky::SkyPlace;
use halfturn_sky::field::{
    FieldMount, FieldSession, Follow, PoleError, follow, session, settle_while_turning,
};
use halfturn_sky::pointing::{DarkHours, Site};
use halfturn_sky::time::Moment;

/// Follow the turning field of a target: rate, longest exposure, unwinds.
#[derive(Debug, Args)]
pub(super) struct FieldArgs {
    /// Rig file [default: the built-in demo rig].
    rig: Option<PathBuf>,
    /// Target by its name in the built-in catalogue, such as "M 31".
    #[arg(long, value_name = "NAME", required_unless_present = "center")]
    object: Option<String>,
    /// Target by right ascension and declination, in degrees or such as 00:42:44,+41:16:09.
    #[arg(long, value_name = "RA,DEC", value_parser = center, allow_hyphen_values = true, conflicts_with = "object")]
    center: Option<SkyPlace>,
    /// Position angle of the target.
    #[arg(long, value_name = "DEG", default_value_t = 0.0, value_parser = within(-360_000.0, 360_000.0, " deg"), allow_negative_numbers = true)]
    position_angle: f64,
    /// Place of the telescope: degrees north, degrees east, metres above the sea.
    #[arg(long, value_name = "LAT,LON[,ELEVATION]", value_parser = Site::read, allow_hyphen_values = true)]
    site: Site,
    /// Date on which the night begins at the site.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = Moment::read_date)]
    date: Moment,
    /// Start in universal time, such as 19:40 [default: the end of astronomical dusk].
    #[arg(long, value_name = "TIME", value_parser = start)]
    start: Option<String>,
    /// Minutes on the target.
    #[arg(long, value_name = "MIN", default_value_t = 240.0, value_parser = within(1.0, 1440.0, " min"), allow_negative_numbers = true)]
    minutes: f64,
    /// Minutes between the rows of the table.
    #[arg(long, value_name = "MIN", default_value_t = 15.0, value_parser = within(0.1, 1440.0, " min"), allow_negative_numbers = true)]
    every: f64,
    /// Largest smear at a corner of the frame in one exposure, in pixels.
    #[arg(long, value_name = "PX", default_value_t = 1.0, value_parser = within(0.001, 1e6, " px"))]
    smear_px: f64,
    /// alt-az: the field turns. equatorial: the axis points near the pole.
    #[arg(long, value_enum, default_value_t = MountKind::AltAz, hide_possible_values = true)]
    mount: MountKind,
    /// Arcminutes by which an equatorial axis points too high and too far east.
    #[arg(long, value_name = "HIGH,EAST", value_parser = pair(','), allow_hyphen_values = true, required_if_eq("mount", "equatorial"))]
    pole_error: Option<(f64, f64)>,
    /// Wrap rule to use in place of the rig's.
    #[arg(long, value_parser = one_of(Rule::ALL))]
    rule: Option<Rule>,
    /// Runs of the loop.
    #[arg(long, value_name = "N", default_value_t = 20_000, value_parser = whole::<u64>(1, 100_000_000), allow_negative_numbers = true)]
    trials: u64,
    /// UT1 minus UTC in seconds.
    #[arg(long, value_name = "S", default_value_t = 0.0, value_parser = within(-0.9, 0.9, " s"), allow_negative_numbers = true)]
    dut1: f64,
    /// Also draw the rate over the sky and the way of the target, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
}

/// How the telescope follows the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum MountKind {
    /// By azimuth and altitude: the field turns.
    AltAz,
    /// About an axis near the pole.
    Equatorial,
}

/// Largest error of an axis [arcmin]: beyond, the mount is not set up.
const MOST_POLE_ARCMIN: f64 = 600.0;

pub(super) fn field(common: &Common, args: &FieldArgs, watch: &Watch) -> Result<Reply, Failure> {
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let rig = inputs::rig(args.rig.as_deref(), common)?.value;
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    outputs.check(common, &[args.rig.as_deref()])?;
    let (name, place) = place(args.object.as_deref(), args.center)?;
    let site = args.site.with_dut1_s(args.dut1);
    let asked = FieldSession {
        site,
        mount: mount(args)?,
        place,
        start: begin(
            args.start.as_deref(),
            args.date,
            &DarkHours::of(&site, args.date),
        )?,
        length_s: 60.0 * args.minutes,
        step_s: 60.0 * args.every.min(args.minutes),
    };
    let rows = session(&asked);
    let rule = args.rule.unwrap_or(rig.settings().wrap.rule);
    let alt_az = asked.mount == FieldMount::AltAz;
    let angle = args.position_angle;
    let followed = alt_az.then(|| follow(&rig, rule, angle, &fine(&asked), &rows));
    let settle = match rows.first().filter(|_| alt_az) {
        None => None,
        Some(first) => {
            let batch = Batch {
                trials: args.trials,
                seed: common.seed(),
            };
            watch.expect(2 * args.trials);
            let found = settle_while_turning(
                &rig,
                rule,
                angle,
                first.pointing.zenith_deg,
                first.rate_deg_per_h,
                batch,
                watch,
            )
            .map_err(|e| Failure::Argument(e.to_string()))?;
            Some(found.ok_or(Failure::Interrupted)?)
        }
    };
    watch.finish();
    let report = FieldReport {
        rig: &rig,
        name: &name,
        position_angle_deg: angle,
        session: &asked,
        policy: Policy::with_rule(&rig, rule),
        rows: &rows,
        smear_px: args.smear_px,
        follow: followed.as_ref(),
        settle: settle.as_ref(),
    };
    let mut reply = Reply::done(field_document(&report));
    if followed.as_ref().is_some_and(Follow::is_bad) {
        reply.exit = Exit::BadNews;
    }
    reply.warnings = inputs::warnings(&rig, common);
    if rows.iter().any(|r| r.pointing.altitude_deg < 0.0) && !common.quiet {
        let problem = "the target is below the horizon for a part of this time. Choose another --start or fewer --minutes";
        reply.warnings.push(problem.to_owned());
    }
    if let Some(path) = &args.plot {
        write_picture(path, &field_picture(&report))?;
    }
    reply.json(common, &field_json(&report))?;
    Ok(reply)
}

/// The same session in steps of half a minute at most, between which the field turns evenly enough to follow. Each row is at a step.
fn fine(asked: &FieldSession) -> FieldSession {
    FieldSession {
        step_s: asked.step_s / (asked.step_s / 30.0).ceil(),
        ..*asked
    }
}

fn mount(args: &FieldArgs) -> Result<FieldMount, Failure> {
    if args.mount == MountKind::AltAz {
        if args.pole_error.is_some() {
            return Err(Failure::Argument(
                "--pole-error: an alt-azimuth mount has no polar axis. Add --mount equatorial, or leave it out"
                    .to_owned(),
            ));
        }
        return Ok(FieldMount::AltAz);
    }
    let (altitude_arcmin, azimuth_arcmin) = args.pole_error.unwrap_or_default();
    if altitude_arcmin.abs().max(azimuth_arcmin.abs()) > MOST_POLE_ARCMIN {
        return Err(Failure::Argument(format!(
            "--pole-error: must be two numbers from -{MOST_POLE_ARCMIN} to {MOST_POLE_ARCMIN} arcmin"
        )));
    }
    Ok(FieldMount::Equatorial(PoleError {
        altitude_arcmin,
        azimuth_arcmin,
    }))
}
