//! `halfturn sky panels`: the panels of a mosaic.

use std::path::PathBuf;

use clap::Args;

use super::super::args::Common;
use super::super::exit::Exit;
use super::super::inputs;
use super::super::monitor::Watch;
use super::super::outputs::Outputs;
use super::super::reply::{Failure, Reply, Said};
use super::output::{check_outputs, write_or_show};
use super::values::{center, pair, place, within};
use halfturn_engine::sample::Batch;
use halfturn_engine::verdict::{Judge, Limits};
use halfturn_report::{
    Overlaps, PictureFormat, panels_csv, panels_document, panels_json, panels_picture,
    write_picture,
};
use halfturn_sky::{Mosaic, SkyPlace, judge_panels, lay_out};

/// Lay out the panels of a mosaic, and judge each on your rig.
#[derive(Debug, Args)]
pub(super) struct PanelsArgs {
    /// Rig file to judge the panels on. Its [framing] gives the frame and the overlap.
    rig: Option<PathBuf>,
    /// Middle of the mosaic, in degrees or such as 00:42:44,+41:16:09.
    #[arg(long, value_name = "RA,DEC", value_parser = center, allow_hyphen_values = true, required_unless_present = "object")]
    center: Option<SkyPlace>,
    /// Middle of the mosaic by its name in the built-in catalogue, such as "M 31".
    #[arg(long, value_name = "NAME", conflicts_with = "center")]
    object: Option<String>,
    /// Columns and rows of panels, such as 3x2.
    #[arg(long, value_name = "COLUMNSxROWS", value_parser = grid)]
    grid: (u32, u32),
    /// Sides of the frame in degrees, such as 2.8x1.9 [default: from the rig].
    #[arg(long, value_name = "WxH", value_parser = pair('x'), allow_hyphen_values = true)]
    frame_deg: Option<(f64, f64)>,
    /// Share of a side that neighbours overlap [default: from the rig, else 0.15].
    #[arg(long, value_name = "SHARE", allow_negative_numbers = true)]
    overlap: Option<f64>,
    /// Position angle of the up axis in the middle of the mosaic.
    #[arg(
        long,
        value_name = "DEG",
        default_value_t = 0.0,
        allow_negative_numbers = true
    )]
    position_angle: f64,
    /// Turn the camera once: every panel at --position-angle. Says what overlap that costs.
    #[arg(long)]
    common_angle: bool,
    /// Minutes on each panel, for the targets file.
    #[arg(long, value_name = "MIN", value_parser = within(0.0, 100_000.0, ""), allow_negative_numbers = true)]
    minutes: Option<f64>,
    /// First part of the panels' names.
    #[arg(long, default_value = Mosaic::UNNAMED)]
    name: String,
    /// Write a targets file for advise (- for standard output).
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Replace an existing file.
    #[arg(long)]
    force: bool,
    /// Also draw the panels on the sky, as .svg or .png.
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
}

/// Overlap without a rig that says another.
const OVERLAP: f64 = 0.15;

/// Runs for a panel whose loop cannot be solved: as many as advise makes.
const TRIALS: u64 = 20_000;

pub(super) fn panels(common: &Common, args: &PanelsArgs, watch: &Watch) -> Result<Reply, Failure> {
    if let Some(path) = &args.plot {
        PictureFormat::of(path)?;
    }
    let rig = inputs::believed_rig(args.rig.as_deref(), common)?;
    let settings = rig.value.settings();
    let framing = settings.framing.as_ref();
    let read = [args.rig.as_deref()];
    check_outputs(common, "--out", args.out.as_deref(), args.force, &read)?;
    let outputs = Outputs {
        plot: args.plot.as_deref(),
        ..Outputs::default()
    };
    outputs.check(common, &read)?;
    let from_rig = || {
        framing.map(|f| {
            let side = |mm: f64| (mm / f.focal_length_mm).to_degrees();
            (side(f.sensor_width_mm), side(f.sensor_height_mm))
        })
    };
    let (width_deg, height_deg) = args.frame_deg.or_else(from_rig).ok_or_else(|| {
        Failure::Argument(
            "--frame-deg is missing: give the sides of the frame, or a rig file with [framing]"
                .to_owned(),
        )
    })?;
    let overlap = args.overlap.or(framing.map(|f| f.mosaic_overlap));
    let mosaic = Mosaic {
        name: args.name.trim().to_owned(),
        centre: place(args.object.as_deref(), args.center)?.1,
        columns: args.grid.0,
        rows: args.grid.1,
        width_deg,
        height_deg,
        overlap: overlap.unwrap_or(OVERLAP),
        position_angle_deg: args.position_angle,
    };
    let mut panels = lay_out(&mosaic).map_err(|e| Failure::Argument(e.to_string()))?;
    let mut apart = None;
    if args.common_angle {
        apart = mosaic.least_overlap(&panels, 0.0);
        mosaic.turn_alike(&mut panels);
    }
    let tolerance_deg = settings.loop_.tolerance_deg;
    let overlaps = Overlaps {
        least: mosaic.least_overlap(&panels, 0.0),
        turned: mosaic.least_overlap(&panels, tolerance_deg),
        tolerance_deg,
        apart,
    };
    // Without a rig file the user asks for angles alone.
    let judged = match &args.rig {
        None => None,
        Some(_) => {
            watch.expect(TRIALS * panels.len() as u64);
            let judge = Judge {
                limits: Limits::default(),
                batch: Batch {
                    trials: TRIALS,
                    seed: common.seed(),
                },
                monitor: watch,
            };
            let judged = judge_panels(&rig.value, &panels, &judge);
            Some(judged.map_err(|_| Failure::Interrupted)?)
        }
    };
    watch.finish();
    let judged = judged.as_deref();
    let mut said = Said::from(panels_document(&mosaic, &panels, overlaps, judged));
    if let Some(path) = &args.plot {
        write_picture(path, &panels_picture(&mosaic, &panels, judged))?;
    }
    if let Some(path) = &args.out {
        write_or_show(path, panels_csv(&panels, args.minutes), &mut said)?;
    }
    let mut reply = Reply::done(said);
    if judged.is_some_and(|all| all.iter().any(|p| !p.verdict.is_safe())) {
        reply.exit = Exit::BadNews;
    }
    reply.json(common, &panels_json(&panels, overlaps, judged))?;
    Ok(reply)
}

fn grid(text: &str) -> Result<(u32, u32), String> {
    let count = |t: &str| t.parse().ok().filter(|n| (1..=100).contains(n));
    text.split_once('x')
        .and_then(|(columns, rows)| Some((count(columns)?, count(rows)?)))
        .ok_or_else(|| "must be like 3x2, with 1 to 100 columns and 1 to 100 rows".to_owned())
}
