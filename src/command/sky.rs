//! `halfturn sky …`: the panels of a mosaic, the angles of FITS headers.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};

use super::Exit;
use super::args::Common;
use super::fit::spare;
use super::inputs;
use super::outputs::{Outputs, is_standard_output, spare_inputs};
use super::reply::{Failure, Reply};
use crate::fit::{MOST_ROWS, date_s};
use crate::report::{
    Frames, NamedImage, Overlaps, Refusal, fits_json, fits_log, fits_table, panels_csv,
    panels_json, panels_table, write_file,
};
use crate::sky::fits::{FitsError, Image, read_image};
use crate::sky::{Mosaic, Place, lay_out};

/// The sky side: panels of a mosaic, and the position angles in FITS headers.
#[derive(Debug, Args)]
pub(super) struct SkyArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Panels(PanelsArgs),
    Fits(FitsArgs),
}

/// Lay out the panels of a mosaic: where each points, and the position angle that lines up their edges.
#[derive(Debug, Args)]
struct PanelsArgs {
    /// Rig file: its [framing] gives the frame and the overlap, its tolerance the error that is tried.
    rig: Option<PathBuf>,
    /// Middle of the mosaic, in degrees.
    #[arg(long, value_name = "RA_DEG,DEC_DEG", value_parser = pair(','), allow_hyphen_values = true)]
    center: (f64, f64),
    /// Panels beside and above each other, such as 3x2.
    #[arg(long, value_name = "COLUMNSxROWS", value_parser = grid)]
    grid: (u32, u32),
    /// Sides of the frame in degrees, such as 2.8x1.9 [default: from the rig].
    #[arg(long, value_name = "WxH", value_parser = pair('x'), allow_hyphen_values = true)]
    frame_deg: Option<(f64, f64)>,
    /// Share of a side by which neighbours overlap [default: from the rig, else 0.15].
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
    /// Begins the names of the panels.
    #[arg(long, default_value = "panel")]
    name: String,
    /// Write a targets file for advise (- for standard output).
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Replace a file that is there.
    #[arg(long)]
    force: bool,
}

/// Read position angle, parity, skew and scale from the headers of plate-solved FITS files.
#[derive(Debug, Args)]
struct FitsArgs {
    /// FITS files, or folders of them.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Write a log for fit (- for standard output).
    #[arg(long, value_name = "FILE", requires = "reading_key")]
    log: Option<PathBuf>,
    /// Key of the header that holds the reading of the drive.
    #[arg(long, value_name = "KEY", requires = "log")]
    reading_key: Option<String>,
    /// Replace a file that is there.
    #[arg(long)]
    force: bool,
}

pub(super) fn sky(common: &Common, args: &SkyArgs) -> Result<Reply, Failure> {
    match &args.what {
        What::Panels(args) => panels(common, args),
        What::Fits(args) => fits(common, args),
    }
}

/// Overlap without a rig that says another.
const OVERLAP: f64 = 0.15;

fn panels(common: &Common, args: &PanelsArgs) -> Result<Reply, Failure> {
    let rig = inputs::believed_rig(args.rig.as_deref(), common)?;
    let settings = rig.value.settings();
    let framing = settings.framing.as_ref();
    let read = [args.rig.as_deref()];
    check_outputs(common, "--out", args.out.as_deref(), args.force, &read)?;
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
        centre: Place {
            ra_deg: args.center.0,
            dec_deg: args.center.1,
        },
        columns: args.grid.0,
        rows: args.grid.1,
        width_deg,
        height_deg,
        overlap: overlap.unwrap_or(OVERLAP),
        position_angle_deg: args.position_angle,
    };
    let panels = lay_out(&mosaic).map_err(|e| Failure::Argument(e.to_string()))?;
    let tolerance_deg = settings.loop_.tolerance_deg;
    let overlaps = Overlaps {
        least: mosaic.least_overlap(&panels, 0.0),
        turned: mosaic.least_overlap(&panels, tolerance_deg),
        tolerance_deg,
    };
    let mut text = panels_table(&mosaic, &panels, overlaps);
    if let Some(path) = &args.out {
        write_or_show(path, panels_csv(&panels), &mut text)?;
    }
    let mut reply = Reply::done(text);
    reply.json(common, &panels_json(&panels, overlaps))?;
    Ok(reply)
}

fn fits(common: &Common, args: &FitsArgs) -> Result<Reply, Failure> {
    let mut files = Vec::new();
    for path in &args.files {
        if path.is_dir() {
            files.extend(in_folder(path)?);
        } else {
            files.push(path.clone());
        }
    }
    let read: Vec<Option<&Path>> = files.iter().map(|p| Some(p.as_path())).collect();
    check_outputs(common, "--log", args.log.as_deref(), args.force, &read)?;
    let mut frames = Frames::default();
    for path in &files {
        let file = path.display().to_string();
        match image(path, args.reading_key.as_deref()) {
            Ok(image) => frames.images.push(NamedImage { file, ..image }),
            Err(e) => frames.refused.push(Refusal {
                file,
                why: e.to_string(),
            }),
        }
    }
    let mut text = fits_table(&frames);
    let mut warnings: Vec<String> = Vec::new();
    if let Some(path) = &args.log {
        let mirrored = frames.images.iter().filter(|i| i.orientation.mirrored);
        let (mirrored, count) = (mirrored.count(), frames.images.len());
        if count == 0 || count > MOST_ROWS {
            let problem = format!("{count} frames make no log; fit reads 1 to {MOST_ROWS}");
            warnings.push(problem);
        } else {
            write_or_show(path, fits_log(&frames), &mut text)?;
        }
        if mirrored != 0 && mirrored != count && !common.quiet {
            warnings.push(format!(
                "{mirrored} of {count} frames are mirrored: their angles turn the other way, and one log cannot hold both"
            ));
        }
    }
    // Not dropped by --quiet: these are errors, though the others are reported.
    let refused = frames.refused.iter();
    warnings.extend(refused.map(|r| format!("{}: refused: {}", r.file, r.why)));
    let mut reply = Reply::done(text);
    if !frames.refused.is_empty() || frames.images.is_empty() {
        reply.exit = Exit::WrongInput;
    }
    reply.warnings = warnings;
    reply.json(common, &fits_json(&frames))?;
    Ok(reply)
}

/// The FITS files of a folder by their endings, sorted by name.
fn in_folder(dir: &Path) -> Result<Vec<PathBuf>, Failure> {
    const ENDINGS: [&str; 4] = ["fits", "fit", "fts", "fz"];
    let failed = |source| Failure::Read {
        file: dir.display().to_string(),
        source,
    };
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let ending = path.extension().unwrap_or_default();
        if ENDINGS.iter().any(|e| ending.eq_ignore_ascii_case(e)) && path.is_file() {
            found.push(path);
        }
    }
    if found.is_empty() {
        let endings = ENDINGS.join(", .");
        return Err(Failure::Argument(format!(
            "{}: the folder has no file that ends in .{endings}",
            dir.display()
        )));
    }
    found.sort();
    Ok(found)
}

/// One file; its name is filled in by the caller.
fn image(path: &Path, reading_key: Option<&str>) -> Result<NamedImage, FitsError> {
    let image = read_image(std::io::BufReader::new(std::fs::File::open(path)?))?;
    Ok(NamedImage {
        file: String::new(),
        orientation: image.orientation,
        reading: reading_key.map(|key| reading(&image, key)).transpose()?,
        time: time(&image)?,
    })
}

/// The reading as written, since `fit` looks at its decimals.
fn reading(image: &Image, key: &str) -> Result<String, FitsError> {
    let fault = |value: Option<&str>, allowed: &str| FitsError::Key {
        key: key.to_owned(),
        value: value.map(str::to_owned),
        allowed: allowed.to_owned(),
    };
    let text = image
        .text(key)?
        .ok_or_else(|| fault(None, "is missing, and --reading-key asks for it"))?;
    let written = text.replace(['D', 'd'], "E");
    let number = written.parse::<f64>().ok();
    number
        .filter(|a| a.abs() <= crate::angle::MOST_ANGLE_DEG)
        .map(|_| written)
        .ok_or_else(|| {
            fault(
                Some(text),
                "must be a number of degrees from -360000 to 360000",
            )
        })
}

/// The start of the exposure, where `fit` can read it.
fn time(image: &Image) -> Result<Option<(String, f64)>, FitsError> {
    let Some(date) = image.text("DATE-OBS")? else {
        return Ok(None);
    };
    let text = match image.text("TIME-OBS")? {
        Some(time) if !date.contains('T') => format!("{date}T{time}"),
        _ => date.to_owned(),
    };
    Ok(date_s(&text).map(|seconds| (text, seconds)))
}

fn check_outputs(
    common: &Common,
    option: &str,
    path: Option<&Path>,
    force: bool,
    read: &[Option<&Path>],
) -> Result<(), Failure> {
    Outputs::default().check(common, read)?;
    let Some(path) = path else { return Ok(()) };
    spare_inputs(option, path, read)?;
    spare(path, force)
}

/// Writes a file and says so, or puts it in the place of the text.
fn write_or_show(path: &Path, file: String, text: &mut String) -> Result<(), Failure> {
    if is_standard_output(path) {
        *text = file;
    } else {
        write_file(path, file.as_bytes())?;
        text.push_str(&format!("\nwrote {}\n", path.display()));
    }
    Ok(())
}

/// Two numbers with this between them; the mosaic checks their ranges.
fn pair(between: char) -> impl Fn(&str) -> Result<(f64, f64), String> + Clone {
    move |text| {
        let finite = |t: &str| t.trim().parse::<f64>().ok().filter(|x| x.is_finite());
        text.split_once(between)
            .and_then(|(one, two)| Some((finite(one)?, finite(two)?)))
            .ok_or_else(|| format!("must be two numbers with {between} between them"))
    }
}

fn grid(text: &str) -> Result<(u32, u32), String> {
    let count = |t: &str| t.parse().ok().filter(|n| (1..=100).contains(n));
    text.split_once('x')
        .and_then(|(columns, rows)| Some((count(columns)?, count(rows)?)))
        .ok_or_else(|| "must be like 3x2, with 1 to 100 columns and 1 to 100 rows".to_owned())
}
